"""Files of many questions in chunks: CSV and Parquet as Arrow record batches, lines of JSON as lines (needs the extra `bulk`).

The same file falls into the same chunks each time, whatever is read at once, and all rows of a plant lie in one of them.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from lenticel.columns import LONG
from lenticel.errors import BadFile
from lenticel.lines import Line, Lines

KINDS = {".csv": "csv", ".parquet": "parquet", ".ndjson": "ndjson", ".jsonl": "ndjson"}
ROWS = 1 << 14  # a chunk, if each row is a question of its own
LONG_ROWS = 1 << 16  # at least so many a chunk, if a plant has many rows
LINES = 1 << 13
PIECE = 1 << 20  # bytes read at once


@dataclass(frozen=True, slots=True)
class Chunk:
    """Whole plants or claims: a record batch, or lines; and how much of the file was read for it, as `Source.total` counts."""

    number: int
    content: pa.RecordBatch | list[Line]
    size: int


def kind_of(path: Path) -> str:
    """Which kind of file a name means.

    Raises:
        BadFile: none that is known.
    """
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise BadFile(f"The name {path.name!r} says no form that is known.", f"Let it end in {', '.join(KINDS)}.")
    return kind


class Source:
    """A file of many questions; `total` is its size in bytes (rows, of Parquet), `names` are its columns (none, of lines)."""

    def __init__(self, path: Path, longest: int) -> None:
        """Open a file, with lines of at most `longest` bytes.

        Raises:
            BadFile: it cannot be read as what its name says.
        """
        self.path, self.kind, self._longest = path, kind_of(path), longest
        try:
            self.names = {"csv": self._csv_names, "parquet": self._parquet_names, "ndjson": list[str]}[self.kind]()
            self.total: int = pq.read_metadata(path).num_rows if self.kind == "parquet" else path.stat().st_size
        except (OSError, pa.ArrowInvalid) as error:
            raise self._unreadable(error) from None

    def chunks(self) -> Iterator[Chunk]:
        """The file from its beginning, chunk by chunk.

        Raises:
            BadFile: it is not sound, or the rows of a plant do not stand together.
        """
        try:
            yield from self._of_lines() if self.kind == "ndjson" else self._of_rows()
        except (OSError, pa.ArrowInvalid) as error:
            raise self._unreadable(error) from None

    def _unreadable(self, error: Exception) -> BadFile:
        if isinstance(error, OSError) and error.errno:
            return BadFile(f"The file {self.path.name!r} cannot be read: {os.strerror(error.errno)}.", "Check its name.")
        told = str(error).splitlines()[0][:200]
        return BadFile(
            f"The file {self.path.name!r} cannot be read: {told}", "Check its name, that it is in UTF-8, and that each row has as many cells as the header."
        )

    def _csv_names(self) -> list[str]:
        return [str(name) for name in pa_csv.open_csv(self.path, parse_options=pa_csv.ParseOptions(newlines_in_values=True)).schema.names]

    def _parquet_names(self) -> list[str]:
        return [str(name) for name in pq.read_schema(self.path).names]

    def _of_lines(self) -> Iterator[Chunk]:
        lines, held, number, before = Lines(self._longest), list[Line](), 0, 0
        with self.path.open("rb") as file:
            while True:
                piece = file.read(PIECE)
                held += lines.take(piece) if piece else lines.end()
                while len(held) >= LINES or (held and not piece):
                    yield Chunk(number, held[:LINES], file.tell() - before)
                    held, number, before = held[LINES:], number + 1, file.tell()
                if not piece:
                    return

    def _of_rows(self) -> Iterator[Chunk]:
        plants = "plant" in self.names and set(LONG) <= set(self.names)
        seen: set[int] = set()
        before = 0
        with self.path.open("rb") as file:
            for number, batch in enumerate(whole(self._csv(file) if self.kind == "csv" else pq.ParquetFile(file).iter_batches(), plants)):
                if plants:
                    self._together(batch, seen)
                yield Chunk(number, batch, batch.num_rows if self.kind == "parquet" else file.tell() - before)
                before = file.tell()

    def _csv(self, file: object) -> Iterable[pa.RecordBatch]:
        """The rows of CSV, every cell as it stands; an empty one is null."""
        texts = pa_csv.ConvertOptions(column_types={name: pa.string() for name in self.names}, null_values=[""], strings_can_be_null=True)
        reader: Iterable[pa.RecordBatch] = pa_csv.open_csv(file, parse_options=pa_csv.ParseOptions(newlines_in_values=True), convert_options=texts)
        return reader

    def _together(self, batch: pa.RecordBatch, seen: set[int]) -> None:
        """Refuse a plant that stood in an earlier chunk; the names are kept as hashes, since there may be very many."""
        for plant in pc.unique(_plants(batch)).to_pylist():
            if hash(plant) in seen:
                raise BadFile(f"The rows of the plant {plant[:60]!r} do not stand together.", "Sort the file by the column plant.")
            seen.add(hash(plant))


def whole(batches: Iterable[pa.RecordBatch], plants: bool) -> Iterator[pa.RecordBatch]:
    """The same rows in batches of a settled size; if `plants`, such that none ends within a plant."""
    held: list[pa.RecordBatch] = []
    for batch in batches:
        held.append(batch)
        while sum(each.num_rows for each in held) > (LONG_ROWS if plants else ROWS):
            table = pa.Table.from_batches(held)
            end = _end(table) if plants else ROWS
            if end is None:
                break
            yield _one(table.slice(0, end))
            held = table.slice(end).to_batches()
    if held:
        yield _one(pa.Table.from_batches(held))


def _end(table: pa.Table) -> int | None:
    """The first row, after so many, with which another plant begins; None if there is none yet."""
    plants = _plants(table.slice(LONG_ROWS - 1))
    return next((LONG_ROWS + place for place, (one, other) in enumerate(pairwise(plants.to_pylist())) if one != other), None)


def _plants(rows: pa.Table | pa.RecordBatch) -> pa.Array:
    return pc.fill_null(pc.cast(rows.column("plant"), pa.string()), "")


def _one(table: pa.Table) -> pa.RecordBatch:
    batches = table.combine_chunks().to_batches()
    return batches[0] if batches else pa.RecordBatch.from_pylist([], schema=table.schema)
