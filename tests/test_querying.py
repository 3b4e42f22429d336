"""The life of the endpoint within the service: it is in force once a trial query was answered rightly, and tells of the workers that it lost."""

from __future__ import annotations

import asyncio
import shutil
from pathlib import Path

import pytest

from lenticel.api.sparql import Endpoint
from lenticel.derived import FILE
from lenticel.errors import BadRelease
from lenticel.queries import Query
from lenticel.querying import Opened, Querying
from lenticel.refused import Refused
from lenticel.settings import Settings
from lenticel.snapshot import Snapshot

ENDLESS = "SELECT (COUNT(*) AS ?n) { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i }"


def opened(snapshot: Snapshot, dataset: Path, folder: Path) -> Opened:
    shutil.copy(dataset, folder / FILE)
    return Opened(snapshot, folder)


def test_an_endpoint_is_in_force_after_a_right_answer_and_tells_why_each_worker_was_lost(workshop: Snapshot, workshop_dataset: Path, tmp_path: Path) -> None:
    killed: list[str] = []

    async def asked() -> Endpoint:
        querying = Querying(Settings(cache=str(tmp_path / "cache"), query_workers=1), killed.append)
        what = opened(workshop, workshop_dataset, tmp_path)
        endpoint = querying.endpoint(what)
        assert endpoint is not None
        assert endpoint.state == "starting"
        await querying.warm(endpoint, what)
        assert endpoint.pool is not None
        assert endpoint.state in ("sealed", "unsealed")
        with pytest.raises(Refused):
            await endpoint.pool.ask(Query(ENDLESS), 0.2)
        await endpoint.pool.close()
        return endpoint

    asyncio.run(asked())
    assert killed == ["time"]


def test_a_dataset_of_another_knowledge_is_never_in_force(trees: Snapshot, workshop_dataset: Path, tmp_path: Path) -> None:

    async def warmed() -> Endpoint:
        querying = Querying(Settings(cache=str(tmp_path / "cache"), query_workers=1), print)
        what = opened(trees, workshop_dataset, tmp_path)
        endpoint = querying.endpoint(what)
        assert endpoint is not None
        with pytest.raises(BadRelease):
            await querying.warm(endpoint, what)
        return endpoint

    assert asyncio.run(warmed()).state == "failed"
