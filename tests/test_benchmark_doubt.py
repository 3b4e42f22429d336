"""The peers of the benchmark of slips answer what the plain reference answers, on a small case. Nothing here is timed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lenticel import store
from lenticel.slips import near
from tests.benchmarks import generated
from tests.benchmarks.columns import Columns
from tests.benchmarks.doubt import compare, plainly, same
from tests.benchmarks.questions import questions
from tests.benchmarks.sparql import Sparql
from tests.benchmarks.timing import Differs

TAXA, CHARACTERS, SEED = 150, 40, 3


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("generated")
    generated.write(folder, TAXA, CHARACTERS, SEED)
    return folder


def test_all_find_the_taxa_and_the_slips_of_the_plain_reference(folder: Path) -> None:
    snapshot = store.load(folder)
    asked = questions(snapshot, 12, SEED)
    assert set(compare(snapshot, asked, SEED, 1, Sparql(snapshot))) == {"engine", "DuckDB", "SPARQL"}
    assert 5 < np.mean([len(plainly(TAXA, SEED, each)) for each in asked]) < TAXA / 2, "next to nothing is near, or nearly everything"


def test_a_taxon_missed_or_miscounted_is_refused(folder: Path) -> None:
    snapshot = store.load(folder)
    question = questions(snapshot, 1, SEED)[0]
    due = plainly(TAXA, SEED, question)
    taxa, slips = near(snapshot, question.probes)
    same("engine", taxa, slips, due)
    for wrong_taxa, wrong_slips in ((taxa[1:], slips[1:]), (taxa, 3 - slips)):
        with pytest.raises(Differs):
            same("other", wrong_taxa, wrong_slips, due)


def test_a_column_that_was_made_of_another_seed_is_noticed(folder: Path) -> None:
    snapshot = store.load(folder)
    question = questions(snapshot, 1, SEED)[0]
    columns = Columns(snapshot, SEED + 1, [question.probes])
    answer = columns.run(columns.slips(question.probes))
    with pytest.raises(Differs):
        same("DuckDB", answer["taxon"], answer["slips"], plainly(TAXA, SEED, question))
