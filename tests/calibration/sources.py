"""How well independent sources agree, character by character: `python -m tests.calibration.sources` prints the table.

Every source of a taxon and character is held against a cell made of the others' statements alone, as if plants of the taxon had
been seen that show what it says is usual: each of its states as often, or the lower end, the middle and the upper end of its
range. How many of them does the cell put out? And how many of the other lowest taxa would their cells put out? A character
earns its keep by excluding much and contradicting a good source seldom. No held-out description takes part.

The choice between ways to read a character (closed or not, each pair of states that observers mix up, one step of
grade, each amount of slack) is the one with the most exclusion, in bits, less PRICE bits a percent of contradicted sources.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

import numpy as np

from lenticel.cells import Region, region_mask, regions
from lenticel.direct import snapshot_from
from lenticel.model import RARE, Character, Knowledge, Slack, State, Statement
from lenticel.partition import Partition
from lenticel.quantity import Interval
from lenticel.tables import read

ONTOLOGY = Path(__file__).parents[2] / "ontology"
PRICE = 0.12  # bits of exclusion that one percent of contradicted sources must bring
FEWEST = 12  # sources held against others, below which a character is left as it is
SHARES = ("0%", "5%", "10%", "15%", "20%", "25%", "30%", "40%", "50%", "60%")
STEPS = ("0", "1", "2")


@dataclass(frozen=True)
class Reading:
    """One way to read a character, and how it fares: sources held against others, those contradicted, mean share of other taxa excluded."""

    character: Character
    states: tuple[State, ...]
    held: int
    contradicted: float
    excluded: float

    @property
    def rate(self) -> float:
        """The share of sources that the others contradict, drawn a little towards one in a hundred where few were seen."""
        return (self.contradicted + 0.3) / (self.held + 30)

    @property
    def worth(self) -> float:
        """Bits of exclusion, less the price of contradicted sources."""
        return -math.log2(max(1e-9, 1 - self.excluded)) - PRICE * 100 * self.rate


class Field:
    """All that the tables say of one character, ready to be read in several ways."""

    def __init__(self, knowledge: Knowledge, partition: Partition | None, key: str) -> None:
        self.knowledge, self.partition = knowledge, partition
        self.said: dict[str, list[Statement]] = {}
        for each in knowledge.statements.values():
            if each.character == key:
                self.said.setdefault(each.taxon, []).append(each)
        self.lowest = [taxon for taxon in knowledge.terminal if taxon in self.said]

    def read(self, character: Character, states: Iterable[State]) -> Reading:
        """How one way to read the character fares."""
        states = tuple(states)
        view = replace(self.knowledge, characters={**self.knowledge.characters, character.id: character}, states={each.key: each for each in states})
        held, contradicted = 0, 0.0
        for said in self.said.values():
            for source in dict.fromkeys(each.source for each in said):
                mine = [each for each in said if each.source == source and each.frequency not in RARE]
                others = [each for each in said if each.source != source]
                seen = regions(view, character, mine)[1] if mine else None
                cell = regions(view, character, others)[0] if others else None
                if seen is not None and others and any(each.frequency != "never" for each in others):
                    held += 1
                    contradicted += 0 if cell is None else self._outside(seen, cell)
        return Reading(character, states, held, contradicted, self._excluded(view, character))

    def _meet(self, one: Region, other: Region) -> bool:
        if isinstance(one, Interval) and isinstance(other, Interval):
            return one.overlaps(other)
        assert self.partition is not None
        return bool(region_mask(self.partition, one) & region_mask(self.partition, other))

    def _outside(self, seen: Region, cell: Region) -> float:
        """The share of the plants of one source that a cell puts out."""
        if isinstance(seen, Interval) and isinstance(cell, Interval):
            ends = [each for each in (seen.lo, seen.hi) if each is not None]
            points = [*ends, sum(ends, Decimal(0)) / len(ends)] if ends else []
            return sum(not cell.overlaps(Interval(each, each)) for each in points) / max(1, len(points))
        assert self.partition is not None
        mine, its = region_mask(self.partition, seen), region_mask(self.partition, cell)
        return (mine & ~its).bit_count() / mine.bit_count() if mine else 0.0

    def _excluded(self, view: Knowledge, character: Character) -> float:
        """The mean share of the other lowest taxa of which something is said that a usual plant of one excludes."""
        cells = {taxon: regions(view, character, self.said[taxon]) for taxon in self.lowest}
        shares = [
            np.mean([hard is not None and not self._meet(usual, hard) for other, (hard, _) in cells.items() if other != taxon])
            for taxon, (_, usual) in cells.items()
            if usual is not None and len(cells) > 1
        ]
        return float(np.mean(shares)) if shares else 0.0


def alternatives(character: Character, states: tuple[State, ...]) -> Iterator[tuple[Character, tuple[State, ...]]]:
    """The ways to read a character that differ from this one in one respect."""
    if character.kind == "states":
        if not character.exhaustive:
            yield replace(character, exhaustive=True), states
        if character.graded:
            yield replace(character, graded=False), states
        for state in states:
            for other in state.confusable_with:
                apart = replace(state, confusable_with=tuple(each for each in state.confusable_with if each != other))
                yield character, tuple(apart if each is state else each for each in states)
    elif character.kind in ("measure", "count"):
        for text in SHARES if character.kind == "measure" or character.slack_high.relative else STEPS:
            amount = Slack(Decimal(text.rstrip("%")) / (100 if "%" in text else 1), relative="%" in text)
            yield replace(character, slack_low=amount, slack_high=amount), states
            yield replace(character, slack_extreme=amount), states


def best(field: Field, character: Character, states: tuple[State, ...]) -> tuple[Reading, Reading]:
    """The reading as the tables have it, and the best that single steps lead to."""
    first = now = field.read(character, states)
    while first.held >= FEWEST:
        ahead = max((field.read(*each) for each in alternatives(now.character, now.states)), key=lambda each: each.worth, default=now)
        if ahead.worth <= now.worth + 1e-9:
            break
        now = ahead
    return first, now


def told(reading: Reading) -> str:
    """A reading in short."""
    each = reading.character
    pairs = "+".join(f"{state.id}~{other}" for state in reading.states for other in state.confusable_with)
    if each.kind == "states":
        return f"{'closed' if each.exhaustive else 'open'}{' graded' if each.graded else ''} {pairs}".strip()
    return f"{_slack(each.slack_low)} {_slack(each.slack_high)} {_slack(each.slack_extreme)}"


def _slack(slack: Slack) -> str:
    return f"{slack.amount * 100:g}%" if slack.relative else f"{slack.amount:g}"


def fields(knowledge: Knowledge) -> Iterator[tuple[str, Field, tuple[State, ...]]]:
    """Every character with what is said of it and its states."""
    partitions = snapshot_from(knowledge).body.partitions
    for key, character in knowledge.characters.items():
        if character.force == "diagnostic":
            yield key, Field(knowledge, partitions.get(key), key), tuple(knowledge.states_of(key))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--best", action="store_true", help="also look for the best reading of each character (a minute)")
    options = parser.parse_args()
    knowledge, quantities = read(ONTOLOGY).knowledge, []
    for key, field, states in fields(knowledge):
        character = knowledge.characters[key]
        now = field.read(character, states)
        line = f"{key:24} {now.held:4} held {now.contradicted:5.1f} contradicted {now.excluded:5.1%} excluded  {told(now)}"
        if options.best:
            _, better = best(field, character, states)
            if better.worth > now.worth:
                line += f"\n{'':24} -> {better.contradicted:6.1f} contradicted {better.excluded:5.1%} excluded  {told(better)}"
        sys.stdout.write(line + "\n")
        if character.kind in ("measure", "count") and now.held:
            quantities.append(now)
    excluded, rate = np.mean([each.excluded for each in quantities]), sum(each.contradicted for each in quantities) / sum(each.held for each in quantities)
    sys.stdout.write(
        f"A single quantity of {len(quantities)} puts out {excluded:.0%} of the taxa of which it is known, and {rate:.1%} of what other sources say is usual.\n"
    )


if __name__ == "__main__":
    main()
