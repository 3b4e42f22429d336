"""Snapshots on disk: what is loaded is what was saved; what is damaged is refused with what to do."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from lenticel import load
from lenticel.errors import BadSnapshot, FaultyTables
from lenticel.identify import identify
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot, bits_of, indices_of, members_of
from lenticel.store import load as open_snapshot
from lenticel.store import save

SEEN = [("thread", "present"), ("length", "30 mm")]


@pytest.fixture
def folder(workshop: Snapshot, tmp_path: Path) -> Path:
    save(workshop, tmp_path / "snapshot")
    return tmp_path / "snapshot"


def test_a_copy_that_was_not_installed_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lenticel.snapshot_folder", lambda: tmp_path / "embedded" / "snapshot")
    with pytest.raises(BadSnapshot, match=r"not installed.*pip install"):
        load()


def test_a_loaded_snapshot_gives_the_same_answer(workshop: Snapshot, folder: Path) -> None:
    loaded = load(folder)
    assert loaded.body == workshop.body
    assert identify(loaded, read_observations(Reader(loaded), SEEN)) == identify(workshop, read_observations(Reader(workshop), SEEN))


def test_the_arrays_are_mapped_and_cannot_be_written(folder: Path) -> None:
    loaded = load(folder)
    assert isinstance(loaded.hard.base, np.memmap)
    with pytest.raises(ValueError, match="read-only"):
        loaded.hard[0, 0] = 1


@pytest.mark.parametrize("name", ["manifest.json", "hard.npy", "known.npy", "records.json"])
def test_a_missing_file_is_named(folder: Path, name: str) -> None:
    (folder / name).unlink()
    with pytest.raises(BadSnapshot, match=name):
        open_snapshot(folder).body  # noqa: B018


@pytest.mark.parametrize("name", ["manifest.json", "typical.npy", "records.json"])
def test_a_damaged_file_is_refused(folder: Path, name: str) -> None:
    path = folder / name
    path.write_bytes(path.read_bytes()[:-40])
    with pytest.raises(BadSnapshot):
        load(folder).body  # noqa: B018


def test_a_snapshot_of_another_format_is_refused(folder: Path) -> None:
    manifest = json.loads((folder / "manifest.json").read_text())
    (folder / "manifest.json").write_text(json.dumps({**manifest, "format": 99}))
    with pytest.raises(BadSnapshot, match="format 99"):
        load(folder)


def test_saving_replaces_the_old_snapshot_whole(workshop: Snapshot, trees: Snapshot, folder: Path) -> None:
    save(trees, folder)
    assert load(folder).digest == trees.digest
    assert [each.name for each in folder.parent.iterdir()] == [folder.name]


def test_a_folder_that_is_neither_tables_nor_snapshot_says_so(tmp_path: Path) -> None:
    with pytest.raises(FaultyTables, match="about"):
        load(tmp_path)


def test_packed_bits_give_back_their_members() -> None:
    rnd = np.random.default_rng(0)
    for count in (1, 63, 64, 65, 1000):
        members = rnd.random(count) < 0.1
        words = bits_of(members)
        assert words.shape == (-(-count // 64),)
        assert (members_of(words, count) == members).all()
        assert (indices_of(words) == np.flatnonzero(members)).all()
