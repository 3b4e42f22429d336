"""The life of the endpoint within the process that serves: made ready beside the old one, put in its place, and closed."""

from __future__ import annotations

import asyncio
import json
import logging
from dataclasses import dataclass
from pathlib import Path

from lenticel.api.sparql import Endpoint
from lenticel.budgets import Budgets
from lenticel.derived import FILE, store_of
from lenticel.errors import BadRelease, LenticelError
from lenticel.places import ontology_folder
from lenticel.pool import Pool, Told
from lenticel.prefixes import prefixes_of
from lenticel.quadstore import default_cache
from lenticel.queries import Limits, Query
from lenticel.releases import MANIFEST
from lenticel.saved import saved_in
from lenticel.settings import Settings
from lenticel.snapshot import Snapshot

log = logging.getLogger("lenticel")
MIB = 1 << 20
PATIENCE = 10.0  # seconds, as many as a process that ends is given; workers on a store that is there start within one, and on a busy machine within several
TRIAL = "SELECT (COUNT(*) AS ?n) { ?statement a lt:Statement }"


@dataclass(frozen=True)
class Opened:
    """A knowledge, and the folder of its release or tables; None for the embedded one."""

    snapshot: Snapshot
    folder: Path | None = None

    @property
    def queried(self) -> bool:
        """Whether it can be queried: a release of an older version, which is never changed, brings no dataset."""
        return self.folder is None or (self.folder / FILE).is_file() or not (self.folder / MANIFEST).is_file()

    @property
    def questions(self) -> Path:
        """Where its saved questions are."""
        return (self.folder or ontology_folder()) / "questions"


def limits_of(settings: Settings) -> Limits:
    """What queries may take."""
    return Limits(
        seconds=min(settings.query_seconds, settings.query_ceiling), ceiling=settings.query_ceiling, memory=settings.query_memory * MIB,
        rows=settings.query_rows, bytes=settings.query_bytes, workers=settings.query_workers, queue=settings.query_queue,
    )  # fmt: skip


async def _tried(pool: Pool, snapshot: Snapshot) -> None:
    """Ask for what the snapshot knows too, before anybody else may ask.

    Raises:
        BadRelease: the answer is another, so that the dataset is of another knowledge; the pool is closed.
    """
    answer = json.loads((await pool.ask(Query(TRIAL))).body)
    count = int(answer["results"]["bindings"][0]["n"]["value"])
    if count != len(snapshot.knowledge.statements):
        await pool.close()
        raise BadRelease(f"The dataset holds {count} statements, the snapshot {len(snapshot.knowledge.statements)}.", "Publish the release anew.")


class Querying:
    """Makes endpoints, all with the same limits, and one account a client whichever release is in force."""

    def __init__(self, settings: Settings, killed: Told) -> None:
        """`killed` is told why, each time that a query costs its worker."""
        self._killed = killed
        self._settings, self._limits = settings, limits_of(settings)
        self._budgets = Budgets(settings.client_seconds, settings.client_errors)
        self._cache = Path(settings.cache) if settings.cache else default_cache()

    def endpoint(self, opened: Opened) -> Endpoint | None:
        """An endpoint that is not ready yet; None where there is nothing to query, or no wish."""
        if not (self._settings.queries and opened.queried):
            return None
        return Endpoint(self._budgets, saved_in(opened.questions), self._limits, self._settings.base_url.rstrip("/"), patience=PATIENCE)

    async def warm(self, endpoint: Endpoint, opened: Opened) -> None:
        """Make an endpoint ready.

        Raises:
            LenticelError: that failed; the endpoint says so too.
        """
        about = opened.snapshot.knowledge.about
        try:
            store = await asyncio.to_thread(store_of, opened.snapshot, opened.folder, self._cache)
            pool = Pool(store, prefixes_of(about), about.iri, self._limits, killed=self._killed)
            await pool.start()
            await _tried(pool, opened.snapshot)
        except (LenticelError, OSError) as error:
            endpoint.failed = True
            log.error("queries cannot be answered: %s", error)
            raise
        endpoint.pool = pool
        log.info("queries over knowledge %s are answered", opened.snapshot.digest[:16])
        if not pool.sealed:
            log.warning("the kernel does not refuse sockets to queries here; SERVICE is refused by reading the query alone")
