"""The bundle of a release: everything that a version is made of in one folder and one archive, the same bytes from the same tables.

lenticel-trees-2026-11-25/          what `build` writes, and besides
    tables/                         every table as one CSV file, and csv-metadata.json
    NOTES.md  CITATION.cff  LICENSE
    SHA256SUMS                      of all of these, in the form that `sha256sum --check` reads
lenticel-trees-2026-11-25.tar.gz    the folder
"""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import os
import shutil
import tarfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from lenticel.build import identifiers, write_release
from lenticel.change import Change, change
from lenticel.credit import CITATION, LICENCE, citation, licence
from lenticel.errors import BadRelease, LenticelError
from lenticel.model import About
from lenticel.releases import held
from lenticel.retired import retired_in
from lenticel.review import reviews
from lenticel.schema import TABLES
from lenticel.sheets import csv_bytes
from lenticel.tables import Loaded
from lenticel.tabular import FILE, table_metadata
from lenticel.text.notes import notes_markdown
from lenticel.versions import Version, added_acknowledgements, opened, version

SUMS = "SHA256SUMS"
LEVEL = 9


@dataclass(frozen=True, slots=True)
class Bundle:
    """A bundle on disk: its folder, its archive, and the archive's SHA-256."""

    folder: Path
    archive: Path
    sha256: str


def write_bundle(tables: Path, out: Path, since: str = "") -> Bundle:
    """Write the bundle of the version that a folder of tables holds.

    Args:
        tables: the folder.
        out: where the folder and the archive of the bundle go.
        since: the version before, as a folder of tables or a git revision; without it the revision (a tag, as a rule) that is named as
            `prior` in about.csv is.

    Raises:
        FaultyTables: the tables have faults, or those of the version before.
        BadRelease: it does not follow the version before, drops an identifier of it without a successor, takes a separator from a pair
            that can hurt, or is already there with other content. Nothing is written then.
    """
    new = opened(tables)
    about = new.snapshot.knowledge.about
    old = _before(about, tables, since)
    retired = retired_in(tables)
    found = _sound_change(old, new, retired) if old else None
    name = f"{about.id}-{about.version}"
    try:
        out.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(dir=out, prefix=".") as room:
            folder = Path(room) / name
            write_release(tables, folder)
            _write_words(folder, new)
            notes = notes_markdown(new.snapshot.knowledge, reviews(new.snapshot), old.snapshot.knowledge if old else None, found, retired)
            (folder / "NOTES.md").write_text(notes, encoding="utf-8")
            (folder / SUMS).write_text("".join(f"{each.sha256}  {each.path}\n" for each in held(folder)), encoding="utf-8")
            return _put(folder, out, _archive(folder, about.issued))
    except OSError as error:
        raise BadRelease(f"The release cannot be written: {error.strerror}.", "Make room, or give another folder.") from None


def _before(about: About, tables: Path, since: str) -> Version | None:
    """The version before, None for the first one."""
    if not since and not about.prior:
        return None
    if not about.prior:
        raise BadRelease("about.csv names no version before this one.", "Write in its column `prior` the version that this one follows.")
    if about.prior >= about.version:
        raise BadRelease(f"Version {about.version} cannot follow version {about.prior}.", "Mend `version` and `prior` in about.csv.")
    try:
        old = version(since or about.prior, tables, older=True)
    except LenticelError as error:
        if since:
            raise
        raise BadRelease(
            f"The version before, {about.prior}, cannot be had: {error.message}", "Name its folder of tables or its revision with `--since`."
        ) from None
    if old.snapshot.knowledge.about.version != about.prior:
        named = old.snapshot.knowledge.about.version
        raise BadRelease(f"about.csv says that this follows version {about.prior}, but what was given is {named}.", "Mend `prior`, or give another `--since`.")
    return old


def _sound_change(old: Version, new: Version, retired: dict[str, str]) -> Change:
    """What changed since the version before, if nothing in it forbids a release."""
    gone = sorted(set(identifiers(old.snapshot.knowledge)) - set(identifiers(new.snapshot.knowledge)) - retired.keys())
    if gone:
        more = f" and {len(gone) - 5} more" if len(gone) > 5 else ""
        raise BadRelease(
            f"{len(gone)} identifiers of the version before are gone: {', '.join(gone[:5])}{more}.",
            "Bring them back, or name the successor of each in released.csv.",
        )
    found = change(old.snapshot, new.snapshot, added_acknowledgements(old.loaded, new.loaded))
    if not found.sound:
        lost = sum(not each.acknowledged for each in found.lost)
        raise BadRelease(
            f"Since the version before, pairs of which a mix-up can hurt lost {lost} separators that nobody accepted, "
            f"and {len(found.stale)} rows of acknowledged.csv accept what was not lost.",
            "See `lenticel changes` against that version; mend the tables, or acknowledge the loss with its reason.",
        )
    return found


def _write_words(folder: Path, new: Version) -> None:
    """Everything beside the ontology that does not depend on the version before."""
    about = new.snapshot.knowledge.about
    (folder / "tables").mkdir()
    for name, content in _table_files(new.loaded).items():
        (folder / "tables" / name).write_bytes(content)
    described = json.dumps(table_metadata(about), indent=1, ensure_ascii=False) + "\n"
    (folder / "tables" / FILE).write_text(described, encoding="utf-8")
    (folder / CITATION).write_text(citation(about), encoding="utf-8")
    (folder / LICENCE).write_text(licence(about), encoding="utf-8")


def _table_files(loaded: Loaded) -> dict[str, bytes]:
    """Every table as one file, in the order in which its rows were read; one without rows has its header."""
    headers = {name: [column.name for column in table.columns] for name, table in TABLES.items()}
    return {f"{name}.csv": csv_bytes([header, *([row.cells[each] for each in header] for row in loaded.rows[name])]) for name, header in headers.items()}


def _archive(folder: Path, issued: str) -> bytes:
    """The folder as a gzipped tar file in which the order, times, owners and rights say nothing of where it was made."""
    moment = int(datetime.fromisoformat(issued).replace(tzinfo=UTC).timestamp())
    raw = io.BytesIO()
    with gzip.GzipFile("", "wb", LEVEL, raw, mtime=0) as packed, tarfile.open(fileobj=packed, mode="w", format=tarfile.PAX_FORMAT) as archive:
        for each in held(folder):
            member = tarfile.TarInfo(f"{folder.name}/{each.path}")
            member.size, member.mtime, member.mode = each.bytes, moment, 0o644
            with (folder / each.path).open("rb") as file:
                archive.addfile(member, file)
    return raw.getvalue()


def _put(folder: Path, out: Path, archive: bytes) -> Bundle:
    """Put folder and archive in place, unless the same version is there with other content: what was released stays as it was."""
    place, packed = out / folder.name, out / f"{folder.name}.tar.gz"
    if place.exists() and not _same(place, folder):
        raise BadRelease(f"{place.name} is there already, with other content.", "Set a new `version` in about.csv, or move the old bundle away.")
    shutil.rmtree(place, ignore_errors=True)
    folder.rename(place)
    beside = packed.with_name(f".{packed.name}.part")
    beside.write_bytes(archive)
    os.replace(beside, packed)
    return Bundle(place, packed, hashlib.sha256(archive).hexdigest())


def _same(one: Path, other: Path) -> bool:
    return (one / SUMS).is_file() and (one / SUMS).read_bytes() == (other / SUMS).read_bytes()
