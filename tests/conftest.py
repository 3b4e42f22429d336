"""What the tests share: the embedded knowledge built from its tables once, and the foreign one."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest
from rdflib import Graph

from lenticel.build import ontology_of, snapshot_of
from lenticel.model import Knowledge
from lenticel.observation import Reader
from lenticel.snapshot import Snapshot
from lenticel.store import save

ROOT = Path(__file__).parents[1]


def out_of_sight() -> None:
    """Take all that is loaded out of the garbage collector's sight: it lives as long as the tests, and each collection would walk it."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def tables() -> Path:
    return ROOT / "ontology"


@pytest.fixture(scope="session")
def workshop_tables() -> Path:
    return ROOT / "fixtures" / "workshop"


@pytest.fixture(scope="session")
def trees(tables: Path) -> Snapshot:
    snapshot = snapshot_of(tables)
    out_of_sight()
    return snapshot


@pytest.fixture(scope="session")
def trees_folder(trees: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("trees") / "snapshot"
    save(trees, folder)
    return folder


@pytest.fixture(scope="session")
def workshop(workshop_tables: Path) -> Snapshot:
    return snapshot_of(workshop_tables)


@pytest.fixture(scope="session")
def reader(trees: Snapshot) -> Reader:
    return Reader(trees)


@pytest.fixture(scope="session")
def ontology(tables: Path) -> tuple[Graph, Knowledge]:
    built = ontology_of(tables)
    out_of_sight()
    return built
