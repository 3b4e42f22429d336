"""How often two sources have nothing in common on one taxon and character, by kind of character; `python -m tests.outside.slips` prints it.

This is where the numbers of `lenticel.doubt.CHANCES` come from: the project's own tables, in which the sources stand as
observers of the same kinds of plants. None of the descriptions kept apart are touched.
"""

from __future__ import annotations

from collections import Counter
from itertools import combinations

from lenticel import load
from lenticel.account import have_nothing_in_common
from lenticel.doubt import CHANCES, kind_of
from lenticel.model import RARE
from lenticel.snapshot import Snapshot
from tests.benchmarks.timing import table


def shares(snapshot: Snapshot) -> dict[str, tuple[int, int]]:
    """By kind: the pairs of statements of different sources on one taxon and diagnostic character, and those that have nothing in common."""
    known = snapshot.knowledge
    pairs: Counter[str] = Counter()
    apart: Counter[str] = Counter()
    for taxon, character in dict.fromkeys((each.taxon, each.character) for each in known.statements.values()):
        record = known.characters[character]
        said = [each for each in known.statements_on(taxon, character) if each.frequency not in RARE | {"never"}]
        for one, other in combinations(said, 2):
            if one.source != other.source and record.force == "diagnostic":
                kind = kind_of(snapshot, record, {*one.states, *other.states} if record.kind == "states" else ())
                pairs[kind] += 1
                apart[kind] += have_nothing_in_common(snapshot, one, other)
    return {kind: (count, apart[kind]) for kind, count in pairs.most_common()}


def main() -> None:
    """Print the shares beside the numbers that the code holds."""
    rows = [[kind, str(count), str(bad), f"{bad / count:.3f}", f"{CHANCES[kind]}"] for kind, (count, bad) in shares(load()).items()]
    print(table(["kind", "pairs", "nothing in common", "share", "in the code"], rows))


if __name__ == "__main__":
    main()
