"""Is this description right? Claims on taxa, held against what the sources say.

A claim is no observation. Who sees one leaf of 7 cm says that the plant can have such a leaf; who writes "leaves 5-9 cm" says what the leaves of the
taxon measure, all of them; and who writes "red or yellow" says that it shows both. So a range is held against the ranges as a whole:

* supported: it lies within what the sources call usual (the typical cell); of a state: what is usual takes it in;
* atypical: it reaches beyond what is usual, or no source says so and none rules it out;
* contradicted: it has nothing in common with what the taxon may show at all (the hard cell, slack included);
* unknown: nothing is said of taxon and character, nor of a rank above or a broader character, but that something is not shown.

Who claims papery bark, and of no age, is supported by who says so of old bark or of young; that old bark is otherwise contradicts nobody.

Of several states each is judged, and the claim is as good as the worst of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from lenticel.cells import region_mask, regions
from lenticel.cite import Citation, citations
from lenticel.claim import Claim, Claimed, read_claim
from lenticel.compare import statements_behind
from lenticel.errors import LenticelError
from lenticel.identify import cautions_for
from lenticel.model import RARE, Caution, Character, Statement
from lenticel.observation import Observation, Reader
from lenticel.quantity import Interval
from lenticel.snapshot import Snapshot, region_of
from lenticel.why import grounds, shown_text
from lenticel.wording import careful

VERDICTS = ("supported", "unknown", "atypical", "contradicted")  # from best to worst
SUPPORTED, UNKNOWN, ATYPICAL, CONTRADICTED = VERDICTS
MAX_CLAIMS = 1000
REMEMBERED = 4096  # different claims


@dataclass(frozen=True, slots=True)
class ClaimPart:
    """One state, range or span of months that is claimed, and how it fares; `partly_outside` if some of it lies beyond all that the taxon may show."""

    claimed: str
    verdict: str
    partly_outside: bool


@dataclass(frozen=True, slots=True)
class JudgedClaim:
    """One claim judged.

    `row` counts from 1. `shown` is what the sources call usual. `supporting` are the statements that say the same, `against` those that leave no room
    for a part of the claim, `other` those that say something else without ruling it out; a statement may support one part and stand against
    another. `condition` is "" or, where that decides (no leaflets on a simple leaf), the character on which this one depends. `disputed` if some
    support it and others stand against it. `instead` is what a careful writer would say.
    """

    row: int
    taxon: str
    label: str
    character: str
    claimed: str
    verdict: str
    parts: tuple[ClaimPart, ...]
    shown: str
    supporting: tuple[str, ...]
    against: tuple[str, ...]
    other: tuple[str, ...]
    condition: str
    disputed: bool
    instead: str


@dataclass(frozen=True, slots=True)
class BadClaim:
    """A claim that cannot be judged: its row (from 1), the field that is wrong, a stable code, what is wrong and what to do."""

    row: int
    field: str
    code: str
    message: str
    fix: str


@dataclass(frozen=True, slots=True)
class Claims:
    """All claims judged, in the order given; those that cannot be read; how many there are of each verdict; and the cautions on the taxa."""

    digest: str
    judged: tuple[JudgedClaim, ...]
    bad: tuple[BadClaim, ...]
    counts: dict[str, int]
    cautions: tuple[Caution, ...]
    citations: dict[str, Citation]


def claims(snapshot: Snapshot, rows: Sequence[tuple[str, str, str]]) -> Claims:
    """Judge claims; a row that cannot be read is reported, and the others are answered.

    Args:
        snapshot: the knowledge.
        rows: (taxon, character, value) in words: names or identifiers; states joined by `|`, each of which is claimed, `not milky`, or a range as
            floras print it, `(3-)5-12(-15) cm`.
    """
    reader = Reader(snapshot)
    judged: list[JudgedClaim] = []
    bad: list[BadClaim] = []
    for number, row in enumerate(rows, 1):
        try:
            judged.append(judge(snapshot, read_claim(reader, *row), number))
        except LenticelError as error:
            bad.append(BadClaim(number, error.where.lstrip("/"), error.code, error.message, error.fix))
    return Claims(
        snapshot.digest,
        tuple(judged),
        tuple(bad),
        {verdict: sum(each.verdict == verdict for each in judged) for verdict in VERDICTS},
        cautions_for(snapshot, dict.fromkeys(each.taxon for each in judged)),
        citations(snapshot.knowledge, (key for each in judged for key in (*each.supporting, *each.against, *each.other))),
    )


class Judging:
    """Judges claims one after another, from memory if the same was judged lately."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self._reader = Reader(snapshot)
        self._judged = lru_cache(REMEMBERED)(self._judge)

    def judge(self, taxon: str, character: str, value: str) -> tuple[JudgedClaim, tuple[str, ...]]:
        """One claim judged, and the cautions on its taxon.

        Raises:
            UnknownTerm, BadQuantity, BadObservation: it cannot be read.
        """
        return self._judged(taxon, character, value)

    def _judge(self, *row: str) -> tuple[JudgedClaim, tuple[str, ...]]:
        found = judge(self.snapshot, read_claim(self._reader, *row))
        return found, tuple(each.id for each in cautions_for(self.snapshot, [found.taxon]))


