"""The peers of the benchmark answer what the engine answers, on cases small enough for every run. Nothing here is timed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from lenticel import store
from lenticel.engine import consistent
from tests.benchmarks import batch, cases, generated, large
from tests.benchmarks.questions import questions
from tests.benchmarks.reasoners import InProcess, Owlready
from tests.benchmarks.sparql import Sparql
from tests.benchmarks.timing import Differs, same

TAXA, CHARACTERS, SEED = 150, 40, 3


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("generated")
    generated.write(folder, TAXA, CHARACTERS, SEED)
    return folder


def test_sparql_and_the_plain_reference_find_the_engines_taxa_in_generated_knowledge(folder: Path) -> None:
    snapshot = store.load(folder)
    sparql = Sparql(snapshot)
    asked = questions(snapshot, 30, SEED)
    for question in asked:
        ours = consistent(snapshot, question.probes)
        assert question.target in ours
        same("plain reference", generated.plainly(TAXA, SEED, question.rows).tolist(), ours)
        for name, form in sparql.forms.items():
            same(name, sparql.places(sparql.run(form(question.probes))), ours)
    assert len(sparql.forms) == 3
    assert 1 < np.mean([len(consistent(snapshot, each.probes)) for each in asked]) < TAXA / 3, "the questions exclude next to nothing, or everything"


def test_every_question_has_ten_observations_of_ten_characters_in_all_four_forms(folder: Path) -> None:
    for question in questions(store.load(folder), 20, SEED):
        values = [value for _, value in question.rows]
        assert len({character for character, _ in question.rows}) == len(question.probes) == 10
        assert sum(value.startswith("not ") for value in values) == 1
        assert sum("|" in value for value in values) == 2
        assert sum(value.endswith(" cm") for value in values) == 3


def test_both_ways_of_asking_hermit_find_the_engines_taxa_in_the_real_knowledge() -> None:
    graph, knowledge, snapshot = cases.real(5)
    asked = questions(snapshot, 3, SEED)
    sparql, process, owlready = Sparql(snapshot), InProcess(graph, knowledge, [each.observations for each in asked]), Owlready(graph, knowledge)
    for place, question in enumerate(asked):
        ours = consistent(snapshot, question.probes)
        same("HermiT in process", [snapshot.place_of[taxon] for taxon in process.answer(place)[1]], ours)
        for name, form in sparql.forms.items():
            same(name, sparql.places(sparql.run(form(question.probes))), ours)
    same("owlready2", [snapshot.place_of[taxon] for taxon in owlready.answer(asked[0].observations)[1]], consistent(snapshot, asked[0].probes))
    process.close()


def test_fresh_processes_answer_a_generated_folder_as_the_plain_reference_does() -> None:
    figures = large.run(TAXA, CHARACTERS, SEED, count=6, checked=6)
    assert set(figures) == {"cold", "warm"}
    assert 0 < figures["warm"]["mapped"] < figures["warm"]["peak"]
    assert 1 <= figures["warm"]["left"] < TAXA


def test_duckdb_finds_what_remains_of_many_plants_from_a_file(tmp_path: Path) -> None:
    figures = batch.run(tmp_path, 400, SEED, kill=False)
    assert set(figures) == {"lenticel batch", "DuckDB"}
    assert all(each.wall > 0 and each.memory > 1 << 20 for each in figures.values())
    with pytest.raises(Differs):
        batch.same(tmp_path / "ours.parquet", tmp_path / "theirs.parquet", 401)
    found = pq.read_table(tmp_path / "theirs.parquet").to_pylist()
    pq.write_table(pa.Table.from_pylist([{**found[0], "consistent": found[0]["consistent"][1:]}, *found[1:]]), tmp_path / "one-lost.parquet")
    with pytest.raises(Differs):
        batch.same(tmp_path / "ours.parquet", tmp_path / "one-lost.parquet", 400)


def test_an_answer_that_lacks_a_taxon_or_has_one_too_many_is_refused() -> None:
    ours = np.array([2, 5, 7])
    same("equal", [7, 2, 5], ours)
    for answer in ([2, 5], [2, 5, 7, 8], []):
        with pytest.raises(Differs):
            same("other", answer, ours)


def test_a_taxon_whose_bits_were_lost_is_missed_by_the_plain_reference(folder: Path, tmp_path: Path) -> None:
    for path in folder.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    question = questions(store.load(folder), 1, SEED)[0]
    hard = np.load(tmp_path / "hard.npy")
    hard[:, question.target // 64] &= ~np.uint64(1 << question.target % 64)
    np.save(tmp_path / "hard.npy", hard)
    with pytest.raises(Differs):
        same("plain reference", generated.plainly(TAXA, SEED, question.rows).tolist(), consistent(store.load(tmp_path), question.probes))
