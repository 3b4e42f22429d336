"""Many plants as Arrow record batches, so that DuckDB, Spark or Dask can drive the same function (needs the extra `bulk`)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from lenticel.bulk import Asked, Bulk, Plant
from lenticel.errors import BadQuestion

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
    names = batch.schema.names
    if "plant" not in names or len(set(names)) < len(names) or (set(names) & set(LONG) and not set(LONG) <= set(names)):
        raise BadQuestion("The columns do not fit.", "Give plant, character and value; or plant and one column a character; each once.")
    plants, asked = _of_long(batch) if set(LONG) <= set(names) else _of_wide(batch)
    return _batch_of(plants, list(bulk.answer(asked)))


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


def _batch_of(plants: Sequence[str], answers: Sequence[Plant]) -> pa.RecordBatch:
    fine = [each.error is None for each in answers]
    told = [bool(each.claimed) for each in answers]
    columns = [
        pa.array(plants, pa.string()),
        pa.array([len(each.consistent) if ok else None for each, ok in zip(answers, fine, strict=True)], pa.int32()),
        pa.array([each.consistent if ok else None for each, ok in zip(answers, fine, strict=True)], pa.list_(pa.string())),
        pa.array([each.first or None for each in answers], pa.string()),
        pa.array([each.share if each.first else None for each in answers], pa.float64()),
        pa.array([each.claimed or None for each in answers], pa.string()),
        pa.array([each.verdict or None for each in answers], pa.string()),
        pa.array([each.contradicting if told else None for each, told in zip(answers, told, strict=True)], pa.list_(pa.string())),
        pa.array([each.cautions if ok else None for each, ok in zip(answers, fine, strict=True)], pa.list_(pa.string())),
        pa.array([_error_of(each) for each in answers], ERROR),
    ]
    return pa.RecordBatch.from_arrays(columns, schema=SCHEMA)


def _error_of(plant: Plant) -> dict[str, str] | None:
    error = plant.error
    return {"code": error.code, "message": error.message, "fix": error.fix, "where": error.where} if error else None
