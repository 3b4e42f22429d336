"""A table for a lesson: characters against taxa, with the cells that tell marked, and the sources as notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from lenticel.compare import PARTING, Comparison, Separator, compare
from lenticel.errors import BadQuestion
from lenticel.model import Caution
from lenticel.snapshot import Snapshot

ROWS, MOST_ROWS = 10, 40
NOTED = 3  # statements that a cell names as its sources
STRENGTH = {"decisive": 3, "typical": 2, "tendency": 1, "one-sided": 0}


@dataclass(frozen=True, slots=True)
class LessonCell:
    """What a taxon shows, and whether that tells.

    `telling` is "decisive" if it sets the taxon apart from every other of the table so that no plant can be both, "typical" if from every other by
    what is usual, "partly" if so from some of them only, else "". `notes` are places in the table's notes, from 1.
    """

    taxon: str
    shown: str
    telling: str
    notes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LessonRow:
    """A character and what each taxon shows of it, in the order of the taxa."""

    character: str
    label: str
    organ: str
    needs: str
    seasons: tuple[str, ...]
    cells: tuple[LessonCell, ...]


@dataclass(frozen=True, slots=True)
class Lesson:
    """The table. `unseparated` are the pairs that nothing in the season separates, not even what is usual; `shared` the characters that all show alike."""

    digest: str
    taxa: tuple[str, ...]
    labels: tuple[str, ...]
    season: str
    rows: tuple[LessonRow, ...]
    notes: tuple[str, ...]
    shared: tuple[str, ...]
    unseparated: tuple[tuple[str, str], ...]
    cautions: tuple[Caution, ...]


def lesson(snapshot: Snapshot, taxa: Sequence[str], *, season: str = "", rows: int = ROWS) -> Lesson:
    """A table of the most telling characters of some taxa.

    Chosen are those that separate a pair which nothing before them does, then the most telling of the rest, and mere tendencies only where rows are left;
    they stand in the order of `compare`.

    Args:
        snapshot: the knowledge.
        taxa: identifiers, 2 to 12 of them.
        season: only what can be seen then ("" for any season).
        rows: how many characters at most, 1 to 40.

    Raises:
        BadQuestion: as `compare`, or the number of rows is out of bounds.
    """
    if not 1 <= rows <= MOST_ROWS:
        raise BadQuestion(f"{rows} rows were asked for.", f"Ask for 1 to {MOST_ROWS}.", "/rows")
    known = snapshot.knowledge
    answer = compare(snapshot, taxa, season=season)
    notes: dict[str, int] = {}
    return Lesson(
        snapshot.digest,
        answer.taxa,
        tuple(known.taxa[each].label for each in taxa),
        season,
        tuple(_row(snapshot, answer, character, notes) for character in _chosen(answer, rows)),
        tuple(notes),
        tuple(known.characters[each.character].label for each in answer.shared),
        answer.inseparable,
        answer.cautions,
    )


def _chosen(answer: Comparison, rows: int) -> list[str]:
    parted: set[tuple[str, str]] = set()
    needed: list[str] = []
    for each in answer.separators:
        if each.force in PARTING and not parted.issuperset(each.pairs):
            needed.append(each.character)
            parted.update(each.pairs)
    order = dict.fromkeys(each.character for each in answer.separators if each.force != "one-sided")
    sure = [each.character for each in answer.separators if each.force in PARTING]
    chosen = set([*dict.fromkeys([*needed, *sure, *order])][:rows])
    return [each for each in order if each in chosen]


def _row(snapshot: Snapshot, answer: Comparison, character: str, notes: dict[str, int]) -> LessonRow:
    each = snapshot.knowledge.characters[character]
    separators = [one for one in answer.separators if one.character == character]
    cells = tuple(
        LessonCell(shown.taxon, shown.shown, _telling(separators, shown.taxon, answer.taxa), _noted(answer, shown.statements, notes))
        for shown in separators[0].shown
    )
    return LessonRow(character, each.label, each.organ, each.needs, each.seasons, cells)


def _telling(separators: Sequence[Separator], taxon: str, taxa: Sequence[str]) -> str:
    force = {frozenset(pair): STRENGTH[each.force] for each in separators for pair in each.pairs}
    against = [force.get(frozenset(pair), 0) for pair in combinations(taxa, 2) if taxon in pair]
    if min(against) >= STRENGTH["typical"]:
        return "decisive" if min(against) == STRENGTH["decisive"] else "typical"
    return "partly" if max(against) >= STRENGTH["typical"] else ""


def _noted(answer: Comparison, statements: Sequence[str], notes: dict[str, int]) -> tuple[int, ...]:
    """The places of the first sources in the notes, which grow by those that are new."""
    places = [f"{answer.citations[key].citation} {answer.citations[key].locator}" for key in statements[:NOTED]]
    return tuple(dict.fromkeys(notes.setdefault(place, len(notes) + 1) for place in places))
