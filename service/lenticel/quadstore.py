"""A dataset as a store on disk that workers open read-only: made once from the released file, in a process of its own, and kept.

    python -m lenticel.quadstore DATASET STORE

The release holds the file, whose bytes depend on the knowledge alone; the store is derived from it, and may be thrown away at any time.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import logging
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from lenticel.errors import BadRelease

log = logging.getLogger("lenticel")
FORMAT = 1  # of the store; another engine or layout needs another number


def default_cache() -> Path:
    """The folder in which stores are kept: the user's cache folder."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "lenticel"


def stored(dataset: Path, cache: Path, told: Callable[[str], None] = log.info) -> Path:
    """The store of a dataset, made if it is not there yet; this takes seconds, and a thread or process may wait for it.

    Args:
        dataset: gzipped N-Quads.
        cache: the folder in which stores are kept, each under the hash of its dataset.
        told: is given a sentence for the person who waits, if the store must be made.

    Raises:
        BadRelease: the dataset is missing or damaged, or there is no room.
    """
    try:
        with dataset.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise BadRelease(f"The dataset cannot be read: {error.strerror}.", "Build it anew with `lenticel build`.") from None
    folder = cache / f"{digest[:32]}-{FORMAT}"
    if not folder.is_dir():
        told(f"The dataset for queries is laid out in {cache}; this takes some seconds, once for each version of the knowledge.")
        made = subprocess.run([sys.executable, "-m", "lenticel.quadstore", str(dataset), str(folder)], capture_output=True, text=True, check=False)
        if made.returncode:
            why = made.stderr.strip().splitlines()[-1:] or ["it was killed"]
            raise BadRelease(f"The dataset cannot be loaded: {why[0]}.", "Build it anew with `lenticel build`, or make room.")
    return folder


def make(dataset: Path, folder: Path) -> None:
    """Make a store, whole or not at all: beside its place, and renamed there. Whoever comes second keeps the first one's."""
    import pyoxigraph as ox  # only where it is used: the process of the service needs none of it

    beside = folder.with_name(f".{folder.name}.{os.getpid()}.part")
    beside.parent.mkdir(parents=True, exist_ok=True)
    shutil.rmtree(beside, ignore_errors=True)
    try:
        store = ox.Store(str(beside))
        with gzip.open(dataset) as file:
            store.bulk_load(io.BufferedReader(file), format=ox.RdfFormat.N_QUADS)
        store.optimize()
        store.flush()
        del store
        if not folder.is_dir():
            beside.rename(folder)
    finally:
        shutil.rmtree(beside, ignore_errors=True)


if __name__ == "__main__":
    make(Path(sys.argv[1]), Path(sys.argv[2]))
