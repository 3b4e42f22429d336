"""Arrow batches are answered as their plants are alone, in both forms, and from another engine's workers."""

from __future__ import annotations

import random
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import duckdb
import pyarrow as pa
import pytest

from lenticel import load
from lenticel.bulk import Bulk, asked_of
from lenticel.columns import SCHEMA, answer_batch
from lenticel.errors import BadQuestion
from lenticel.observation import Reader
from lenticel.snapshot import Snapshot
from tests.laws.test_bulk import seen_of

LONG = [
    ("a", "leaf-arrangement", "opposite", "Acer platanoides"),
    ("b", "leaf-arrangement", "no such thing", None),
    ("a", "petiole-sap", "milky", None),
    ("c", "leaf-arrangement", "alternate", "Acer platanoides"),
]


def test_the_rows_of_a_plant_are_one_question_and_a_bad_row_spoils_only_its_plant(trees: Snapshot) -> None:
    batch = pa.RecordBatch.from_arrays([pa.array(column) for column in zip(*LONG, strict=True)], ["plant", "character", "value", "taxon"])
    a, b, c = answer_batch(Bulk(trees), batch).to_pylist()
    assert (a["plant"], a["verdict"], a["error"]) == ("a", "agree", None)
    assert "acer-platanoides" in a["consistent"]
    assert (b["plant"], b["count"], b["error"]["code"], b["error"]["where"]) == ("b", None, "unknown-term", "/observations/0")
    assert (c["verdict"], c["contradicting"]) == ("contradict", ["leaf-arrangement: alternate"])


def test_wide_and_long_give_the_same_and_an_empty_cell_says_nothing(trees: Snapshot) -> None:
    wide = pa.RecordBatch.from_pydict({"plant": ["a", "c"], "leaf-arrangement": ["opposite", "alternate"], "petiole-sap": ["milky", None]})
    long = pa.RecordBatch.from_pydict(
        {"plant": ["a", "a", "c"], "character": ["leaf-arrangement", "petiole-sap", "leaf-arrangement"], "value": ["opposite", "milky", "alternate"]}
    )
    assert answer_batch(Bulk(trees), wide).equals(answer_batch(Bulk(trees), long))


@pytest.mark.parametrize("names", [("plant", "character"), ("character", "value"), ("plant", "leaf-margin", "leaf-margin")])
def test_columns_that_do_not_fit_are_refused(trees: Snapshot, names: tuple[str, ...]) -> None:
    batch = pa.RecordBatch.from_arrays([pa.array(["a"]) for _ in names], list(names))
    with pytest.raises(BadQuestion, match=", ".join(names)):
        answer_batch(Bulk(trees), batch)


def test_an_empty_batch_has_an_empty_answer(trees: Snapshot) -> None:
    batch = pa.RecordBatch.from_pydict({name: pa.array([], pa.string()) for name in ("plant", "character", "value")})
    assert answer_batch(Bulk(trees), batch).equals(pa.RecordBatch.from_pylist([], schema=SCHEMA))


def _part(folder: str, file: str, part: int) -> bytes:
    """What a worker does: DuckDB reads its share of the plants and streams it as Arrow batches through the function."""
    table = duckdb.sql(f"select * from '{file}' where hash(plant) % 2 = {part} order by plant").to_arrow_table().combine_chunks()
    bulk, sink = Bulk(load(folder)), pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, SCHEMA) as stream:
        for batch in table.to_batches():
            stream.write(answer_batch(bulk, batch))
    return bytes(sink.getvalue())


def test_duckdb_drives_it_on_two_workers(trees: Snapshot, trees_folder: Path, tmp_path: Path) -> None:
    rnd, reader = random.Random(7), Reader(trees)
    plants = {f"p{number:03}": seen_of(rnd, reader, 6) or [("leaf-arrangement", "opposite")] for number in range(80)}
    rows = [(plant, *pair) for plant, seen in plants.items() for pair in seen]
    file = tmp_path / "seen.parquet"
    duckdb.from_arrow(pa.table([pa.array(column) for column in zip(*rows, strict=True)], ["plant", "character", "value"])).write_parquet(str(file))
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        parts = list(pool.map(_part, [str(trees_folder)] * 2, [str(file)] * 2, range(2)))
    found = {line["plant"]: line for part in parts for line in pa.ipc.open_stream(part).read_all().to_pylist()}
    assert set(found) == set(plants)
    assert all(found)
    for plant, alone in zip(plants, Bulk(trees).answer(asked_of(list(plants.values()))), strict=True):
        assert tuple(found[plant]["consistent"] or ()) == alone.consistent
        assert (found[plant]["first"] or "") == alone.first
