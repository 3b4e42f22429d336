"""Planting a change in a copy of the workshop tables."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

Edit = tuple[str, str, str]  # table, old text, new text ("" for old: append the new one as a row)


@dataclass(frozen=True)
class Planted:
    """A change, and all that the report must say of it; `before` are edits that both versions have."""

    name: str
    edits: tuple[Edit, ...]
    due: tuple[str, ...]
    before: tuple[Edit, ...] = ()


def copied(tables: Path, folder: Path, edits: tuple[Edit, ...]) -> Path:
    """A copy of a folder of tables with some edits."""
    shutil.copytree(tables, folder)
    for table, old, new in edits:
        path = folder / f"{table}.csv"
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        assert old in text, (table, old)
        path.write_text(text.replace(old, new, 1) if old else f"{text}{new}\n", encoding="utf-8")
    return folder
