"""The peer that keeps the knowledge as RDF: SPARQL on pyoxigraph, in memory.

The layout is the natural one, with everything inherited already worked out, and only the lowest taxa: for each state
either `taxon may/character state` or `taxon cannot/character state` (unknown: may show all), and for each measured
character `low/character` and `high/character` on the engine's whole-number grid. Three ways of asking are measured:

* `filters`: one FILTER NOT EXISTS an observation, as one would write it;
* `minus`: one MINUS an observation, the fastest found for few taxa;
* `subselects`: one subselect a scan, intersected. pyoxigraph's memory store answers "does this triple exist" by walking
  all triples of the taxon, so that this form, which never asks it, was the fastest found for 1,000 taxa.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt
import pyoxigraph as ox

from lenticel.engine import Bits, Probe, Spans
from lenticel.snapshot import OPEN_HIGH, OPEN_LOW, Snapshot, indices_of, members_of
from lenticel.sweep import Sweep

BASE = "https://example.org/"
LOWEST = f"?t <{BASE}is> <{BASE}lowest> ."


class Sparql:
    """A store filled from a snapshot, and the queries."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self.by_place = {where.place: (key, where.first) for key, where in snapshot.layout.items()}
        self.store = ox.Store()
        self.store.bulk_extend(self._quads())
        self.forms: dict[str, Callable[[Sequence[Probe]], str]] = {"filters": self.filters, "minus": self.minus, "subselects": self.subselects}

    def _quads(self) -> Iterator[ox.Quad]:
        snapshot, lowest = self.snapshot, indices_of(self.snapshot.terminal)
        taxa = {place: ox.NamedNode(f"{BASE}{place}") for place in lowest.tolist()}
        for node in taxa.values():
            yield ox.Quad(node, ox.NamedNode(f"{BASE}is"), ox.NamedNode(f"{BASE}lowest"))
        for key, where in snapshot.layout.items():
            may, cannot, low, high = (ox.NamedNode(f"{BASE}{word}/{key}") for word in ("may", "cannot", "low", "high"))
            for bit in range(where.atoms):
                state = ox.NamedNode(f"{BASE}{key}/{bit}")
                shown = members_of(snapshot.hard[where.first + bit], snapshot.taxa_count)
                yield from (ox.Quad(node, may if shown[place] else cannot, state) for place, node in taxa.items())
            if not where.atoms:
                lows, highs = snapshot.ranges[:2, where.slot]
                void = lows > highs
                lows, highs = np.where(void, OPEN_HIGH, lows), np.where(void, OPEN_LOW, highs)
                for place, node in taxa.items():
                    yield ox.Quad(node, low, ox.Literal(int(lows[place])))
                    yield ox.Quad(node, high, ox.Literal(int(highs[place])))

    def run(self, query: str) -> list[ox.NamedNode]:
        """The taxa that a query finds: what is timed."""
        return [row[0] for row in self.store.query(query)]

    def places(self, found: list[ox.NamedNode]) -> list[int]:
        """The places in the snapshot of what was found."""
        return [int(node.value.removeprefix(BASE)) for node in found]

    def _states(self, part: Bits) -> tuple[str, list[str]]:
        key, first = self.by_place[part.place]
        return key, [f"<{BASE}{key}/{plane - first}>" for plane in part.planes]

    def _span(self, part: Spans) -> tuple[str, int, int]:
        ((start, end),) = part.spans  # an interval, not a denied one
        return self.by_place[part.place][0], start, end

    def _excluding(self, part: Bits | Spans) -> str:
        """The pattern of the taxa that an observation contradicts."""
        if isinstance(part, Bits):
            key, states = self._states(part)
            return " ".join(f"?t <{BASE}cannot/{key}> {state} ." for state in states)
        key, start, end = self._span(part)
        return f"{{ ?t <{BASE}low/{key}> ?low FILTER(?low > {end}) }} UNION {{ ?t <{BASE}high/{key}> ?high FILTER(?high < {start}) }}"

    def filters(self, probes: Sequence[Probe]) -> str:
        """One FILTER NOT EXISTS an observation."""
        return self._all_but("FILTER NOT EXISTS", probes)

    def minus(self, probes: Sequence[Probe]) -> str:
        """One MINUS an observation."""
        return self._all_but("MINUS", probes)

    def _all_but(self, word: str, probes: Sequence[Probe]) -> str:
        return f"SELECT ?t {{ {LOWEST} {' '.join(f'{word} {{ {self._excluding(part)} }}' for (part,) in probes)} }}"

    def slips(self, probes: Sequence[Probe], most: int = 2) -> str:
        """The taxa that 1 to `most` observations contradict, with how many do: one branch of a union an observation, counted."""
        scans = []
        for number, (part,) in enumerate(probes):
            if isinstance(part, Bits):
                scans.append(f"{{ {self._excluding(part)} }}")
            else:
                key, start, end = self._span(part)
                low, high = f"?low{number}", f"?high{number}"
                scans.append(f"{{ ?t <{BASE}low/{key}> {low} ; <{BASE}high/{key}> {high} FILTER({low} > {end} || {high} < {start}) }}")
        return f"SELECT ?t (COUNT(*) AS ?slips) {{ {' UNION '.join(scans)} }} GROUP BY ?t HAVING (COUNT(*) <= {most})"

    def counts(self, sweep: Sweep, rows: npt.NDArray[np.intp] | None = None) -> str:
        """How many taxa, of all or of those at some places, each state of each character would leave, and each interval would not.

        `?o` is the state, or where the interval lies in the sweep. Whoever lies outside an interval lies either below or above: over all taxa two scans count
        them and nothing is joined, which was the fastest form found; for few taxa it was to look up both bounds of each.
        """
        states = [f"<{BASE}may/{key}>" for key, where in self.snapshot.layout.items() if where.atoms]
        spans = [
            (key, sweep.rows_of[key].start + number, span) for key, each in sweep.shown.items() for number, span in enumerate(each) if not isinstance(span, int)
        ]
        if rows is None:
            branches = [f"?t {state} ?o" for state in states]
            for key, place, (first, last) in spans:
                branches.append(f"?t <{BASE}low/{key}> ?v FILTER(?v > {last}) BIND({place} AS ?o)")
                branches.append(f"?t <{BASE}high/{key}> ?v FILTER(?v < {first}) BIND({place} AS ?o)")
        else:
            few = f"VALUES ?t {{ {' '.join(f'<{BASE}{row}>' for row in rows.tolist())} }}"
            branches = [f"{few} VALUES ?p {{ {' '.join(states)} }} ?t ?p ?o"]
            for key, place, (first, last) in spans:
                outside = f"FILTER(?low > {last} || ?high < {first})"
                branches.append(f"{few} ?t <{BASE}low/{key}> ?low ; <{BASE}high/{key}> ?high {outside} BIND({place} AS ?o)")
        return f"SELECT ?o (COUNT(*) AS ?n) {{ {' UNION '.join(f'{{ {each} }}' for each in branches)} }} GROUP BY ?o"

    def counted(self, query: str, sweep: Sweep, total: int) -> npt.NDArray[np.int64]:
        """How many of `total` taxa each outcome leaves by such a query, in the order of the sweep."""
        states = len(sweep.snapshot.hard)
        found = np.repeat(np.array([0, total]), [states, len(sweep.bins)])
        for row in self.store.query(query):
            key, _, bit = row["o"].value.removeprefix(BASE).partition("/")
            if bit:
                found[sweep.rows_of[key].start + int(bit)] = int(row["n"].value)
            else:
                found[int(key)] -= int(row["n"].value)
        return found

    def subselects(self, probes: Sequence[Probe]) -> str:
        """One subselect a scan."""
        scans: list[str] = []
        for number, (part,) in enumerate(probes):
            if isinstance(part, Bits):
                key, states = self._states(part)
                scans.append(" UNION ".join(f"{{ ?t <{BASE}may/{key}> {state} }}" for state in states))
            else:
                key, start, end = self._span(part)
                scans += [f"?t <{BASE}low/{key}> ?v{number} FILTER(?v{number} <= {end})", f"?t <{BASE}high/{key}> ?v{number} FILTER(?v{number} >= {start})"]
        return f"SELECT ?t {{ {' '.join(f'{{ SELECT DISTINCT ?t {{ {scan} }} }}' for scan in scans)} }}"
