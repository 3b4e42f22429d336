"""What reading statements back has shown: how many were wrong, by genus and by source, what is still unread, what is still amiss."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from lenticel.curation import Review
from lenticel.drawing import genus_of
from lenticel.model import Knowledge
from lenticel.proportion import Proportion, proportion
from lenticel.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class Readings:
    """What was read of a group of statements.

    `statements` is how many there are, `read` how many of them somebody read as they stand, `unread` the rest. `errors` is
    the share of wrong among those whose first reading came to right or wrong, `unclear` how many came to neither.
    """

    key: str
    label: str
    statements: int
    read: int
    unread: int
    errors: Proportion
    unclear: int


@dataclass(frozen=True, slots=True)
class Reviews:
    """The whole report.

    `amiss` are the reviews that found a statement wrong or unclear which still stands as it was read. `outdated` are those of
    statements that read otherwise now, or are gone. `unrecorded` counts the statements of which nobody says who recorded them.
    """

    digest: str
    total: Readings
    genera: tuple[Readings, ...]
    sources: tuple[Readings, ...]
    amiss: tuple[Review, ...]
    outdated: tuple[Review, ...]
    unrecorded: int


def reviews(snapshot: Snapshot) -> Reviews:
    """What reading back has shown.

    A statement counts once for the errors: by the verdict on the wording that was read first, since a wording that was mended
    after it was read is no random sample any more.
    """
    known = snapshot.knowledge
    first = _first_readings(known)
    outdated = [each for each in known.reviews.values() if not _current(known, each)]
    return Reviews(
        snapshot.digest,
        _readings("", "all statements", known, list(known.statements), first),
        _grouped(known, first, lambda taxon, _: genus_of(known, taxon) if taxon in known.taxa else taxon, lambda key: known.taxa[key].scientific_name),
        _grouped(known, first, lambda _, source: source, lambda key: known.sources[key].short),
        tuple(each for _, each in sorted(known.verdicts.items()) if each.verdict != "right"),
        tuple(sorted(outdated, key=lambda each: each.id)),
        sum(known.recorded_of(each) is None for each in known.statements.values()),
    )


def _current(known: Knowledge, review: Review) -> bool:
    statement = known.statements.get(review.statement)
    return statement is not None and statement.wording == review.wording


def _first_readings(known: Knowledge) -> list[Review]:
    """For each statement the review that counts of the wording that was read first; of two read on one day, the one that no longer stands."""
    by_statement: dict[str, list[Review]] = {}
    for each in known.reviews.values():
        by_statement.setdefault(each.statement, []).append(each)
    found: list[Review] = []
    for all_of_one in by_statement.values():
        wording = min(all_of_one, key=lambda each: (each.date, _current(known, each), each.weight)).wording
        found.append(max((each for each in all_of_one if each.wording == wording), key=lambda each: each.weight))
    return found


def _grouped(known: Knowledge, first: list[Review], group: Callable[[str, str], str], label: Callable[[str], str]) -> tuple[Readings, ...]:
    """The readings of each group, those with most statements first; `group` takes the taxon and the source of a statement."""
    members: dict[str, list[str]] = {}
    for each in known.statements.values():
        members.setdefault(group(each.taxon, each.source), []).append(each.id)
    said: dict[str, list[Review]] = {}
    for review in first:
        taxon, _, source = review.statement.split(".")[:3]
        said.setdefault(group(taxon, source), []).append(review)
    gone = {key: key for key in said.keys() - members.keys()}
    found = [_readings(key, gone.get(key) or label(key), known, members.get(key, []), said.get(key, [])) for key in (*members, *gone)]
    return tuple(sorted(found, key=lambda each: (-each.statements, each.key)))


def _readings(key: str, label: str, known: Knowledge, statements: list[str], first: Iterable[Review]) -> Readings:
    verdicts = [each.verdict for each in first]
    read = sum(each in known.verdicts for each in statements)
    wrong, right = verdicts.count("wrong"), verdicts.count("right")
    return Readings(key, label, len(statements), read, len(statements) - read, proportion(wrong, wrong + right), verdicts.count("unclear"))
