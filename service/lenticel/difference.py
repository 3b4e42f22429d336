"""What differs between two versions of the tables, row by row, and which rows bear on what a taxon shows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Any

from lenticel.model import Knowledge

TABLES = ("sources", "taxa", "names", "characters", "states", "statements", "lookalikes", "cautions", "resolutions", "recorded", "reviews", "matches")
# The columns that the logic hangs on; the others are words.
LOGICAL = {
    "taxa": {"parent"},
    "characters": {
        "kind", "broader", "seasons", "force", "applies_if", "winter_if", "unit", "graded", "complete", "exhaustive",
        "slack_low", "slack_high", "slack_extreme",
    },
    "states": {"parent", "complete", "confusable_with"},
    "statements": {"value", "frequency", "exhaustive"},
}  # fmt: skip


@dataclass(frozen=True, slots=True, order=True)
class RowChange:
    """A row that was `added`, `changed` (in these columns) or is `gone`."""

    table: str
    key: str
    how: str
    columns: tuple[str, ...] = ()

    @property
    def logical(self) -> bool:
        """Whether the logic could hang on it."""
        return self.table in LOGICAL and (self.how != "changed" or bool(LOGICAL[self.table] & set(self.columns)))


def row_changes(old: Knowledge, new: Knowledge) -> list[RowChange]:
    """Every row that differs, by table and key; the order of rows means nothing."""
    return [each for table in TABLES for each in sorted(_of_table(table, _rows(old, table), _rows(new, table)))]


def _rows(knowledge: Knowledge, table: str) -> Mapping[str, Any]:
    if table == "names":
        return {f"{each.taxon}.{each.name}.{each.source}": each for each in knowledge.names}
    found: Mapping[str, Any] = getattr(knowledge, table)
    return found


def _of_table(table: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[RowChange]:
    for key in old.keys() - new.keys():
        yield RowChange(table, key, "gone")
    for key in new.keys() - old.keys():
        yield RowChange(table, key, "added")
    for key in old.keys() & new.keys():
        columns = tuple(each.name for each in fields(old[key]) if getattr(old[key], each.name) != getattr(new[key], each.name))
        if columns:
            yield RowChange(table, key, "changed", columns)


class Causes:
    """Finds the rows behind an effect: those that bear on some taxa and characters, in the old version or in the new one."""

    def __init__(self, old: Knowledge, new: Knowledge, rows: Iterable[RowChange], touched: set[tuple[str, str, str]]) -> None:
        """`touched` holds the (taxon, character, tier) of the cells that differ; a statement is a cause only if its cell does, or its taxon is new or gone."""
        self._versions = (old, new)
        self._touched = touched
        self._rows = [each for each in rows if each.logical]

    def of(self, taxa: Iterable[str], characters: Iterable[str], tiers: tuple[str, ...] = ("hard",)) -> tuple[RowChange, ...]:
        """The rows that bear on what the taxa show for the characters, in these tiers."""
        taxa, characters = list(taxa), list(characters)
        ranks = {rank for known in self._versions for taxon in taxa if taxon in known.taxa for rank in known.lineage(taxon)}
        family = {each for known in self._versions for key in characters if key in known.characters for each in _family(known, key)}
        return tuple(each for each in self._rows if self._bears(each, ranks, family, tiers))

    def of_cell(self, taxon: str, character: str) -> tuple[RowChange, ...]:
        """The rows that bear on what is said of this very taxon and character."""
        roots = {known.broadest(character) for known in self._versions if character in known.characters}

        def bears(row: RowChange) -> bool:
            if row.table == "statements":
                return row.key.startswith(f"{taxon}.{character}.")
            return row.key == character if row.table == "characters" else row.table == "states" and row.key.partition(".")[0] in roots

        return tuple(each for each in self._rows if bears(each))

    def of_taxa(self, taxa: Iterable[str]) -> tuple[RowChange, ...]:
        """The rows of these very taxa."""
        wanted = set(taxa)
        return tuple(each for each in self._rows if each.table == "taxa" and each.key in wanted)

    def _bears(self, row: RowChange, ranks: set[str], family: set[str], tiers: tuple[str, ...]) -> bool:
        if row.table == "taxa":
            return row.key in ranks
        if row.table == "characters":
            return row.key in family
        if row.table == "states":
            return row.key.partition(".")[0] in family
        taxon, character = row.key.split(".")[:2]
        differs = any((taxon, character, tier) in self._touched for tier in tiers) or not all(taxon in known.taxa for known in self._versions)
        return taxon in ranks and character in family and differs


def _family(known: Knowledge, character: str) -> Iterator[str]:
    """The character, the broader ones, and those on which they are conditional."""
    for each in known.broadening(character):
        yield each
        condition = known.characters[each].applies_if
        if condition:
            yield from _family(known, condition[0])
