"""The large case: a snapshot as big as the world's flora, opened and asked in processes of their own.

`python -m tests.benchmarks.large FOLDER QUESTIONS ANSWERS [cold]` is such a process. It opens the folder, asks every
question once, then once more from its text, writes the answers, and prints its figures as JSON.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import numpy as np
import numpy.typing as npt

from lenticel import store
from lenticel.engine import consistent
from lenticel.observation import Reader
from tests.benchmarks.generated import plainly
from tests.benchmarks.questions import Rows, questions, read_probes
from tests.benchmarks.timing import Differs, same, timed

ROOT = Path(__file__).parents[2]


def memory() -> dict[str, float]:
    """Bytes of this process, as Linux tells: its peak, and of what it holds now its own part and the mapped files.

    `VmHWM`, not `getrusage`, whose peak starts with that of the process from which this one was forked.
    """
    lines = (line.split() for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines())
    found = {words[0]: int(words[1]) * 1024 for words in lines if words[0] in ("VmHWM:", "RssAnon:", "RssFile:")}
    return {"peak": found["VmHWM:"], "own": found["RssAnon:"], "mapped": found["RssFile:"]}


def forget(folder: Path) -> None:
    """Ask the system to drop the folder's files from its cache, so that the next read goes to the disk."""
    for path in folder.iterdir():
        with path.open("rb") as file:
            os.fsync(file.fileno())
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def warm(folder: Path) -> None:
    """Read the folder's files, so that the system has them in its cache."""
    for path in folder.iterdir():
        with path.open("rb") as file:
            while file.read(1 << 24):
                pass


def measure(folder: Path, rows: list[Rows], answers: Path, cold: bool) -> dict[str, Any]:
    """Open the folder and ask every question (only the first, if cold); the figures, in seconds and bytes."""
    forget(folder) if cold else warm(folder)
    start = perf_counter()
    snapshot = store.load(folder)
    loading = perf_counter() - start
    reader = Reader(snapshot)
    asked = rows[:1] if cold else rows
    probes = [read_probes(reader, each) for each in asked]
    before = memory()["peak"]
    found, asking = [], []
    for each in probes:
        start = perf_counter()
        found.append(consistent(snapshot, each))
        asking.append(perf_counter() - start)
    figures = memory() | {"before": before, "load": loading, "first": asking[0], "median": median(asking), "p95": float(np.quantile(asking, 0.95))}
    reading = [timed(partial(_from_text, reader, each))[0] for each in asked]
    np.savez(answers, *found)
    return figures | {"text": median(reading), "left": median(len(each) for each in found)}


def _from_text(reader: Reader, rows: Rows) -> npt.NDArray[np.intp]:
    return consistent(reader.snapshot, read_probes(reader, rows))


def run(taxa: int, characters: int, seed: int, count: int, checked: int) -> dict[str, dict[str, Any]]:
    """Generate the folder, ask it cold and warm, and hold the warm answers against the plain reference.

    Args:
        taxa, characters, seed: what to generate.
        count: how many questions to ask.
        checked: how many of them to work out a second time from the generated columns.

    Returns:
        The figures of the cold and of the warm process.
    """
    with tempfile.TemporaryDirectory() as name:
        folder, inputs, answers = Path(name, "snapshot"), Path(name, "questions.json"), Path(name, "answers.npz")
        folder.mkdir()
        _process("generated", str(folder), str(taxa), str(characters), str(seed))
        asked = questions(store.load(folder), count, seed)
        inputs.write_text(json.dumps([each.rows for each in asked]), encoding="utf-8")
        figures = {
            state: json.loads(_process("large", str(folder), str(inputs), str(answers), *([state] if state == "cold" else []))) for state in ("cold", "warm")
        }
        with np.load(answers) as file:
            found = [file[f"arr_{place}"] for place in range(count)]
    for place, question in enumerate(asked):
        if question.target not in found[place]:
            raise Differs(f"question {place} lost the taxon that it was made of")
    for question, answer in list(zip(asked, found, strict=True))[:checked]:
        same("the plain reference", plainly(taxa, seed, question.rows).tolist(), answer)
    return figures


def _process(module: str, *arguments: str) -> str:
    return subprocess.run([sys.executable, "-m", f"tests.benchmarks.{module}", *arguments], cwd=ROOT, check=True, capture_output=True, text=True).stdout


if __name__ == "__main__":
    asked_rows = [[(character, value) for character, value in each] for each in json.loads(Path(sys.argv[2]).read_text(encoding="utf-8"))]
    print(json.dumps(measure(Path(sys.argv[1]), asked_rows, Path(sys.argv[3]), "cold" in sys.argv[4:])))
