"""What is derived from a knowledge for queries: its dataset as a file, wherever that lies, and the store made of it."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable
from pathlib import Path

from lenticel.places import dataset_file
from lenticel.quadstore import stored
from lenticel.snapshot import Snapshot

log = logging.getLogger("lenticel")
FILE = "dataset.nq.gz"


def store_of(snapshot: Snapshot, folder: Path | None, cache: Path, told: Callable[[str], None] = log.info) -> Path:
    """The store of a knowledge, made if it is not there yet.

    A release, and the knowledge that Lenticel comes with, bring their dataset along; that of other tables is worked out first,
    without the identifiers that had to go, which only a release knows.

    Args:
        snapshot: the knowledge.
        folder: where its release lies; None for the embedded knowledge.
        cache: the folder in which derived files are kept.
        told: is given a sentence for the person who waits, for each step that takes seconds.

    Raises:
        BadRelease: the dataset is damaged, or there is no room.
    """
    brought = dataset_file() if folder is None else folder / FILE
    if brought.is_file():
        return stored(brought, cache, told)
    from lenticel.dataset import FORMAT, write_dataset  # the build side is needed only here

    worked_out = cache / f"{snapshot.digest[:32]}-{FORMAT}.nq.gz"
    if not worked_out.is_file():
        told("What follows from these tables is worked out for queries.")
        beside = worked_out.with_name(f".{worked_out.name}.{os.getpid()}.part")
        write_dataset(snapshot, beside)
        beside.rename(worked_out)
    return stored(worked_out, cache, told)
