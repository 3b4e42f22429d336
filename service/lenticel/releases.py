"""Releases on disk: each a folder named by the hash of its manifest, written whole, and a pointer to the one in force.

    releases/current            the name of the release in force
    releases/1f0c.../           manifest.json, and the files that it lists with size and SHA-256

A reader sees the old release or the new one, never half of one: a folder gets its name only when all of it is on disk,
and the pointer is replaced by renaming.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from lenticel.errors import BadRelease
from lenticel.version import __version__

POINTER = "current"
MANIFEST = "manifest.json"
FORMAT = 1
NAME = re.compile(r"[0-9a-f]{32}")
_BUILD = "Publish it anew with `lenticel publish`."


@dataclass(frozen=True, slots=True)
class Release:
    """A release that was checked: its folder, and what its manifest says of the knowledge."""

    folder: Path
    digest: str
    version: str
    issued: str

    @property
    def id(self) -> str:
        """The hash that names it."""
        return self.folder.name

    @property
    def snapshot_folder(self) -> Path:
        """Where its snapshot lies."""
        return self.folder / "snapshot"


@dataclass(frozen=True, slots=True)
class Held:
    """A file of a release: its path in the folder, its size, and its SHA-256."""

    path: str
    bytes: int
    sha256: str


def publish(root: Path, write: Callable[[Path], dict[str, str]]) -> Release:
    """Write a release and point to it.

    Args:
        root: the folder of releases; it is made if need be.
        write: puts all files into the folder that it is given, and says the `digest`, `version` and `issued` of the knowledge.

    Raises:
        BadRelease: it cannot be written, for want of room or rights; what was in force stays so.
    """
    beside = root / f".{os.getpid()}.part"
    try:
        root.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(beside, ignore_errors=True)
        beside.mkdir()
        manifest = {"format": FORMAT, "lenticel": __version__, **write(beside), "files": _files(beside)}
        text = (json.dumps(manifest, indent=1, sort_keys=True) + "\n").encode()
        (beside / MANIFEST).write_bytes(text)
        _settle(beside)
        folder = root / hashlib.sha256(text).hexdigest()[:32]
        if not folder.exists():
            beside.rename(folder)
            _sync(root)
        point(root, folder.name)
    except OSError as error:
        raise BadRelease(f"The release cannot be written: {error.strerror}.", "Make room, or give another folder; what was in force stays so.") from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return opened(folder)


def point(root: Path, name: str) -> None:
    """Put a release in force, in one step."""
    beside = root / f".{POINTER}.{os.getpid()}"
    beside.write_text(name + "\n", encoding="ascii")
    _sync(beside)
    os.replace(beside, root / POINTER)
    _sync(root)


def in_force(root: Path) -> Release:
    """The release that the pointer names, checked.

    Raises:
        BadRelease: there is no pointer, or what it names is damaged.
    """
    try:
        name = (root / POINTER).read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        raise BadRelease("There is no release in force here.", _BUILD) from None
    if not NAME.fullmatch(name):
        raise BadRelease("The pointer names no release.", _BUILD)
    return opened(root / name)


def kept(root: Path) -> list[str]:
    """The names of all whole releases, by name; what was never finished does not count."""
    return sorted(each.name for each in root.iterdir() if NAME.fullmatch(each.name) and (each / MANIFEST).is_file())


def described(root: Path) -> list[Release]:
    """All whole releases as their manifests say, the newest first; no file of them is looked at yet."""
    found = [_described(root / name) for name in kept(root)]
    return sorted((each for each in found if each), key=lambda each: (each.issued, each.version, each.id), reverse=True)


def _described(folder: Path) -> Release | None:
    """A release as its manifest says; None if it cannot be read, or was altered."""
    try:
        text = (folder / MANIFEST).read_bytes()
        manifest = json.loads(text) if hashlib.sha256(text).hexdigest()[:32] == folder.name else {}
        return Release(folder, manifest["digest"], manifest["version"], manifest["issued"])
    except (OSError, ValueError, KeyError):
        return None


def opened(folder: Path) -> Release:
    """A release, every file of it held against its manifest, and the manifest against the folder's name.

    Raises:
        BadRelease: a file is missing, cut, altered or cannot be read.
    """
    try:
        text = (folder / MANIFEST).read_bytes()
        if hashlib.sha256(text).hexdigest()[:32] != folder.name:
            raise BadRelease("The manifest of the release was altered.", _BUILD)
        manifest = json.loads(text)
        if manifest["format"] != FORMAT:
            raise BadRelease(f"The release has format {manifest['format']}, this version reads {FORMAT}.", _BUILD)
        found = _files(folder)
        found.pop(MANIFEST, None)
    except OSError as error:
        raise BadRelease(f"The release cannot be read: {error.strerror}.", _BUILD) from None
    wrong = sorted(name for name in manifest["files"].keys() | found.keys() if manifest["files"].get(name) != found.get(name))
    if wrong:
        raise BadRelease(f"Files of the release are missing or altered: {', '.join(wrong[:5])}.", _BUILD)
    return Release(folder, manifest["digest"], manifest["version"], manifest["issued"])


def held(folder: Path) -> Iterator[Held]:
    """Every file below a folder, in the order of paths."""
    for path in sorted(each for each in folder.rglob("*") if each.is_file()):
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        yield Held(path.relative_to(folder).as_posix(), path.stat().st_size, digest)


def _files(folder: Path) -> dict[str, dict[str, object]]:
    return {each.path: {"bytes": each.bytes, "sha256": each.sha256} for each in held(folder)}


def _settle(folder: Path) -> None:
    """Have all files and folders below, and this one, on the disk."""
    for path in (*folder.rglob("*"), folder):
        _sync(path)


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
