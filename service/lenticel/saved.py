"""Saved questions: queries with a title, a sentence, parameters and an expected answer, each a file `NAME.rq`.

    # Which maples have opposite buds?                            the title: the first line
    # A sentence or two on what the answer means.
    # parameter season: season = winter | when it is seen         name, type, default, meaning
    # expect rows: 12                                             exactly, or `at least 12`
    # expect row: acer-rubrum | red maple                         cells as CSV has them; an IRI of ours may be cut to its last part

A parameter is a variable of the query, written with a dollar sign. Its value is read by its type into an IRI or a literal, and only that term, in the
spelling of the language, takes the place of the variable: no value can become anything else.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lenticel.cite import taxon_named
from lenticel.errors import LenticelError, UnknownTerm, suggest
from lenticel.model import SEASONS
from lenticel.observation import Reader
from lenticel.paths import path_of
from lenticel.refused import Refused
from lenticel.snapshot import Snapshot
from lenticel.terms import iri_text, literal_text
from lenticel.tokens import filled

XSD = "http://www.w3.org/2001/XMLSchema#"
TYPES = ("taxon", "character", "state", "source", "season", "month", "number", "text")
MOST = 200  # characters of a value
_PARAMETER = re.compile(r"parameter (?P<name>[a-z]\w*): (?P<type>[a-z]+) = (?P<default>.*?) \| (?P<meaning>.+)")
_ROWS = re.compile(r"expect rows: (?P<least>at least )?(?P<rows>\d+)")
_NUMBER = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,12})?")


@dataclass(frozen=True, slots=True)
class Parameter:
    """A parameter: its variable, its type, the value that stands for none, and its meaning."""

    name: str
    type: str
    default: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Saved:
    """A saved question. `rows` is how many rows are expected, exactly or (`at_least`) as the fewest; `row` are rows that must be there."""

    name: str
    title: str
    about: str
    parameters: tuple[Parameter, ...]
    query: str
    rows: int
    at_least: bool
    row: tuple[tuple[str, ...], ...]


def saved_in(folder: Path | None) -> dict[str, Saved]:
    """Every saved question of a folder, by name.

    Raises:
        LenticelError: a file is not written as it should be.
    """
    files = sorted(folder.glob("*.rq")) if folder and folder.is_dir() else []
    return {path.stem: read(path.stem, path.read_text(encoding="utf-8")) for path in files}


def read(name: str, text: str) -> Saved:
    """Read a saved question.

    Raises:
        LenticelError: a line of its head is not written as it should be.
    """
    lines = text.splitlines()
    length = next((place for place, line in enumerate(lines) if not line.startswith("#")), len(lines))
    head = [line.removeprefix("#").strip() for line in lines[:length]]
    parameters: list[Parameter] = []
    rows, at_least, words, expected = 1, True, [], []
    for line in head[1:]:
        if found := _PARAMETER.fullmatch(line):
            parameters.append(Parameter(found["name"], found["type"], found["default"], found["meaning"]))
        elif found := _ROWS.fullmatch(line):
            rows, at_least = int(found["rows"]), bool(found["least"])
        elif line.startswith("expect row: "):
            expected.append(tuple(cell.strip() for cell in line.removeprefix("expect row: ").split("|")))
        elif line.startswith(("parameter", "expect")):
            raise LenticelError(f"{name}.rq: {line[:60]!r} cannot be read.", "Write it as the other files do.")
        else:
            words.append(line)
    wrong = [each.name for each in parameters if each.type not in TYPES]
    if not head or not words or wrong:
        raise LenticelError(f"{name}.rq lacks a title or a sentence, or a type is unknown.", f"The types are: {', '.join(TYPES)}.")
    return Saved(name, head[0], " ".join(words), tuple(parameters), "\n".join(lines[length:]).strip() + "\n", rows, at_least, tuple(expected))


def question_named(questions: Mapping[str, Saved], name: str) -> Saved:
    """The saved question of a name.

    Raises:
        UnknownTerm: there is none.
    """
    if name in questions:
        return questions[name]
    raise UnknownTerm(f"There is no question {name[:60]!r}.", suggest(name, questions) or "List them with `lenticel ask --list`, or at /v1/questions.")


class Binder:
    """Reads the values of parameters against the words of a knowledge."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.known, self._reader = snapshot.knowledge, Reader(snapshot)

    def text(self, question: Saved, given: Mapping[str, str]) -> str:
        """The query of a question with values for its parameters; those not given have their defaults.

        Raises:
            Refused: `bad-parameter`; a name is not known, or a value does not fit its type.
        """
        strange = [name for name in given if name not in {each.name for each in question.parameters}]
        if strange:
            names = ", ".join(each.name for each in question.parameters) or "none"
            raise Refused("bad-parameter", f"There is no parameter {strange[0][:40]!r}.", f"This question has: {names}.")
        return filled(question.query, {f"${each.name}": self._term(each, given.get(each.name, each.default)) for each in question.parameters})

    def _term(self, parameter: Parameter, value: str) -> str:
        if len(value) > MOST:
            raise Refused("bad-parameter", f"The value of {parameter.name!r} is longer than {MOST} characters.", "Give a shorter one.")
        try:
            return _TERMS[parameter.type](self, value.strip())
        except LenticelError as error:
            raise Refused("bad-parameter", f"{parameter.name}: {error.message}", error.fix) from None

    def _iri(self, table: str, key: str) -> str:
        return iri_text(self.known.about.iri + path_of(table, key))

    def _key(self, value: str, folder: str) -> str:
        """The identifier that a value is, or that it ends in if it is an IRI of ours."""
        return value.removeprefix(f"{self.known.about.iri}{folder}/")

    def _taxon(self, value: str) -> str:
        return self._iri("taxa", taxon_named(self.known, self._key(value, "taxon")))

    def _character(self, value: str) -> str:
        return self._iri("characters", self._reader.character(self._key(value, "character")).id)

    def _state(self, value: str) -> str:
        character, _, state = self._key(value, "state").replace("/", ".").partition(".")
        found = self._reader.character(character)
        root = self.known.broadest(found.id)
        return self._iri("states", f"{root}.{self._reader.state(found, state)}")

    def _source(self, value: str) -> str:
        key = self._key(value, "source")
        if key not in self.known.sources:
            raise Refused("bad-parameter", f"There is no source {key[:60]!r}.", suggest(key, self.known.sources) or "List them at /v1/sources.")
        return self._iri("sources", key)

    def _season(self, value: str) -> str:
        return literal_text(_one_of(value, SEASONS))

    def _month(self, value: str) -> str:
        return literal_text(_one_of(value, [str(month) for month in range(1, 13)]), XSD + "integer")

    def _number(self, value: str) -> str:
        if not _NUMBER.fullmatch(value):
            raise Refused("bad-parameter", f"{value[:40]!r} is no number.", "Write it as 12 or 7.5.")
        return literal_text(value, XSD + ("decimal" if "." in value else "integer"))

    def _words(self, value: str) -> str:
        return literal_text(value)


_TERMS = {
    "taxon": Binder._taxon,
    "character": Binder._character,
    "state": Binder._state,
    "source": Binder._source,
    "season": Binder._season,
    "month": Binder._month,
    "number": Binder._number,
    "text": Binder._words,
}


def _one_of(value: str, words: Iterable[str]) -> str:
    known = list(words)
    if value.lower() not in known:
        raise Refused("bad-parameter", f"{value[:40]!r} does not fit.", f"Use one of: {', '.join(known)}.")
    return value.lower()
