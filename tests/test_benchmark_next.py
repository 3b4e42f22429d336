"""The peers of the benchmark of counting find what the plain reference finds, on a small case. Nothing here is timed."""

from __future__ import annotations

import numpy as np
import pytest

from lenticel import store
from lenticel.snapshot import Snapshot
from lenticel.sweep import sweep
from tests.benchmarks import generated
from tests.benchmarks.columns import Columns
from tests.benchmarks.next import compare, plainly, same
from tests.benchmarks.sparql import Sparql
from tests.benchmarks.timing import Differs

TAXA, CHARACTERS, SEED = 150, 40, 3


@pytest.fixture(scope="module")
def snapshot(tmp_path_factory: pytest.TempPathFactory) -> Snapshot:
    folder = tmp_path_factory.mktemp("generated")
    generated.write(folder, TAXA, CHARACTERS, SEED)
    return store.load(folder)


@pytest.mark.parametrize("rows", [np.arange(TAXA), np.array([3, 77, 149])], ids=["all", "few"])
def test_all_count_what_the_plain_reference_counts(snapshot: Snapshot, rows: np.ndarray) -> None:
    peers = Columns(snapshot, SEED, [], everything=True), Sparql(snapshot)
    assert {"engine", "DuckDB", "SPARQL"} < set(compare(snapshot, rows, SEED, 1, peers))


def test_a_taxon_too_few_and_columns_of_another_seed_are_noticed(snapshot: Snapshot) -> None:
    rows = np.arange(TAXA)
    due = plainly(sweep(snapshot), rows, SEED)
    same("engine", sweep(snapshot).count(rows).left, due)
    with pytest.raises(Differs):
        same("engine", sweep(snapshot).count(rows[1:]).left, due)
    with pytest.raises(Differs, match="DuckDB"):
        compare(snapshot, rows, SEED, 1, (Columns(snapshot, SEED + 1, [], everything=True), None))