def judge(snapshot: Snapshot, claim: Claim, row: int = 1) -> JudgedClaim:
    """Judge one claim."""
    known, character = snapshot.knowledge, claim.character
    behind = _behind(snapshot, claim)
    parts = tuple(_part(snapshot, claim, each, behind) for each in claim.parts)
    verdict = max((each.verdict for each in parts), key=VERDICTS.index)
    condition, ruling = _condition(snapshot, claim) if verdict == CONTRADICTED else ("", ())
    own = set(known.broadening(character.id))
    sides = {
        each.id: {_side(snapshot, character, each, part) for part in claim.parts} - ({CONTRADICTED} if each.character not in own else set()) for each in behind
    }
    against = (*(key for key, found in sides.items() if CONTRADICTED in found), *ruling)
    return JudgedClaim(
        row,
        claim.taxon,
        known.taxa[claim.taxon].label,
        character.id,
        " and ".join(each.text for each in claim.parts),
        verdict,
        parts,
        shown_text(snapshot, claim.taxon, character.id) or careful(known, claim.taxon, character),
        tuple(key for key, found in sides.items() if SUPPORTED in found),
        tuple(dict.fromkeys(against)),
        tuple(key for key, found in sides.items() if found == {ATYPICAL}),
        condition,
        any(SUPPORTED in found for found in sides.values()) and bool(against),
        _instead(snapshot, claim, condition),
    )


def _behind(snapshot: Snapshot, claim: Claim) -> list[Statement]:
    """The statements that bear on a claim: on its character or a broader one; where there are none, on its special cases, those that say so."""
    known = snapshot.knowledge
    said, *cases = ([known.statements[key] for key in statements_behind(snapshot, claim.taxon, case)] for case in known.cases_of(claim.character.id))
    claimed = [part for part in claim.parts if part.kind != "denial"]  # that old bark is not mottled does not say so of any other
    return said or [each for case in cases for each in case if any(_side(snapshot, claim.character, each, part) == SUPPORTED for part in claimed)]


def _part(snapshot: Snapshot, claim: Claim, part: Claimed, behind: Iterable[Statement]) -> ClaimPart:
    hard, usual = region_of(snapshot, claim.taxon, claim.character.id, 0), _usual(snapshot, claim)
    fits, within = _overlaps(part, hard), _inside(part, usual, part.usual)
    outside = fits and part.kind in ("months", "range") and not _inside(part, hard, part.outer)
    own = set(snapshot.knowledge.broadening(claim.character.id))
    behind = [each for each in behind if each.character in own or _side(snapshot, claim.character, each, part) == SUPPORTED]
    told = [each for each in behind if each.frequency not in RARE | {"never"}]
    if not fits:
        verdict = CONTRADICTED
    elif not told and not any(_side(snapshot, claim.character, each, part) != ATYPICAL or each.frequency in RARE for each in behind):
        verdict = UNKNOWN
    elif within and not outside and (told or part.kind == "denial"):
        verdict = SUPPORTED
    else:
        verdict = ATYPICAL
    return ClaimPart(part.text, verdict, outside)


