"""Versions of a body of knowledge: a folder of tables, or what a git revision had of it."""

from __future__ import annotations

import io
import subprocess
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from lenticel.build import HARMLESS, examined
from lenticel.errors import BadQuestion, FaultyTables
from lenticel.model import Acknowledged
from lenticel.snapshot import Snapshot
from lenticel.tables import Loaded


@dataclass(frozen=True)
class Version:
    """A version: what was read, and its snapshot."""

    loaded: Loaded
    snapshot: Snapshot


def version(word: str, tables: Path, *, older: bool = False) -> Version:
    """The version that a word means.

    Args:
        word: a folder of tables, or a git revision of the repository that holds `tables`.
        tables: the folder of tables now.
        older: whether columns that came later may be missing from it.

    Raises:
        BadQuestion: it is neither.
        FaultyTables: its tables have faults.
    """
    if Path(word).is_dir():
        return opened(Path(word), older=older)
    with _exported(word, tables) as folder:
        return opened(folder, older=older)


def opened(folder: Path, *, older: bool = False) -> Version:
    """The version that a folder holds; `older` as for `version`.

    Raises:
        FaultyTables: its tables have faults.
    """
    faults, loaded, snapshot = examined(folder, older=older)
    faults = [each for each in faults if each.rule not in HARMLESS]  # what nothing uses is told by the report
    if faults or snapshot is None:
        raise FaultyTables(faults)
    return Version(loaded, snapshot)


def added_acknowledgements(old: Loaded, new: Loaded) -> list[Acknowledged]:
    """The rows of `acknowledged` that the newer version has and the older has not."""
    mine, its = (
        {(*sorted((row.cells["one"], row.cells["other"])), row.cells["character"]): row.cells for row in each.rows["acknowledged"]} for each in (old, new)
    )
    return [Acknowledged(**cells) for key, cells in its.items() if key not in mine]


@contextmanager
def _exported(revision: str, tables: Path) -> Iterator[Path]:
    """A folder with the tables as a revision has them."""
    top = Path(_git(tables, "rev-parse", "--show-toplevel", why=f"{tables} is in no git repository.").decode().strip())
    if revision.startswith("-"):
        raise BadQuestion(f"{revision[:60]!r} is neither a folder nor a revision.", "Name a folder of tables, or a commit, branch or tag.")
    commit = (
        _git(top, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}", why=f"{revision[:60]!r} is neither a folder nor a revision.").decode().strip()
    )
    inside = tables.resolve().relative_to(top.resolve()).as_posix()
    archive = _git(top, "archive", "--format=tar", commit, "--", inside, why=f"The revision {revision[:60]!r} has no folder {inside!r}.")
    with TemporaryDirectory() as folder:
        with tarfile.open(fileobj=io.BytesIO(archive)) as members:
            if hasattr(tarfile, "data_filter"):  # from Python 3.11.4 on; what git packs holds nothing that it would refuse
                members.extraction_filter = tarfile.data_filter
            members.extractall(folder)
        yield Path(folder) / inside


def _git(folder: Path, *words: str, why: str) -> bytes:
    try:
        return subprocess.run(["git", "-C", str(folder), *words], capture_output=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        raise BadQuestion(why, "Name a folder of tables, or a commit, branch or tag of the repository that holds the tables.") from None
