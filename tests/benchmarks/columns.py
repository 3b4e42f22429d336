"""The peer that keeps the knowledge as a table: DuckDB, in memory, one row a taxon.

A character with states is one column, an integer with a bit a state; a measured one is two columns of bounds on the engine's
whole-number grid. The columns are made from the generator, not from the engine's planes, and only of the characters
that the questions ask about: a column store reads no others, and loading all 500 would only take memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import duckdb
import numpy as np
import numpy.typing as npt

from lenticel.engine import Bits, Probe, Spans
from lenticel.snapshot import Snapshot
from tests.benchmarks.generated import range_column, state_column


class Columns:
    """The table, and the query."""

    def __init__(self, snapshot: Snapshot, seed: int, asked: Iterable[Sequence[Probe]]) -> None:
        self.first = {where.place: where.first for where in snapshot.layout.values()}
        table: dict[str, npt.NDArray[np.generic]] = {"taxon": np.arange(snapshot.taxa_count, dtype=np.int32)}
        parts = {part.place: isinstance(part, Spans) for probes in asked for (part,) in probes}
        for place, measured in sorted(parts.items()):
            if measured:
                table[f"low{place}"], table[f"high{place}"] = range_column(seed, place, snapshot.taxa_count)[0][:2]
            else:
                table[f"may{place}"] = state_column(seed, place, snapshot.taxa_count)[0]
        self.connection = duckdb.connect()
        self.connection.register("made", table)
        self.connection.execute("CREATE TABLE taxa AS SELECT * FROM made")
        self.connection.unregister("made")

    def slips(self, probes: Sequence[Probe], most: int = 2) -> str:
        """The query for the taxa that 1 to `most` observations contradict, with how many do."""
        count = " + ".join(f"({self._contradicts(part)})::UTINYINT" for (part,) in probes)
        return f"SELECT taxon, slips FROM (SELECT taxon, {count} AS slips FROM taxa) WHERE slips BETWEEN 1 AND {most}"

    def _contradicts(self, part: Bits | Spans) -> str:
        if isinstance(part, Spans):
            ((start, end),) = part.spans
            return f"low{part.place} > {end} OR high{part.place} < {start}"
        mask = sum(1 << plane - self.first[part.place] for plane in part.planes)
        return f"(may{part.place} & {mask}) = 0"

    def run(self, query: str) -> dict[str, npt.NDArray[np.generic]]:
        """The columns that a query finds: what is timed."""
        return self.connection.execute(query).fetchnumpy()
