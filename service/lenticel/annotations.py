"""Faults in the forms that forges show beside the line: commands of a workflow's log, and SARIF."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from lenticel.errors import Fault
from lenticel.mend import mended
from lenticel.rules import RULES
from lenticel.schema import TABLES
from lenticel.sheets import places
from lenticel.version import __version__

Span = tuple[int, int, int, int]  # first line and column, last line and the column after it, from 1


class Places:
    """Where the faults of a folder of tables lie in the text of its files."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._rows: dict[str, list[list[tuple[int, int]]]] = {}

    def span(self, fault: Fault) -> Span:
        """The cell that a fault means; the beginning of its row if it means the row; the beginning of the file if that cannot be found."""
        row = next(iter(self._file(fault.file)[fault.row - 1 : fault.row]), [(1, 1)])
        named = [column.name for column in TABLES[Path(fault.file).parts[0].removesuffix(".csv")].columns]
        place = named.index(fault.column) if fault.column in named else len(row)
        if place + 1 >= len(row):
            return (*row[0], *row[0])
        line, column = row[place + 1]
        return (*row[place], line, column - 1)

    def _file(self, file: str) -> list[list[tuple[int, int]]]:
        if file not in self._rows:
            path = self.folder / file
            self._rows[file] = list(places(path.read_bytes().decode("utf-8-sig", errors="replace"))) if path.is_file() else []
        return self._rows[file]


def workflow_commands(folder: Path, faults: Iterable[Fault]) -> Iterator[str]:
    """The faults as commands that a workflow's log turns into annotations: `::error file=...,line=...,col=...,title=...::message`.

    Percent signs and line ends are escaped, and in the properties colons and commas too: so GitHub's runner takes them back
    (actions/runner, src/Runner.Common/ActionCommand.cs).
    """
    where = Places(folder)
    for fault in faults:
        line, column, last, end = where.span(fault)
        width = f",endColumn={end}" if last == line and end > column else ""
        yield (f"::error file={_property(_shown(folder / fault.file))},line={line},col={column}{width},title={_property(fault.rule)}::{_escaped(_told(fault))}")


def _shown(path: Path) -> str:
    """The path as a forge knows it: from the folder that the check is run in, which is the repository's own."""
    return path.resolve().relative_to(Path.cwd()).as_posix() if path.resolve().is_relative_to(Path.cwd()) else path.as_posix()


def _told(fault: Fault) -> str:
    return f"{fault.column}: {fault.message} Fix: {fault.fix}".removeprefix(": ")


def _escaped(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _escaped(text).replace(":", "%3A").replace(",", "%2C")


def sarif(folder: Path, faults: Iterable[Fault]) -> str:
    """The faults as a log of the Static Analysis Results Interchange Format (OASIS SARIF 2.1.0), with the cell to write where that is mechanical.

    The clauses: 3.14 run, 3.27 result, 3.30 region (columns from 1, the end column is the one after), 3.49 reporting descriptor, 3.55 fix.
    """
    where = Places(folder)
    cells = {(mend.file, mend.row, mend.column): mend.now for _, mends in mended(folder) for mend in mends if mend.column}
    found = [_result(folder, fault, where.span(fault), cells.get((fault.file, fault.row, fault.column))) for fault in faults]
    rules = [{"id": rule, "shortDescription": {"text": text}} for rule, text in RULES.items()]
    driver = {"name": "lenticel check", "semanticVersion": __version__, "rules": rules}
    run = {"tool": {"driver": driver}, "columnKind": "unicodeCodePoints", "results": found}
    return json.dumps({"$schema": "https://json.schemastore.org/sarif-2.1.0.json", "version": "2.1.0", "runs": [run]}, ensure_ascii=False, indent=1)


def _result(folder: Path, fault: Fault, span: Span, cell: str | None) -> dict[str, Any]:
    artifact = {"uri": _shown(folder / fault.file)}
    region = dict(zip(("startLine", "startColumn", "endLine", "endColumn"), span, strict=True))
    result: dict[str, Any] = {
        "ruleId": fault.rule,
        "level": "error",
        "message": {"text": _told(fault)},
        "locations": [{"physicalLocation": {"artifactLocation": artifact, "region": region}}],
    }
    if cell is not None:
        quoted = f'"{cell.replace(chr(34), chr(34) * 2)}"' if any(sign in cell for sign in ',"\r\n') else cell
        replacement = {"deletedRegion": region, "insertedContent": {"text": quoted}}
        change = {"artifactLocation": artifact, "replacements": [replacement]}
        result["fixes"] = [{"description": {"text": f"Write {cell!r}."}, "artifactChanges": [change]}]
    return result
