"""Lenticel: sourced trait knowledge of organisms that can be asked what a plant is, why, and on whose word.

import lenticel
trees = lenticel.load()
print(lenticel.identify(trees, lenticel.observe(trees, {"leaf-arrangement": "opposite", "petiole-sap": "milky"})).consistent)
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from lenticel.account import Account, account
from lenticel.claims import Claims, claims
from lenticel.compare import Comparison, compare
from lenticel.doubt import Doubts, doubt
from lenticel.errors import BadSnapshot, LenticelError
from lenticel.following import Following, following
from lenticel.identify import Answer, Context, identify
from lenticel.justify import Why, why_apart, why_out
from lenticel.keys import Key, key
from lenticel.lesson import Lesson, lesson
from lenticel.observation import Observation, Reader, read_observations
from lenticel.places import snapshot_folder
from lenticel.practice import Practice, practice
from lenticel.sight import Sight
from lenticel.snapshot import Snapshot
from lenticel.version import __version__

__all__ = [
    "Account",
    "Answer",
    "Claims",
    "Comparison",
    "Context",
    "Doubts",
    "Following",
    "Key",
    "LenticelError",
    "Lesson",
    "Observation",
    "Practice",
    "Sight",
    "Snapshot",
    "Why",
    "__version__",
    "account",
    "claims",
    "compare",
    "doubt",
    "following",
    "identify",
    "key",
    "lesson",
    "load",
    "observe",
    "practice",
    "why_apart",
    "why_out",
]


def load(folder: str | Path | None = None) -> Snapshot:
    """Open knowledge.

    Args:
        folder: a snapshot (with `manifest.json`) or a folder of tables, which is checked and compiled first;
            None for the knowledge that Lenticel comes with.

    Raises:
        BadSnapshot: there is no snapshot, or it is damaged.
        FaultyTables: the tables have faults; the error lists all of them.
    """
    from lenticel.store import load as open_snapshot

    path = snapshot_folder() if folder is None else Path(folder)
    if folder is None and not path.is_dir():
        raise BadSnapshot(
            "This copy of Lenticel was not installed, so that it has no knowledge compiled.", "Run `pip install .` in its folder, or name one of tables."
        )
    if folder is None or (path / "manifest.json").is_file():
        return open_snapshot(path)
    from lenticel.build import snapshot_of  # the build side is needed only here

    return snapshot_of(path)


def observe(snapshot: Snapshot, seen: Mapping[str, str]) -> list[Observation]:
    """Read observations, character by character, in their text form."""
    return read_observations(Reader(snapshot), list(seen.items()))