def _usual(snapshot: Snapshot, claim: Claim) -> int | Interval:
    """What is usual; where the sources on a stage or season and those on the character at large leave nothing in common, what those on the stage say."""
    known, character = snapshot.knowledge, claim.character
    usual = region_of(snapshot, claim.taxon, character.id, 1)
    if usual == 0:
        said = known.nearest_said(claim.taxon, character.id)
        _, own = regions(known, character, list(said))
        return region_mask(snapshot.body.partitions[character.id], own) if own is not None else 0
    return usual


def _overlaps(part: Claimed, region: int | Interval) -> bool:
    """Whether the claim and a region have anything in common."""
    if isinstance(region, int):
        return bool(part.part.mask & region)
    return part.outer is not None and not region.empty and part.outer.overlaps(region)


def _inside(part: Claimed, region: int | Interval, span: Interval | None) -> bool:
    """Whether a region takes the claim in: some of a state, all of a denial, all months, all of a range but for an open end."""
    if isinstance(region, int):
        claimed = part.part.mask
        return {"state": bool(claimed & region), "denial": not region & ~claimed, "months": not claimed & ~region}[part.kind]
    if span is None or region.empty:
        return False
    low, high = region.lo if span.lo is None else span.lo, region.hi if span.hi is None else span.hi
    whole = Interval(low, high)
    return not whole.empty and whole.meet(region) == whole


def _side(snapshot: Snapshot, character: Character, statement: Statement, part: Claimed) -> str:
    """Where one statement stands: it says the same (supported), leaves no room for the claim (contradicted), or says something else (atypical)."""
    known = snapshot.knowledge
    hard, usual = regions(known, known.characters[statement.character], [statement])
    masks = [
        region if isinstance(region, Interval) or region is None else region_mask(snapshot.body.partitions[character.id], region) for region in (hard, usual)
    ]
    if masks[0] is not None and not _overlaps(part, masks[0]):
        return CONTRADICTED
    told = statement.frequency not in RARE | {"never"} or part.kind == "denial"
    return SUPPORTED if told and masks[1] is not None and _inside(part, masks[1], part.usual) else ATYPICAL


def _condition(snapshot: Snapshot, claim: Claim) -> tuple[str, tuple[str, ...]]:
    """The character whose state rules the claim out, if it is not its own, and the statements that do."""
    found = [ground for part in claim.parts for ground in grounds(snapshot, claim.taxon, Observation((part.part,)), typical=False)]
    broader = set(snapshot.knowledge.broadening(claim.character.id))
    condition = next((ground.character for ground in found if ground.character not in broader), "")
    return condition, tuple(key for ground in found for key in ground.statements)


def _instead(snapshot: Snapshot, claim: Claim, condition: str) -> str:
    """What a careful writer would say."""
    known, character = snapshot.knowledge, claim.character
    name = known.taxa[claim.taxon].scientific_name
    if condition:
        return (
            f"{name} has {known.characters[condition].label}: {careful(known, claim.taxon, known.characters[condition])}; say nothing of the {character.label}."
        )
    said = careful(known, claim.taxon, character)
    if not said:
        cases = [(known.characters[case], careful(known, claim.taxon, known.characters[case])) for case in known.cases_of(character.id)]
        told = "; ".join(f"{case.label}: {words}" for case, words in cases if words)
        return f"{name}, {told}." if told else f"No source here says what the {character.label} of {name} is: leave it out, or name a source of your own."
    return f"{name}, {character.label}: {said}."
