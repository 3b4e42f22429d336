"""Which statements to read back: drawn at random from those that nobody has read as they stand."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from lenticel.errors import UnknownTerm, suggest
from lenticel.model import Knowledge, Statement


def drawn(knowledge: Knowledge, seed: int, *, sample: int = 0, each_genus: int = 0, genus: str = "", source: str = "") -> list[Statement]:
    """A random sample of the statements that nobody has read as they stand, in the order of the tables.

    A statement's place in the lot hangs on itself and the seed alone, so that statements added or mended elsewhere do not
    change which others are drawn, and a larger sample holds a smaller one.

    Args:
        knowledge: the tables.
        seed: another seed draws another sample.
        sample: how many to draw; fewer come if fewer are left.
        each_genus: how many to draw of each genus, in place of `sample`.
        genus: only statements on this genus and what lies below it (or on a taxon that has none above, such as a family).
        source: only statements from this source.

    Raises:
        UnknownTerm: there is no such genus or source.
    """
    genera = {key: genus_of(knowledge, key) for key in knowledge.taxa}
    for word, known, called in ((genus, set(genera.values()), "genus"), (source, knowledge.sources, "source")):
        if word and word not in known:
            raise UnknownTerm(f"There is no {called} {word[:60]!r}.", suggest(word, known) or "The report, `lenticel review report`, names them all.")
    left = [
        each
        for each in knowledge.statements.values()
        if each.id not in knowledge.verdicts and genus in ("", genera[each.taxon]) and source in ("", each.source)
    ]
    lots = [[each for each in left if genera[each.taxon] == key] for key in dict.fromkeys(genera.values())] if each_genus else [left]
    chosen = {each.id for lot in lots for each in _first(lot, seed, each_genus or sample)}
    return [each for each in left if each.id in chosen]


def _first(lot: Iterable[Statement], seed: int, count: int) -> list[Statement]:
    return sorted(lot, key=lambda each: hashlib.sha256(f"{seed} {each.id}".encode()).digest())[:count]


def genus_of(knowledge: Knowledge, taxon: str) -> str:
    """The genus in which a taxon lies; the taxon itself if there is none."""
    return next((each for each in knowledge.lineage(taxon) if knowledge.taxa[each].rank == "genus"), taxon)
