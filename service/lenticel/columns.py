"""Many plants as Arrow record batches, so that DuckDB, Spark or Dask can drive the same function (needs the extra `bulk`)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv

from lenticel.bulk import Asked, Block, Bulk
from lenticel.claims import Judging
from lenticel.errors import BadQuestion, LenticelError
from lenticel.heard import Table
from lenticel.observation import Reader
from lenticel.snapshot import Snapshot
from lenticel.spreadsheet import FORMULA

LONG = ("character", "value")
ERROR = pa.struct([("code", pa.string()), ("message", pa.string()), ("fix", pa.string()), ("where", pa.string())])
SCHEMA = pa.schema(
    [
        ("plant", pa.string()),
        ("count", pa.int32()),
        ("consistent", pa.list_(pa.string())),
        ("first", pa.string()),
        ("share", pa.float64()),
        ("taxon", pa.string()),
        ("verdict", pa.string()),
        ("contradicting", pa.list_(pa.string())),
        ("cautions", pa.list_(pa.string())),
        ("error", ERROR),
    ]
)

CLAIM_SCHEMA = pa.schema(
    [
        ("taxon", pa.string()),
        ("character", pa.string()),
        ("value", pa.string()),
        ("verdict", pa.string()),
        ("disputed", pa.bool_()),
        ("condition", pa.string()),
        ("shown", pa.string()),
        ("instead", pa.string()),
        ("supporting", pa.list_(pa.string())),
        ("against", pa.list_(pa.string())),
        ("other", pa.list_(pa.string())),
        ("cautions", pa.list_(pa.string())),
        ("error", ERROR),
    ]
)
CLAIM = ("taxon", "character", "value")


def answer_batch(bulk: Bulk, batch: pa.RecordBatch) -> pa.RecordBatch:
    """Answer the plants of one record batch.

    Args:
        bulk: what answers.
        batch: the column `plant`, and either `character` and `value`, an observation a row; or one column a character, a plant a row, where
            an empty cell means that nobody looked. `taxon`, if it is there, is what the plant is said to be (in the long form the first that is
            given counts). All rows of a plant in the long form must be in one batch.

    Returns:
        A batch of SCHEMA, a plant a row, in the order in which they first appear. Where `error` is given, the rest is null.

    Raises:
        BadQuestion: a column is missing or is named twice.
    """
    plants, asked = _of_long(batch) if _long(batch.schema.names) else _of_wide(batch)
    taxa, cautions = (pa.array(each, pa.string()) for each in (bulk.snapshot.taxa, bulk.cautions))
    whole: list[pa.RecordBatch] = []
    for block in bulk.blocks(asked):
        start = sum(each.num_rows for each in whole)
        whole.append(_batch_of(plants[start : start + len(block.first)], block, taxa, cautions))
    return pa.Table.from_batches(whole, SCHEMA).combine_chunks().to_batches()[0] if whole else pa.RecordBatch.from_pylist([], schema=SCHEMA)


def judge_batch(judging: Judging, batch: pa.RecordBatch) -> pa.RecordBatch:
    """Judge the claims of one record batch.

    Args:
        judging: what judges.
        batch: the columns taxon, character and value, a claim a row.

    Returns:
        A batch of CLAIM_SCHEMA, in the same order. Where `error` is given, what follows `value` is null.
    """
    given = zip(*(_texts(batch, name).to_pylist() for name in CLAIM), strict=True)
    rows = []
    for claim in given:
        row: dict[str, Any] = dict(zip(CLAIM, claim, strict=True))
        try:
            judged, cautions = judging.judge(*claim)
        except LenticelError as error:
            rows.append({**row, "error": _written(error)})
        else:
            told = {name: getattr(judged, name) for name in CLAIM_SCHEMA.names[len(CLAIM) : -2]}
            rows.append({**row, **told, "cautions": cautions})
    return pa.RecordBatch.from_pylist(rows, schema=CLAIM_SCHEMA)


def check_columns(snapshot: Snapshot, names: Sequence[str], *, claims: bool = False) -> None:
    """Refuse columns that do not fit, before any row is read.

    Args:
        snapshot: the knowledge.
        names: the columns.
        claims: whether they are to hold claims.

    Raises:
        BadQuestion: a column is missing or is named twice.
        UnknownTerm: a column is to be a character, and is none.
    """
    if claims:
        if len([name for name in names if name in CLAIM]) != len(CLAIM):
            raise BadQuestion("The columns do not fit.", "Give taxon, character and value, each once.")
    elif not _long(names):
        reader = Reader(snapshot)
        for name in names:
            for word in name.split("|") if name not in ("plant", "taxon") else ():
                reader.character(word)


def _long(names: Sequence[str]) -> bool:
    """Whether columns of plants are in the long form.

    Raises:
        BadQuestion: they are in neither.
    """
    if "plant" not in names or len(set(names)) < len(names) or (set(names) & set(LONG) and not set(LONG) <= set(names)):
        told = ", ".join(names)[:100]
        raise BadQuestion(
            f"The columns do not fit: {told}.", "Give plant, character and value; or plant and one column a character; each once, parted by commas."
        )
    return set(LONG) <= set(names)


def as_csv(answers: pa.RecordBatch, *, header: bool = True) -> bytes:
    """Answers as CSV in UTF-8: identifiers joined by `|`, observations in words by `; `, and the parts of an error in columns of their own.

    Text that a spreadsheet would take for a formula gets an apostrophe before it, as `spreadsheet.neutral` writes it.
    """
    columns: dict[str, pa.Array] = {}
    for name, column in zip(answers.schema.names, answers.columns, strict=True):
        if name == "error":
            columns |= {f"error_{part.name}": pc.struct_field(column, [part.name]) for part in ERROR}
        else:
            joined = pa.types.is_list(column.type)
            columns[name] = pc.binary_join(column, "; " if name == "contradicting" else "|") if joined else column
    columns = {name: _neutral(column) if pa.types.is_string(column.type) else column for name, column in columns.items()}
    sink = pa.BufferOutputStream()
    pa_csv.write_csv(pa.RecordBatch.from_pydict(columns), sink, pa_csv.WriteOptions(include_header=header))
    return bytes(sink.getvalue())


def _neutral(column: pa.Array) -> pa.Array:
    formulas = pc.starts_with(column, FORMULA[0])
    for mark in FORMULA[1:]:
        formulas = pc.or_(formulas, pc.starts_with(column, mark))
    return pc.if_else(formulas, pc.binary_join_element_wise("'", column, ""), column)


def _texts(batch: pa.RecordBatch, name: str) -> pa.Array:
    return pc.fill_null(pc.cast(batch.column(name), pa.string()), "")


def _coded(column: pa.Array) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], list[str]]:
    """A column of text as numbers of its different values, and these."""
    encoded = column.dictionary_encode()
    return encoded.indices.to_numpy().astype(np.intp), encoded.dictionary.to_pylist()


def _of_long(batch: pa.RecordBatch) -> tuple[list[str], Asked]:
    plant, plants = _coded(_texts(batch, "plant"))
    character, characters = _coded(_texts(batch, "character"))
    value, values = _coded(_texts(batch, "value"))
    different, codes = np.unique(character * max(1, len(values)) + value, return_inverse=True)
    pairs = [(characters[code // len(values)], values[code % len(values)]) for code in different.tolist()]
    order = np.argsort(plant, kind="stable")
    starts = np.searchsorted(plant[order], np.arange(len(plants) + 1))
    claims: list[str] = []
    if "taxon" in batch.schema.names:
        claims = [""] * len(plants)
        for row, claim in zip(plant.tolist(), _texts(batch, "taxon").to_pylist(), strict=True):
            claims[row] = claims[row] or claim
    return plants, Asked(pairs, codes[order], starts, claims)


def _of_wide(batch: pa.RecordBatch) -> tuple[list[str], Asked]:
    names = [name for name in batch.schema.names if name not in ("plant", "taxon")]
    codes = np.full((batch.num_rows, len(names)), -1, np.intp)
    pairs: list[tuple[str, str]] = []
    for column, name in enumerate(names):
        found, values = _coded(_texts(batch, name))
        looked = np.array([bool(value.strip()) for value in values] or [False])
        codes[:, column] = np.where(looked[found] if len(found) else False, found + len(pairs), -1)
        pairs += [(name, value) for value in values]
    seen = codes >= 0
    starts = np.concatenate([[0], np.cumsum(seen.sum(axis=1))])
    claims = _texts(batch, "taxon").to_pylist() if "taxon" in batch.schema.names else []
    return _texts(batch, "plant").to_pylist(), Asked(pairs, codes[seen], starts, claims)


def _batch_of(plants: Sequence[str], block: Block, taxa: pa.Array, cautions: pa.Array) -> pa.RecordBatch:
    broken = np.isin(np.arange(len(plants)), list(block.errors))
    unnamed = broken | (block.first < 0)
    claimed = block.claimed or [("", "", ())] * len(plants)
    columns = [
        pa.array(plants, pa.string()),
        pa.array(block.fits.sum(axis=1), pa.int32(), mask=broken),
        _lists(block.fits, taxa, broken),
        pc.if_else(pa.array(unnamed), None, taxa.take(pa.array(np.maximum(block.first, 0)))),
        pa.array(block.share, pa.float64(), mask=unnamed),
        pa.array([taxon or None for taxon, _, _ in claimed], pa.string()),
        pa.array([verdict or None for _, verdict, _ in claimed], pa.string()),
        pa.array([against if taxon else None for taxon, _, against in claimed], pa.list_(pa.string())),
        _lists(block.cautions, cautions, broken),
        pa.nulls(len(plants), ERROR),
    ]
    if block.errors:
        columns[-1] = pa.array([_written(block.errors[place]) if place in block.errors else None for place in range(len(plants))], ERROR)
    return pa.RecordBatch.from_arrays(columns, schema=SCHEMA)


def _lists(members: Table, names: pa.Array, missing: Table) -> pa.Array:
    """The names of the members of each row; null where missing."""
    rows, places = members.nonzero()
    ends = np.searchsorted(rows, np.arange(len(members) + 1)).astype(np.int32)
    return pa.ListArray.from_arrays(pa.array(ends), names.take(pa.array(places)), mask=pa.array(missing))


def _written(error: LenticelError) -> dict[str, str]:
    return {"code": error.code, "message": error.message, "fix": error.fix, "where": error.where}
