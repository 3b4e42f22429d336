"""What the tests share: the embedded knowledge built from its tables once, and the foreign one."""

from __future__ import annotations

import fcntl
import gc
import json
import os
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from rdflib import Graph

from lenticel import owl
from lenticel.api import create_app
from lenticel.build import ontology_of, snapshot_of
from lenticel.dataset import write_dataset
from lenticel.model import Knowledge
from lenticel.observation import Reader
from lenticel.quadstore import make
from lenticel.retired import retired_in
from lenticel.snapshot import Snapshot
from lenticel.store import save

ROOT = Path(__file__).parents[1]

gc.set_threshold(50_000, 20, 20)  # graphs are millions of small objects that live long: the usual 700 would look through them all the time


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


@pytest.fixture(scope="session")
def trees_graph(trees: Snapshot, ontology: tuple[Graph, Knowledge], tables: Path) -> Graph:
    """What the snapshot's records write: the ontology itself, as long as nothing was retired."""
    return owl.write(trees.knowledge) if retired_in(tables) or trees.knowledge != ontology[1] else ontology[0]


@pytest.fixture(scope="module")
def whole_graph(snapshot: Snapshot, request: pytest.FixtureRequest) -> Graph:
    """The ontology that the snapshot's records write."""
    graph: Graph = request.getfixturevalue("trees_graph") if snapshot is request.getfixturevalue("trees") else owl.write(snapshot.knowledge)
    return graph


@pytest.fixture(scope="module", params=["trees", "workshop"])
def snapshot(request: pytest.FixtureRequest) -> Snapshot:
    """The embedded knowledge, and one about no plant at all: the API must not know which."""
    return request.getfixturevalue(request.param)


@pytest.fixture(scope="module")
def client(snapshot: Snapshot) -> TestClient:
    return TestClient(create_app(snapshot), raise_server_exceptions=False)


@pytest.fixture(scope="module")
def document(client: TestClient) -> dict[str, Any]:
    """The document without examples of answers, which take a second to work out; the tests of the document itself have it whole."""
    return json.loads(json.dumps(client.app.openapi()))  # type: ignore[attr-defined]


@pytest.fixture(scope="session")
def trees_dataset(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The dataset of the trees, with its store beside it; made once for all processes of a run: who comes second waits for the first."""
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    with (shared / "dataset.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (shared / "dataset").is_dir():
            beside = tmp_path_factory.mktemp("dataset")
            write_dataset(request.getfixturevalue("trees"), beside / "dataset.nq.gz", request.getfixturevalue("ontology")[0])
            make(beside / "dataset.nq.gz", beside / "store")
            beside.rename(shared / "dataset")
    return shared / "dataset" / "dataset.nq.gz"


@pytest.fixture(scope="session")
def trees_store(trees_dataset: Path) -> Path:
    return trees_dataset.parent / "store"


@pytest.fixture(scope="session")
def workshop_dataset(workshop: Snapshot, workshop_tables: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("workshop") / "dataset.nq.gz"
    write_dataset(workshop, path, ontology_of(workshop_tables)[0])
    return path


@pytest.fixture(scope="session")
def workshop_store(workshop_dataset: Path) -> Path:
    make(workshop_dataset, workshop_dataset.parent / "store")
    return workshop_dataset.parent / "store"
