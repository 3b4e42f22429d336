"""Which knowledge a command reads; it is one rule for all of them, and each says on the error stream what it read.

What `--knowledge` names; else `ontology/` in the folder where one is, if it holds tables; else what Lenticel came with.
"""

from __future__ import annotations

import sys
from pathlib import Path

from lenticel import load
from lenticel.errors import BadFile
from lenticel.places import embedded_tables, ontology_folder
from lenticel.schema import TABLES
from lenticel.snapshot import Snapshot
from lenticel.tables import table_files

HERE = Path("ontology")
RULE = "ontology/ in this folder if it holds tables, else what Lenticel came with"


def tables_meant(named: str | None) -> Path:
    """The folder of tables that a curator's command works on."""
    folder = _named(named) if named else HERE if _has_tables(HERE) else None
    _say(folder)
    return folder or ontology_folder()


def folder_meant(named: str | None) -> Path | None:
    """The folder that a question is asked of: of tables, or of a snapshot; None for the compiled knowledge that Lenticel came with.

    Tables in this folder that are the same as those which were compiled are not compiled again.
    """
    folder = _named(named) if named else HERE if _has_tables(HERE) else None
    _say(folder)
    return None if folder == HERE and not named and _contents(HERE) == _contents(embedded_tables()) else folder


def knowledge_meant(named: str | None) -> Snapshot:
    """The knowledge that a question is asked of."""
    return load(folder_meant(named))


def knowledge_read(named: str | None) -> Snapshot:
    """The knowledge that somebody reads in; of tables with faults what is sound, and the error stream says what is left out."""
    folder = folder_meant(named)
    if folder is None or (folder / "manifest.json").is_file():
        return load(folder)
    from lenticel.sound import sound_part  # the build side is needed only here

    found = sound_part(folder)
    if found.left_out:
        print(found, file=sys.stderr)
    return found.snapshot


def _named(folder: str) -> Path:
    if not Path(folder).is_dir():
        raise BadFile(f"There is no folder {folder!r}.", "Name one that holds tables or a snapshot, or leave --knowledge out.")
    return Path(folder)


def _has_tables(folder: Path) -> bool:
    return (folder / "about.csv").is_file()


def _contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for name in TABLES for path in table_files(folder, name)}


def _say(folder: Path | None) -> None:
    print(f"Knowledge: {folder.as_posix().rstrip('/')}/" if folder else "Knowledge: what Lenticel came with", file=sys.stderr)
