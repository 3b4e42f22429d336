"""What Lenticel knows, as plain records: one class a noun, one field a column of the tables."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property

from lenticel.curation import Recorded, Review, recorded_keys

ENGLISH = "en"  # the language of the tables, but for names that say otherwise
SEASONS = ("spring", "summer", "autumn", "winter")
FREQUENCIES = ("", "always", "usually", "often", "sometimes", "rarely", "cultivar", "never")
RARE = frozenset({"rarely", "cultivar"})
SELDOM = RARE | {"sometimes", "never"}
KINDS = ("states", "measure", "count", "month")
FORCES = ("diagnostic", "circumstantial")
RANKS = ("kingdom", "phylum", "class", "order", "family", "genus", "species", "subspecies", "variety", "hybrid", "group")
REASONS = ("misprint", "other part", "other season", "young or shaded", "garden form", "wider concept", "true variation", "unsettled")
MATCHES = ("exactMatch", "closeMatch", "broadMatch", "narrowMatch", "relatedMatch")
COMMON_PRACTICE = "common-practice"
UNPUBLISHED = ("memory", COMMON_PRACTICE)
SOURCE_KINDS = ("book", "flora", "report", "web", "paper", "dataset", "invented", *UNPUBLISHED)


@dataclass(frozen=True, slots=True)
class About:
    """What this body of knowledge is: title, scope, licence, version, the version before, and the IRI below which its terms live."""

    id: str
    title: str
    description: str
    iri: str
    licence: str
    creator: str
    version: str
    created: str
    issued: str
    prior: str = ""


@dataclass(frozen=True, slots=True)
class Source:
    """A publication, or the plain admission that there is none (`memory`, `common-practice`)."""

    id: str
    kind: str
    authors: str
    year: str
    title: str
    container: str
    url: str
    note: str

    @property
    def published(self) -> bool:
        """Whether it stands for a publication, an invented one perhaps: it is neither memory nor common practice."""
        return self.kind not in UNPUBLISHED

    @property
    def short(self) -> str:
        """Surnames and year, as a text cites them."""
        names = [each.split(",")[0].strip() for each in self.authors.replace("(eds.)", "").replace("(ed.)", "").split(";") if each.strip()]
        who = f"{names[0]} et al." if len(names) > 2 else " & ".join(names)
        return f"{who or self.title} {self.year}".strip()

    @property
    def citation(self) -> str:
        """Author, year, title and container in one line."""
        head = f"{self.authors} ({self.year}). " if self.authors else ""
        return f"{head}{self.title}." + (f" {self.container}." if self.container else "")


@dataclass(frozen=True, slots=True)
class Taxon:
    """A species, hybrid or higher rank. What holds for a taxon holds for all below it."""

    id: str
    rank: str
    parent: str
    scientific_name: str
    authorship: str
    common_name: str
    hybrid_parents: tuple[str, ...]
    status: str
    note: str

    @property
    def vernacular(self) -> str:
        """The name that stands in the label beside the scientific one, "" if none does."""
        return self.common_name

    @property
    def label(self) -> str:
        """The scientific name, with the common one where there is one."""
        return f"{self.scientific_name} ({self.vernacular})" if self.vernacular else self.scientific_name

    @property
    def label_language(self) -> str:
        """The language of the label: that of the common name, or Latin."""
        return ENGLISH if self.vernacular else "la"


@dataclass(frozen=True, slots=True)
class Name:
    """Another name of a taxon, scientific or common, with who uses it."""

    taxon: str
    name: str
    kind: str
    language: str
    source: str
    locator: str

    @property
    def id(self) -> str:
        """The taxon, the name and who uses it."""
        return f"{self.taxon}.{self.name}.{self.source}"


@dataclass(frozen=True, slots=True)
class Slack:
    """How far beyond a printed bound a value may lie before it contradicts: a share of the bound, or a fixed step."""

    amount: Decimal
    relative: bool

    def below(self, bound: Decimal) -> Decimal:
        """The lowest value still let through under a lower bound (never below zero)."""
        return max(Decimal(0), bound - (bound * self.amount if self.relative else self.amount))

    def above(self, bound: Decimal) -> Decimal:
        """The highest value still let through over an upper bound."""
        return bound + (bound * self.amount if self.relative else self.amount)


NO_SLACK = Slack(Decimal(0), relative=False)


@dataclass(frozen=True, slots=True)
class Character:
    """One property of one organ, at one stage where that matters.

    `broader` names the character that this one is a special case of (another stage, season or sex); the two share
    their states. `applies_if` is (character, states): only plants that show one of those can show this one. `winter_if` is the like: in
    winter only they have it to look at, the others having shed it; it excludes nothing.
    """

    id: str
    label: str
    kind: str
    broader: str
    organ: str
    stage: str
    sex: str
    seasons: tuple[str, ...]
    needs: str
    force: str
    applies_if: tuple[str, tuple[str, ...]] | None
    winter_if: tuple[str, tuple[str, ...]] | None
    unit: str
    plausible_min: Decimal | None
    plausible_max: Decimal | None
    graded: bool
    complete: bool
    exhaustive: bool
    slack_low: Slack
    slack_high: Slack
    slack_extreme: Slack
    slack_reason: str
    synonyms: tuple[str, ...]
    definition: str


@dataclass(frozen=True, slots=True)
class State:
    """A value of a character. Siblings exclude each other; `confusable_with` lists states that observers take it for."""

    character: str
    id: str
    label: str
    parent: str
    complete: bool
    confusable_with: tuple[str, ...]
    synonyms: tuple[str, ...]
    definition: str

    @property
    def key(self) -> str:
        """The identifier that is unique among all states."""
        return f"{self.character}.{self.id}"


@dataclass(frozen=True, slots=True)
class Statement:
    """A source says that plants of this taxon may show these states, or this range, for this character."""

    taxon: str
    character: str
    value: str
    frequency: str
    exhaustive: bool | None
    source: str
    locator: str
    printed: str
    note: str

    @property
    def id(self) -> str:
        """Taxon, character, source and frequency word: who says it, of what, how often."""
        return ".".join(filter(None, (self.taxon, self.character, self.source, self.frequency)))

    @property
    def states(self) -> tuple[str, ...]:
        """The states of the value, for a character with states."""
        return tuple(self.value.split("|"))

    @property
    def wording(self) -> str:
        """A fingerprint of what a reader holds against the source; only the note may change without changing it."""
        closed = {None: "", True: "yes", False: "no"}[self.exhaustive]
        said = (self.taxon, self.character, self.value, self.frequency, closed, self.source, self.locator, self.printed)
        return f"w-{hashlib.sha256(chr(31).join(said).encode()).hexdigest()[:12]}"


@dataclass(frozen=True, slots=True)
class Lookalike:
    """Taxa that a source says are mistaken for each other, why, by which characters it tells them apart, and when the trap is set."""

    taxa: tuple[str, ...]
    reason: str
    told_by: tuple[str, ...]
    seasons: tuple[str, ...]
    hazard: str
    source: str
    locator: str
    note: str

    @property
    def id(self) -> str:
        """The taxa and the source that warns."""
        return ".".join((*self.taxa, self.source))


@dataclass(frozen=True, slots=True)
class Caution:
    """A way in which a plant can hurt, and the advice that goes with it."""

    id: str
    taxon: str
    kind: str
    who: str
    harm: str
    advice: str
    source: str
    locator: str


@dataclass(frozen=True, slots=True)
class Resolution:
    """How a disagreement of two sources is understood, and by whom; both statements stand."""

    taxon: str
    character: str
    one: str
    other: str
    reason: str
    text: str
    by: str
    date: str

    @property
    def id(self) -> str:
        """Taxon, character and the two sources."""
        return resolution_key(self.taxon, self.character, self.one, self.other)


@dataclass(frozen=True, slots=True)
class Match:
    """A term of another vocabulary that means the same as a taxon, a character or a state of it, or nearly so, in the words of SKOS.

    `relation` runs from the term here to the one there: `broadMatch` says that the one there is the broader.
    """

    taxon: str
    character: str
    state: str
    relation: str
    match: str
    called: str
    source: str
    locator: str

    @property
    def id(self) -> str:
        """The term here, and the last part of the name of the one there."""
        return ".".join(filter(None, (self.taxon, self.character, self.state, re.split(r"[/#]", self.match.rstrip("/#"))[-1])))

    @property
    def subject(self) -> tuple[str, str]:
        """The table and the key of the term here."""
        if self.taxon:
            return "taxa", self.taxon
        return ("states", f"{self.character}.{self.state}") if self.state else ("characters", self.character)


def resolution_key(taxon: str, character: str, one: str, other: str) -> str:
    """The identity of a resolution: whichever source is named first."""
    return ".".join((taxon, character, *sorted((one, other))))


@dataclass(frozen=True, slots=True)
class Released:
    """An identifier that was published; it stays for ever, or names the one that took its place."""

    iri: str
    version: str
    successor: str

    @property
    def id(self) -> str:
        """The identifier itself."""
        return self.iri


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """Somebody accepts, with a reason, that a character no longer separates a pair of which a mix-up can hurt."""

    one: str
    other: str
    character: str
    reason: str
    by: str
    date: str

    @property
    def id(self) -> str:
        """The pair, whichever is named first, and the character."""
        return ".".join((*sorted((self.one, self.other)), self.character))


@dataclass(frozen=True)
class Knowledge:
    """A whole body of trait knowledge, as it stands in the tables."""

    about: About
    sources: dict[str, Source] = field(default_factory=dict)
    taxa: dict[str, Taxon] = field(default_factory=dict)
    names: list[Name] = field(default_factory=list)
    characters: dict[str, Character] = field(default_factory=dict)
    states: dict[str, State] = field(default_factory=dict)
    statements: dict[str, Statement] = field(default_factory=dict)
    lookalikes: dict[str, Lookalike] = field(default_factory=dict)
    cautions: dict[str, Caution] = field(default_factory=dict)
    resolutions: dict[str, Resolution] = field(default_factory=dict)
    recorded: dict[str, Recorded] = field(default_factory=dict)
    reviews: dict[str, Review] = field(default_factory=dict)
    matches: dict[str, Match] = field(default_factory=dict)

    def lineage(self, taxon: str) -> Iterator[str]:
        """The taxon and every rank above it, nearest first."""
        while taxon:
            yield taxon
            taxon = self.taxa[taxon].parent

    def broadening(self, character: str) -> Iterator[str]:
        """The character and every broader one, nearest first."""
        while character:
            yield character
            character = self.characters[character].broader

    def broadest(self, character: str) -> str:
        """The broadest character that it is a case of, which is itself if there is none broader; its states are the ones that are taken."""
        *_, root = self.broadening(character)
        return root

    def cases_of(self, character: str) -> list[str]:
        """The character and every special case of it, in table order."""
        return self._cases_by_character[character]

    def states_of(self, character: str) -> list[State]:
        """The states that the character takes, those of its broadest one, in table order."""
        root = self.broadest(character)
        return self._states_by_root.get(root, [])

    def statements_on(self, taxon: str, character: str) -> list[Statement]:
        """The statements made on exactly this taxon and this character."""
        return self._statements_by_cell.get((taxon, character), [])

    def nearest_said(self, taxon: str, character: str) -> tuple[Statement, ...]:
        """The statements that tell what is usual: those on the nearest rank that has any, for the character, else for a broader one; none that deny."""
        return self._nearest(taxon, character, denying=False)

    def nearest_denied(self, taxon: str, character: str) -> tuple[Statement, ...]:
        """The statements that deny: those on the nearest rank that has any, for the character, else for a broader one."""
        return self._nearest(taxon, character, denying=True)

    def _nearest(self, taxon: str, character: str, *, denying: bool) -> tuple[Statement, ...]:
        for key in self.broadening(character):
            for rank in self.lineage(taxon):
                found = tuple(each for each in self.statements_on(rank, key) if (each.frequency == "never") is denying)
                if found:
                    return found
        return ()

    def characters_of(self, taxon: str) -> frozenset[str]:
        """The characters on which anything is stated of exactly this taxon."""
        return self._characters_by_taxon.get(taxon, frozenset())

    def recorded_of(self, statement: Statement) -> Recorded | None:
        """Who wrote a statement into the tables: the row that fits it most closely."""
        keys = recorded_keys(statement.taxon, statement.character, statement.source)
        return next((self.recorded[key] for key in keys if key in self.recorded), None)

    @cached_property
    def verdicts(self) -> dict[str, Review]:
        """For each statement that somebody read as it stands, the review that counts (`Review.weight`)."""
        found: dict[str, Review] = {}
        for each in sorted(self.reviews.values(), key=lambda each: each.weight):
            statement = self.statements.get(each.statement)
            if statement and statement.wording == each.wording:
                found[each.statement] = each
        return found

    def matches_of(self, table: str, key: str) -> list[Match]:
        """The terms of other vocabularies that mean about the same as a taxon, a character or a state."""
        return self._matches_by_subject.get((table, key), [])

    @cached_property
    def _matches_by_subject(self) -> dict[tuple[str, str], list[Match]]:
        found: dict[tuple[str, str], list[Match]] = {}
        for each in self.matches.values():
            found.setdefault(each.subject, []).append(each)
        return found

    @cached_property
    def terminal(self) -> list[str]:
        """The taxa with none below them, those at which naming ends, in table order."""
        parents = {taxon.parent for taxon in self.taxa.values()}
        return [taxon for taxon in self.taxa if taxon not in parents]

    @cached_property
    def shown_shares(self) -> dict[tuple[str, str], float]:
        """For each broadest character and state the share of the lowest taxa that are said, by themselves or at a rank above, to show it more than sometimes.

        Who is said to at two ranks counts twice; who is not described does not count.
        """
        below = Counter(rank for taxon in self.terminal for rank in self.lineage(taxon))
        showing: dict[tuple[str, str], set[str]] = {}
        for each in self.statements.values():
            if self.characters[each.character].kind == "states" and each.frequency not in SELDOM:
                root = self.broadest(each.character)
                for word in each.states:
                    showing.setdefault((root, word), set()).add(each.taxon)
        return {key: sum(below[taxon] for taxon in taxa) / len(self.terminal) for key, taxa in showing.items()}

    @cached_property
    def _characters_by_taxon(self) -> dict[str, frozenset[str]]:
        found: dict[str, set[str]] = {}
        for taxon, character in self._statements_by_cell:
            found.setdefault(taxon, set()).add(character)
        return {taxon: frozenset(characters) for taxon, characters in found.items()}

    @cached_property
    def _cases_by_character(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for case in self.characters:
            for key in self.broadening(case):
                found.setdefault(key, []).append(case)
        return found

    @cached_property
    def _states_by_root(self) -> dict[str, list[State]]:
        found: dict[str, list[State]] = {}
        for state in self.states.values():
            found.setdefault(state.character, []).append(state)
        return found

    @cached_property
    def _statements_by_cell(self) -> dict[tuple[str, str], list[Statement]]:
        found: dict[tuple[str, str], list[Statement]] = {}
        for statement in self.statements.values():
            found.setdefault((statement.taxon, statement.character), []).append(statement)
        return found
