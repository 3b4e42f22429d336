"""Releases on disk: whole or not there; what is damaged is refused and what was in force stays."""

from __future__ import annotations

import errno
import os
import random
import shutil
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from lenticel import releases
from lenticel.errors import BadRelease
from lenticel.releases import in_force, kept, opened, point, publish
from lenticel.snapshot import Snapshot
from lenticel.store import load, save


def writer(snapshot: Snapshot, note: str = ""):
    def write(out: Path) -> dict[str, str]:
        save(snapshot, out / "snapshot")
        (out / "note.txt").write_text(note)
        return {"digest": snapshot.digest, "version": "1", "issued": "2026-01-01"}

    return write


@pytest.fixture
def root(workshop: Snapshot, tmp_path: Path) -> Path:
    publish(tmp_path / "releases", writer(workshop))
    return tmp_path / "releases"


def test_a_published_release_is_in_force_and_answers(root: Path, workshop: Snapshot) -> None:
    release = in_force(root)
    assert release.digest == workshop.digest
    assert load(release.snapshot_folder).body == workshop.body
    assert kept(root) == [release.id]


def test_the_same_content_has_the_same_name_and_other_content_another(root: Path, workshop: Snapshot) -> None:
    first = in_force(root).id
    assert publish(root, writer(workshop)).id == first
    second = publish(root, writer(workshop, "changed")).id
    assert second != first
    assert (in_force(root).id, kept(root)) == (second, sorted((first, second)))
    point(root, first)
    assert in_force(root).id == first


@pytest.mark.parametrize("name", ["manifest.json", "snapshot/hard.npy", "snapshot/records.json", "note.txt"])
@pytest.mark.parametrize("harm", ["cut", "altered", "gone", "added"])
def test_a_damaged_release_is_refused(root: Path, name: str, harm: str) -> None:
    path = in_force(root).folder / name
    if harm == "cut":
        path.write_bytes(path.read_bytes()[:-1])
    elif harm == "altered":
        path.write_bytes(path.read_bytes()[:-1] + b"~")
    elif harm == "gone":
        path.unlink()
    else:
        path.with_name("stray").write_text("what nobody published")
    if name == "note.txt" and harm == "cut":
        path.unlink()  # an empty file cannot be cut
    with pytest.raises(BadRelease):
        in_force(root)


@pytest.mark.parametrize("text", [b"", b"../../etc", b"current\n", b"0" * 32, b"\xff\xfe"])
def test_a_pointer_that_names_no_release_is_refused(root: Path, text: bytes) -> None:
    (root / "current").write_bytes(text)
    with pytest.raises(BadRelease):
        in_force(root)


def test_a_full_disk_leaves_what_was_in_force(root: Path, workshop: Snapshot, monkeypatch: pytest.MonkeyPatch) -> None:
    before = in_force(root)

    def full(out: Path) -> dict[str, str]:
        (out / "half").write_text("half of a relea")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(BadRelease, match="No space left"):
        publish(root, full)
    monkeypatch.setattr(releases, "_sync", lambda path: (_ for _ in ()).throw(OSError(errno.ENOSPC, "No space left on device")))
    with pytest.raises(BadRelease, match="No space left"):
        publish(root, writer(workshop, "other"))
    assert in_force(root) == before
    assert sorted(each.name for each in root.iterdir() if each.suffix == ".part") == []


POINTS = 20
BUILDER = """
import os, signal, sys, time
from pathlib import Path
import lenticel.releases as releases
def write(out):
    for number in range(40):
        (out / f"file{number}").write_bytes(bytes([number]) * 20000)
        time.sleep(0.002)
    return {"digest": "d", "version": "2", "issued": ""}
for line in sys.stdin:
    start = time.perf_counter()
    child = os.fork()
    if not child:
        try:
            releases.publish(Path(sys.argv[1]), write)
        finally:
            os._exit(0)
    if line.strip():
        time.sleep(float(line))
        os.kill(child, signal.SIGKILL)  # it may have ended, but its number is its own until it was waited for
    os.waitpid(child, 0)
    print(time.perf_counter() - start, flush=True)
"""


class Builders:
    """Builders of one release, one after another; they share the process that imported what they need, since that takes longer than to build."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.process = subprocess.Popen([sys.executable, "-c", BUILDER, str(root)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def build(self, killed_after: float | None = None) -> float:
        """Build until the end, or until it is killed; gives the seconds that it took."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        print("" if killed_after is None else killed_after, file=self.process.stdin, flush=True)
        return float(self.process.stdout.readline())


@pytest.fixture
def builders(root: Path) -> Iterator[Builders]:
    made = Builders(root)
    yield made
    made.process.communicate()


def test_a_builder_killed_at_any_point_never_leaves_half_a_release(root: Path, builders: Builders) -> None:
    before, seed = in_force(root), time.time_ns()
    seconds = builders.build()
    assert in_force(root).version == "2"
    chance, outcomes = random.Random(seed), Counter[str]()
    for _ in range(POINTS):
        point(root, before.id)
        for name in kept(root):
            if name != before.id:
                shutil.rmtree(root / name)
        builders.build(killed_after=chance.uniform(0, 0.95 * seconds))
        now = in_force(root)
        outcomes[now.version] += 1
        outcomes["begun"] += any(each.suffix == ".part" for each in root.iterdir())
        assert now == before or now.version == "2", seed
        assert [opened(root / name).id for name in kept(root)] == kept(root), seed
    print(f"{POINTS} points of {seconds:.2f} s, seed {seed}: {dict(outcomes)}")
    assert outcomes[before.version], seed
    assert outcomes["begun"], seed
