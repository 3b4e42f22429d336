"""Pages for people: what the questions answer, as HTML that needs no script to be read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache, cached_property
from importlib.resources import files
from typing import Any
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context as Variables
from markupsafe import Markup

from lenticel.account import account, all_disagreements
from lenticel.cite import counts, provenance
from lenticel.errors import LenticelError
from lenticel.identify import Answer, Context, cautions_for, identify
from lenticel.model import Caution, Character
from lenticel.observation import Reader, read_observations
from lenticel.pages import showing
from lenticel.paths import VOCABULARY, Place, address_of
from lenticel.snapshot import Snapshot
from lenticel.text.parts import TOUCH
from lenticel.version import __version__

STATIC = {"page.css": "text/css", "query.js": "text/javascript"}
BLANKS = 4  # empty lines of the form beyond those that are filled in
MOST_ROWS = 300  # statements of a source that its page lists one by one; thousands would be a burden to a phone
LISTED = 40  # taxa that remain, and that are out, on one page

Triple = tuple[str, str, str]


@cache
def static(name: str) -> bytes:
    """A file that pages refer to, one of `STATIC`."""
    return (files(__name__) / "static" / name).read_bytes()


class Pages:
    """The pages of one snapshot; each is a string of HTML."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot, self.known = snapshot, snapshot.knowledge
        self.reader = Reader(snapshot)
        self.environment = Environment(
            loader=PackageLoader("lenticel.pages"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, auto_reload=False
        )
        self.environment.globals.update(
            known=self.known, digest=snapshot.digest, version=__version__, at=self.at, plural=plural, cited=cited, local=self.local, touch=TOUCH
        )

    def at(self, table: str, key: str, part: str = "") -> str:
        """The address of a row."""
        return address_of(self.known.about.iri, table, key, part)

    def local(self, iri: str) -> str:
        """Where this service answers for an IRI of ours; any other as it is."""
        own = iri.startswith((self.known.about.iri, VOCABULARY))
        return "/" + iri.split("/", 3)[3] if own else iri

    def _render(self, template: str, title: str, **more: Any) -> str:
        return self.environment.get_template(f"{template}.html").render(title=title, **more)

    def of(self, place: Place, triples: Callable[[], Sequence[Triple]]) -> str:
        """The page of a thing.

        Args:
            place: the thing.
            triples: gives what its graph says, for things that have no page of their own kind.
        """
        makers = {"taxa": self.taxon, "characters": self.character, "states": self.state, "statements": self.statement, "sources": self.source}
        if place.table in makers and not place.part:
            return makers[place.table](place.key)
        label = f"{place.table.removesuffix('s')} {place.key} {place.part}".strip()
        return self.term(label, triples(), self._behind(place))

    def term(self, name: str, triples: Sequence[Triple], behind: tuple[str, str] | None = None) -> str:
        """The page of anything, from what its graph says; `behind` is the label and address of what it is a part of."""
        title = next((value for _, verb, value in triples if verb.endswith("#label")), name)
        return self._render("term", title, name=name, rows=[(_words(verb), value) for _, verb, value in triples], behind=behind)

    def _behind(self, place: Place) -> tuple[str, str] | None:
        if place.table in ("taxa", "characters"):
            return getattr(self.known, place.table)[place.key].label, self.at(place.table, place.key)
        if place.table == "cells":
            taxon = place.key.partition("/")[0]
            return self.known.taxa[taxon].label, self.at("taxa", taxon)
        return None

    def home(self) -> str:
        """What this is, and a form to ask what a plant is."""
        return self._render("home", self.known.about.title, counts=counts(self.known), lines=[""] * (BLANKS + 2), terms=self.terms)

    def release(self) -> str:
        """Which knowledge is in force, and how much it holds."""
        return self._render("release", "Release in force", counts=counts(self.known))

    def query(self) -> str:
        """The page on which to write a query."""
        return self._render("query", "Query")

    def missing(self, detail: str, fix: str) -> str:
        """The page of an address that names nothing."""
        return self._render("missing", "There is nothing here", detail=detail, fix=fix, successor="")

    def retired(self, detail: str, successor: str) -> str:
        """The page of an identifier that had to go; `successor` is the IRI that took its place."""
        return self._render("missing", "Retired", detail=detail, fix="", successor=successor)

    def listed(self, table: str) -> str:
        """All taxa, characters or sources."""
        return self._render(f"list_{table}", {"taxa": "Taxa", "characters": "Characters", "sources": "Sources"}[table])

    def answer(self, lines: Sequence[str], *, wild: bool, month: int) -> str:
        """What remains and what is out, given `character=value` lines; a line that cannot be read is said to be so."""
        given = [each.strip() for line in lines for each in line.splitlines() if each.strip()]
        faults: list[tuple[str, str, str]] = []
        observations = []
        for line in given:
            character, _, value = line.partition("=")
            try:
                observations += read_observations(self.reader, [(character.strip(), value.strip())])
            except LenticelError as error:
                faults.append((line, error.message, error.fix))
        answer = None if faults else identify(self.snapshot, observations, Context(wild, month))
        more = [("wild", "true")] * wild + [("month", str(month))] * bool(month)
        link = "/v1/identify?" + urlencode([*(("seen", each) for each in given), *more])
        return self._render(
            "answer", "What it may be", lines=[*given, *[""] * BLANKS], faults=faults, answer=answer, wild=wild, month=month,
            listed=LISTED, link=link, terms=self.terms, warnings=self._warnings(answer) if answer else [],
        )  # fmt: skip

    def _warnings(self, answer: Answer) -> list[tuple[Caution, bool]]:
        """The cautions of an answer and whether each bears only on taxa that one slip would bring back; those on what remains first."""
        remaining = {rank for each in answer.consistent for rank in self.known.lineage(each.taxon)}
        found = [(each, each.taxon not in remaining) for each in answer.cautions]
        return sorted(found, key=lambda warning: warning[1])

    def taxon(self, key: str) -> str:
        """What is known of a taxon, by organ, and on whose word."""
        told = account(self.snapshot, key)
        organs: dict[str, list[Any]] = {}
        for trait in told.traits:
            organs.setdefault(self.known.characters[trait.character].organ, []).append(trait)
        below = [each for each in self.known.taxa.values() if each.parent == key]
        return self._render("taxon", told.taxon.label, told=told, organs=organs, below=below, key=key)

    def character(self, key: str) -> str:
        """A character, and which taxa show which of its states, or which values."""
        character = self.known.characters[key]
        narrower = self._special_cases(key)
        shown = showing.by_state(self.snapshot, key) if character.kind == "states" else None
        values = None if shown else showing.by_taxon(self.snapshot, key)
        silent = showing.silent(self.snapshot, key)
        return self._render("character", character.label, each=character, narrower=narrower, shown=shown, values=values, silent=silent)

    def state(self, key: str) -> str:
        """A state, and which taxa show it usually, sometimes, or never."""
        state = self.known.states[key]
        shown = showing.by_state(self.snapshot, state.character)[key]
        below = [each for each in self.known.states_of(state.character) if each.parent == state.id]
        silent = showing.silent(self.snapshot, state.character)
        character = self.known.characters[state.character]
        narrower = self._special_cases(character.id)
        title = f"{character.label}: {state.label}"
        return self._render("state", title, each=state, character=character, shown=shown, below=below, silent=silent, narrower=narrower)

    def _special_cases(self, key: str) -> list[Character]:
        return [each for each in self.known.characters.values() if each.broader == key]

    def statement(self, key: str) -> str:
        """A statement, its source, and what other sources say of the same."""
        each = self.known.statements[key]
        others = [other for other in self.known.statements_on(each.taxon, each.character) if other.id != key]
        disputes = [dispute for dispute in self._disputes if key in (dispute.one, dispute.other)]
        title = f"{self.known.taxa[each.taxon].scientific_name}: {self.known.characters[each.character].label}"
        told, cautions = provenance(self.known, key), cautions_for(self.snapshot, [each.taxon])
        return self._render("statement", title, key=key, each=each, told=told, others=others, disputes=disputes, cautions=cautions)

    def source(self, key: str) -> str:
        """A source and the statements that rest on it."""
        by_taxon: dict[str, list[Any]] = {}
        for each in self.known.statements.values():
            if each.source == key:
                by_taxon.setdefault(each.taxon, []).append(each)
        return self._render(
            "source",
            self.known.sources[key].short,
            key=key,
            each=self.known.sources[key],
            by_taxon=by_taxon,
            each_row=sum(map(len, by_taxon.values())) <= MOST_ROWS,
        )

    @cached_property
    def _disputes(self) -> list[Any]:
        return all_disagreements(self.snapshot)

    @cached_property
    def terms(self) -> list[str]:
        """What may be filled in: each character with each of its states, by label."""
        return [f"{each.label} = {state.label}" for each in self.known.characters.values() for state in self.known.states_of(each.id)]

    def words(self) -> list[dict[str, str]]:
        """Every term that a query may name: its label, what it is, and its IRI."""
        known, iri = self.known, self.known.about.iri
        found = [{"label": each.label, "kind": "taxon", "iri": _iri(iri, self.at("taxa", key))} for key, each in known.taxa.items()]
        found += [{"label": each.label, "kind": "character", "iri": _iri(iri, self.at("characters", key))} for key, each in known.characters.items()]
        for key, state in known.states.items():
            label = f"{known.characters[state.character].label}: {state.label}"
            found.append({"label": label, "kind": "state", "iri": _iri(iri, self.at("states", key))})
        found += [{"label": each.short, "kind": "source", "iri": _iri(iri, self.at("sources", key))} for key, each in known.sources.items()]
        return found


def _iri(base: str, address: str) -> str:
    scheme, _, rest = base.partition("://")
    return f"{scheme}://{rest.partition('/')[0]}{address}"


def _words(verb: str) -> tuple[str, str]:
    """A property's IRI and the last part of it."""
    return verb.replace("#", "/").rpartition("/")[2], verb


def plural(count: int, one: str, many: str = "") -> str:
    """A count with its noun."""
    return f"{count} {one if count == 1 else many or one + 's'}"


@pass_context
def cited(variables: Variables, keys: Sequence[str]) -> Markup:
    """Statements as a text cites them, each a link."""
    known, at = variables["known"], variables["at"]
    found = []
    for key in keys:
        statement = known.statements[key]
        found.append(Markup('<a class="cite" href="{}">{}, {}</a>').format(at("statements", key), known.sources[statement.source].short, statement.locator))
    return Markup("; ").join(found)
