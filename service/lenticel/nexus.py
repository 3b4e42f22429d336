"""NEXUS character matrices: taxa against the characters that have states.

The form: Maddison, Swofford & Maddison 1997, "NEXUS: an extensible file format for systematic information", Systematic Biology 46(4),
590-621: blocks, quoted words and comments (general rules); DIMENSIONS, FORMAT, CHARSTATELABELS and MATRIX (CHARACTERS block);
`(01)` for a taxon that shows several states, `{01}` for one of which it is not known which, `?` missing, the gap symbol `-` not applicable.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from lenticel.errors import BadFile
from lenticel.formats import NotHeld, StatementReader, rows_not_held
from lenticel.model import Knowledge, Statement
from lenticel.snapshot import Snapshot

SYMBOLS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_UNSAID = ("frequency", "exhaustive", "source", "locator", "printed", "note")
_TOKEN = re.compile(r"'(?:[^']|'')*'|\[[^\]]*\]|[^\s\[\]()\{\}/\\,;:=*'\"`+<>-]+|[^\s]")


def nexus(snapshot: Snapshot, inapplicable: Iterable[tuple[str, str]]) -> tuple[str, list[NotHeld]]:
    """The matrix of what is stated of each taxon itself, as a file, and what it cannot hold.

    Args:
        snapshot: the knowledge.
        inapplicable: the pairs of taxon and character of which the one cannot show the other.
    """
    known = snapshot.knowledge
    cells = _held(known)
    taxa = list(dict.fromkeys(taxon for taxon, _ in cells))
    characters = [key for key in known.characters if any(character == key for _, character in cells)]
    symbols = {key: {each.id: sign for each, sign in zip(known.states_of(key), SYMBOLS, strict=False)} for key in characters}
    never = set(inapplicable)
    rows = [f"    {_quoted(taxon)} {''.join(_cell(cells, symbols, never, taxon, key) for key in characters)}" for taxon in taxa]
    labels = [f"    {number} {_quoted(key)} / {' '.join(_quoted(each.id) for each in known.states_of(key))}" for number, key in enumerate(characters, start=1)]
    most = max((len(each) for each in symbols.values()), default=0)
    text = "\n".join(
        [
            "#NEXUS",
            "",
            "BEGIN TAXA;",
            f"  DIMENSIONS NTAX={len(taxa)};",
            f"  TAXLABELS {' '.join(map(_quoted, taxa))};",
            "END;",
            "",
            "BEGIN CHARACTERS;",
            f"  DIMENSIONS NCHAR={len(characters)};",
            f'  FORMAT DATATYPE=STANDARD MISSING=? GAP=- SYMBOLS="{SYMBOLS[:most]}";',
            "  CHARSTATELABELS",
            ",\n".join(labels) + ";",
            "  MATRIX",
            *rows,
            "  ;",
            "END;",
            "",
        ]
    )
    return text, [*_left_out(known, cells), *rows_not_held(known)]


def _held(known: Knowledge) -> dict[tuple[str, str], set[str]]:
    """By taxon and character, the states that its statements allow."""
    cells: dict[tuple[str, str], set[str]] = {}
    for each in known.statements.values():
        if _why_not(known, each) == "":
            cells.setdefault((each.taxon, each.character), set()).update(each.states)
    return cells


def _why_not(known: Knowledge, statement: Statement) -> str:
    if known.characters[statement.character].kind != "states":
        return "a matrix of states holds no figures"
    if statement.frequency == "never":
        return "a matrix says what is shown, not what is denied"
    return "" if len(known.states_of(statement.character)) <= len(SYMBOLS) else f"a matrix has {len(SYMBOLS)} symbols"


def _left_out(known: Knowledge, cells: dict[tuple[str, str], set[str]]) -> Iterator[NotHeld]:
    for key, each in known.statements.items():
        reason = _why_not(known, each)
        if reason:
            yield NotHeld("statements", key, "", reason)
            continue
        yield NotHeld("statements", key, "source and place", "a matrix names no sources")
        for part in ("frequency", "exhaustive", "printed", "note"):
            if getattr(each, part) not in ("", None):
                yield NotHeld("statements", key, part, "a matrix has no room for it")
        if set(each.states) != cells[each.taxon, each.character]:
            yield NotHeld("statements", key, "who says which", "the statements of one cell are joined")


def _cell(cells: dict[tuple[str, str], set[str]], symbols: dict[str, dict[str, str]], never: set[tuple[str, str]], taxon: str, character: str) -> str:
    found = sorted(symbols[character][state] for state in cells.get((taxon, character), ()))
    if not found:
        return "-" if (taxon, character) in never else "?"
    return found[0] if len(found) == 1 else f"({''.join(found)})"


def _quoted(word: str) -> str:
    return word if re.fullmatch(r"[A-Za-z0-9.]*[A-Za-z][A-Za-z0-9.]*", word) else "'" + word.replace("'", "''") + "'"


class Matrix:
    """A NEXUS file of standard characters, read.

    Raises:
        BadFile: it is none, or says something of which this reader does not know what it means.
    """

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        if not text.lstrip().upper().startswith("#NEXUS"):
            raise BadFile(f"{file!r} does not begin with #NEXUS.", "Export the matrix as NEXUS again.")
        self.commands = list(_commands(text))
        self.missing, self.gap, self.symbols = "?", "-", SYMBOLS[:2]
        for command in self._named("FORMAT"):
            self._format(command)
        self.labels = self._state_labels()
        self.rows = self._matrix()

    def _named(self, *names: str) -> Iterator[list[str]]:
        return (command for command in self.commands if command[0].upper() in names)

    def _format(self, command: list[str]) -> None:
        words = " ".join(command)
        for odd in ("INTERLEAVE", "TRANSPOSE", "TOKENS", "EQUATE", "MATCHCHAR", "RESPECTCASE"):
            if re.search(rf"\b{odd}\b", words, re.IGNORECASE):
                raise BadFile(f"{self.file!r} uses {odd}, which is not read here.", "Write the matrix without it.")
        kind = re.search(r"DATATYPE = (\w+)", words, re.IGNORECASE)
        if kind and kind[1].upper() != "STANDARD":
            raise BadFile(f"{self.file!r} holds {kind[1]} data.", "Give a matrix of DATATYPE=STANDARD.")
        for name, sign in re.findall(r"(MISSING|GAP) = (\S)", words, re.IGNORECASE):
            setattr(self, name.lower(), sign)
        listed = re.search(r'SYMBOLS = " ([^"]*) "', words, re.IGNORECASE)
        if listed:
            self.symbols = listed[1].replace(" ", "")

    def _state_labels(self) -> list[tuple[str, list[str]]]:
        """Each character with its states, in the order of the symbols."""
        found: list[tuple[str, list[str]]] = []
        for command in self._named("CHARSTATELABELS"):
            for part in _split(command[1:], ","):
                name, states = (part[1:], []) if "/" not in part else (part[1 : part.index("/")], part[part.index("/") + 1 :])
                found.append((_plain(name[0]) if name else "", [_plain(each) for each in states]))
        if not found:
            raise BadFile(f"{self.file!r} does not name its characters and states.", "Add CHARSTATELABELS.")
        return found

    def _matrix(self) -> dict[str, list[str]]:
        command = next(self._named("MATRIX"), None)
        if command is None:
            raise BadFile(f"{self.file!r} has no MATRIX.", "Export the matrix again.")
        words = command[1:]
        rows: dict[str, list[str]] = {}
        while words:
            taxon = _plain(words.pop(0))
            cells: list[str] = []
            while words and len(cells) < len(self.labels):
                cells += self._cells(words)
            if len(cells) != len(self.labels):
                raise BadFile(f"{taxon!r} has {len(cells)} characters, {len(self.labels)} are named.", "Let the two agree.")
            rows[taxon] = cells
        return rows

    def _cells(self, words: list[str]) -> list[str]:
        """The next cells: one in brackets, or each sign of a word."""
        word = words.pop(0)
        if word not in "({":
            return list(word)
        inside = []
        while words and words[0] not in ")}":
            inside.append(words.pop(0))
        if not words:
            raise BadFile(f"{self.file!r} has a bracket that is not closed.", "Close it.")
        words.pop(0)
        return ["".join(inside)]

    def into(self, reader: StatementReader) -> dict[str, Statement]:
        """The matrix as statements; a taxon is counted by its place in the matrix where a fault is named."""
        characters = [reader.character(name, 0, name) for name, _ in self.labels]
        for number, (label, cells) in enumerate(self.rows.items(), start=1):
            taxon = reader.taxon(label.replace("_", " ") if label not in reader.knowledge.taxa else label, number, "taxon")
            for character, (name, states), cell in zip(characters, self.labels, cells, strict=True):
                if not taxon or not character or cell in (self.missing, self.gap):
                    continue
                shown = [self._state(reader, number, name, character, states, sign) for sign in cell if sign not in (self.missing, self.gap)]
                if all(shown):
                    value = "|".join(map(str, shown))
                    reader.add(taxon, character, number, name, value=value, **dict.fromkeys(_UNSAID, ""))
        return reader.found

    def _state(self, reader: StatementReader, number: int, name: str, character: str, states: list[str], sign: str) -> str | None:
        place = self.symbols.upper().find(sign.upper())
        word = states[place].replace("_", " ") if 0 <= place < len(states) else sign
        known = {text.casefold(): each.id for each in reader.knowledge.states_of(character) for text in (each.label, each.id)}
        if word.casefold() not in known:
            listed = ", ".join(sorted(set(known.values())))[:200]
            reader.fault(number, name, "unknown-state", f"{word[:60]!r} is no state of {character!r}.", f"Use one of: {listed}.")
        return known.get(word.casefold())


def _commands(text: str) -> Iterator[list[str]]:
    """The commands of a file, each a list of its words, without `#NEXUS`."""
    words = [word for word in _TOKEN.findall(text.lstrip()[len("#NEXUS") :]) if not word.startswith("[") or word == "["]
    return (command for command in _split(words, ";") if command)


def _split(words: list[str], mark: str) -> Iterator[list[str]]:
    part: list[str] = []
    for word in words:
        if word == mark:
            yield part
            part = []
        else:
            part.append(word)
    if part:
        yield part


def _plain(word: str) -> str:
    return word[1:-1].replace("''", "'") if word.startswith("'") else word
