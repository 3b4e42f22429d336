"""The finished pieces of a long work, in a folder beside its result, so that a work that was cut off is taken up where it stopped.

    answers.csv.parts/work.json      what the work is
    answers.csv.parts/000007         a finished piece
    answers.csv.parts/000007.json    its size, and what is to be said of it

A piece counts once its second file has its name; both get theirs only when all of them is on the disk.
"""

from __future__ import annotations

import fcntl
import json
import os
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Self

from lenticel.errors import BadFile

WORK = "work.json"


class Journal:
    """The journal of one work, which nobody else works on meanwhile."""

    def __init__(self, folder: Path, work: Mapping[str, Any]) -> None:
        """Begin a journal, or take up the one that is there.

        Args:
            folder: where it lies; it is made if need be.
            work: what sets this work apart from any other, as JSON has it.

        Raises:
            BadFile: the folder cannot be written, is in use, or belongs to another work.
        """
        self.folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._lock = (folder / "lock").open("w")
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise BadFile(f"Another run is at work in {folder.name!r}.", "Wait for it to end.") from None
        except OSError as error:
            raise BadFile(f"The folder {folder.name!r} cannot be written: {error.strerror}.", "Give another --out.") from None
        self._hold(dict(work))

    def _hold(self, work: dict[str, Any]) -> None:
        """Hold the work against the one that the folder was begun for."""
        if not (self.folder / WORK).exists():
            written(self.folder / WORK, json.dumps(work).encode())
        begun = json.loads((self.folder / WORK).read_bytes())
        if differs := [name for name in (*work, *begun) if work.get(name) != begun.get(name)]:
            told = ", ".join(dict.fromkeys(differs))
            raise BadFile(f"The folder {self.folder.name!r} was begun with another {told}.", "Delete it to begin anew, or give another --out.")

    def piece(self, number: int) -> Path:
        """Where a piece lies, once it is finished."""
        return self.folder / f"{number:06}"

    def note(self, number: int) -> dict[str, Any] | None:
        """What is to be said of a finished piece; None if it is not finished."""
        try:
            note: dict[str, Any] = json.loads(self.piece(number).with_suffix(".json").read_bytes())
            return note if note.pop("bytes") == self.piece(number).stat().st_size else None
        except FileNotFoundError:
            return None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._lock.close()

    def remove(self) -> None:
        """Remove all, now that the result is there."""
        shutil.rmtree(self.folder)


def keep(piece: Path, content: bytes, note: Mapping[str, Any]) -> None:
    """Put a finished piece into the journal, from any process.

    Args:
        piece: its place, as `Journal.piece` has it.
        content: the piece.
        note: what is to be said of it, as JSON has it.
    """
    written(piece, content)
    written(piece.with_suffix(".json"), json.dumps({**note, "bytes": len(content)}).encode())


def written(path: Path, content: bytes) -> None:
    """Write a file whole or not at all."""
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    with beside.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, path)
