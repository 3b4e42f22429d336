"""Taking changed records into a folder of tables: written in a copy, checked there, and put in place only if the check finds nothing."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rdflib import Graph

from lenticel.adoption import Refused, read_edited, refusals
from lenticel.build import HARMLESS, examined
from lenticel.check import table_faults
from lenticel.difference import RowChange
from lenticel.errors import FaultyTables
from lenticel.model import Knowledge
from lenticel.rows import amend, differing
from lenticel.sheets import sheets
from lenticel.tables import Loaded, read


@dataclass(frozen=True, slots=True)
class Taken:
    """What was taken into a folder: the rows that changed, the files written (none where something was refused), and what was refused."""

    changes: tuple[RowChange, ...]
    files: tuple[str, ...]
    refused: tuple[Refused, ...] = ()


def sound(folder: Path) -> Loaded:
    """A folder of tables, read and without fault.

    Raises:
        FaultyTables: it has faults already, so that what a change does to it could not be told.
    """
    loaded = read(folder)
    faults = [each for each in table_faults(loaded) if each.rule not in HARMLESS]
    if faults:
        raise FaultyTables(faults)
    return loaded


class _Copy:
    """A copy of a folder of tables that lives as long as a change is tried out on it."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._room = folder, tempfile.TemporaryDirectory()
        self.folder = Path(self._room.name) / "tables"
        for sheet in sheets(folder):
            copy = self.folder / sheet.label
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(sheet.path, copy)

    def __enter__(self) -> _Copy:
        return self

    def __exit__(self, *error: Any) -> None:
        self._room.cleanup()

    def put(self, files: list[str]) -> None:
        """Put these files in place."""
        for label in files:
            (self._folder / label).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(self.folder / label, self._folder / label)


def take(folder: Path, loaded: Loaded, new: Knowledge) -> Taken:
    """Take changed records into a folder.

    Raises:
        FaultyTables: the tables would have faults, each with the file and row that it would have; nothing is written then.
    """
    changes = differing(loaded.knowledge, new)
    with _Copy(folder) as copy:
        files = amend(copy.folder, loaded, new, changes)
        _checked(copy.folder)
        copy.put(files)
    return Taken(tuple(changes), tuple(files))


def adopt(folder: Path, graph: Graph, *, rest: bool = False) -> Taken:
    """Take an edited ontology back into the tables that it was made from.

    Args:
        folder: the tables.
        graph: the ontology as it was edited.
        rest: whether to write the rows although something was refused.

    Raises:
        FaultyTables: the tables have faults, or would have.
        OutsideFragment: the ontology's records cannot be read at all.
    """
    loaded = sound(folder)
    edited = read_edited(graph, loaded.knowledge)
    changes = differing(loaded.knowledge, edited.knowledge)
    with _Copy(folder) as copy:
        files = amend(copy.folder, loaded, edited.knowledge, changes)
        files += _succeeded(copy.folder, edited.successors)
        after = sound(copy.folder).knowledge
        refused = tuple(refusals(edited, loaded.knowledge, after))
        _checked(copy.folder)
        if refused and not rest:
            return Taken(tuple(changes), (), refused)
        copy.put(files)
    return Taken(tuple(changes), tuple(files), refused)


def _succeeded(folder: Path, successors: Mapping[str, str]) -> list[str]:
    """Note in the table of released identifiers what took the place of each retired one; the files that this changed."""
    files: list[str] = []
    for sheet in sheets(folder):
        if sheet.table.name != "released":
            continue
        rows = [row for row in sheet.rows if successors.get(row[0], row[2]) != row[2]]
        for row in rows:
            row[2] = successors[row[0]]
        if rows:
            sheet.path.write_bytes(sheet.written())
            files.append(sheet.label)
    return files


def _checked(folder: Path) -> None:
    faults, _, _ = examined(folder)
    if faults:
        raise FaultyTables(faults)
