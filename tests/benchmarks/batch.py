"""Very many plants from a file, against the same question in DuckDB: `python -m tests.benchmarks.batch [--plants 1000000]`.

Plants of eight observations each, made of what the tables leave to some taxon, lie in Parquet, an observation a row. `lenticel batch` answers them on
two processes; it also ranks what remains and names the cautions. DuckDB, on two threads, is asked only what remains: it joins each observation to the
taxa that it leaves, which are worked out for it beforehand and off the clock, and intersects them as bits, a plant at a time. Both write Parquet,
each in a process of its own; no figure is printed unless both name the same taxa for every plant. With `--kill` the work is also killed in the middle
and taken up again, and must come to the same.
"""

from __future__ import annotations

import argparse
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

import lenticel
from lenticel.engine import CONTRADICTS
from lenticel.judging import judged
from lenticel.observation import Reader
from lenticel.snapshot import Snapshot, bits_of, members_of
from tests.benchmarks.questions import questions
from tests.benchmarks.timing import Differs, machine, table

SEEN = 8  # observations of each plant
QUESTIONS = 1500  # of ten observations each, out of which the plants are made
THREADS = 2
AT_ONCE = 100_000  # plants, while the file is written
TICK = 0.02  # seconds between two looks at the memory of a run

SQL = """
import sys, duckdb
source, says, names, out, threads = sys.argv[1:]
db = duckdb.connect(config={"threads": int(threads)})
db.execute("SET enable_progress_bar = false")
words = range(sum(name.startswith("w") for name in db.sql(f"FROM '{says}'").columns))
db.execute(f"SET VARIABLE names = (SELECT list(name ORDER BY place) FROM '{names}')")
both = ", ".join(f"bit_and(w{n}) AS w{n}" for n in words)
count = " + ".join(f"bit_count(w{n})" for n in words)
parts = ", ".join(
    f"list_filter(getvariable('names')[{64 * n + 1}:{64 * n + 64}], lambda name, place: (w{n} >> (place - 1)) & 1 = 1)" for n in words
)
db.execute(f'''
    COPY (
        SELECT plant, {count} AS count, flatten([{parts}]) AS consistent
        FROM (SELECT plant, {both} FROM '{source}' JOIN '{says}' USING (character, value) GROUP BY plant)
    ) TO '{out}' (FORMAT parquet)
''')
"""


@dataclass(frozen=True)
class Run:
    """What a run took: seconds on the clock and of processors, and the sum of the peaks of its processes in bytes."""

    wall: float
    cpu: float
    memory: int


def write_plants(snapshot: Snapshot, path: Path, count: int, seed: int) -> list[tuple[str, str]]:
    """Write plants; returns the different observations."""
    pools: dict[int, set[tuple[str, str]]] = {}
    for each in questions(snapshot, QUESTIONS, seed):
        pools.setdefault(each.target, set()).update(each.rows)
    pairs = sorted({pair for pool in pools.values() for pair in pool})
    number = {pair: place for place, pair in enumerate(pairs)}
    codes = [np.array(sorted(number[pair] for pair in pool)) for pool in pools.values() if len(pool) >= 2 * SEEN]
    character, value = (pa.array(column) for column in zip(*pairs, strict=True))
    rng = np.random.default_rng(seed)
    with pq.ParquetWriter(path, pa.schema([("plant", pa.string()), ("character", pa.string()), ("value", pa.string())])) as writer:
        for start in range(0, count, AT_ONCE):
            many = min(AT_ONCE, count - start)
            chosen = np.empty((many, SEEN), np.int64)
            taxon = rng.integers(len(codes), size=many)
            for place, pool in enumerate(codes):
                rows = np.flatnonzero(taxon == place)
                chosen[rows] = pool[rng.random((len(rows), len(pool))).argpartition(SEEN, axis=1)[:, :SEEN]]
            plants = pa.array([f"p{start + plant}" for plant in range(many)]).take(pa.array(np.repeat(np.arange(many), SEEN)))
            flat = pa.array(chosen.ravel())
            writer.write_table(pa.table([plants, character.take(flat), value.take(flat)], writer.schema))
    return pairs


def write_says(snapshot: Snapshot, pairs: list[tuple[str, str]], says: Path, names: Path) -> None:
    """Write for DuckDB which lowest taxa each observation leaves, 64 a word, and what the taxa are called."""
    reader = Reader(snapshot)
    lowest = members_of(snapshot.terminal, snapshot.taxa_count)
    left = [lowest & (judged(snapshot, reader.observation(*pair), wild=False).levels != CONTRADICTS) for pair in pairs]
    words = bits_of(np.array(left))
    columns = {"character": [pair[0] for pair in pairs], "value": [pair[1] for pair in pairs]}
    pq.write_table(pa.table({**columns, **{f"w{place}": words[:, place] for place in range(words.shape[1])}}), says)
    pq.write_table(pa.table({"place": list(range(snapshot.taxa_count)), "name": list(snapshot.taxa)}), names)


def measured(command: list[str], until: int | None = None, parts: Path | None = None) -> Run:
    """Run a command to its end, or kill it once so many pieces are finished."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    peaks: dict[int, int] = {}
    with subprocess.Popen([sys.executable, *command], stderr=subprocess.PIPE, text=True) as process:
        while process.poll() is None:
            for pid in (process.pid, *_children(process.pid)):
                peaks[pid] = max(peaks.get(pid, 0), _peak(pid))
            if until and parts and len(list(islice(parts.glob("[0-9]*.json"), until))) == until:
                process.send_signal(signal.SIGKILL)
                process.wait()
                break
            time.sleep(TICK)
        wall = time.perf_counter() - start
        if process.returncode and not until:
            raise RuntimeError(process.stderr.read() if process.stderr else "")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return Run(wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, sum(peaks.values()))


def _children(pid: int) -> list[int]:
    try:
        return [int(each) for each in Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()]
    except OSError:
        return []


def _peak(pid: int) -> int:
    """The peak of a process in bytes, as Linux tells (`VmHWM`); 0 once it has ended."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) * 1024 for line in lines if line.startswith("VmHWM:")), 0)


def same(ours: Path, theirs: Path, count: int) -> None:
    """Hold two answers against each other, plant by plant.

    Raises:
        Differs: with the number of plants on which they differ.
    """
    alike = "count(*) FILTER (o.count = t.count AND o.consistent = t.consistent AND o.error IS NULL)"
    database = duckdb.connect()
    database.execute("SET enable_progress_bar = false")
    found = database.execute(f"SELECT count(*), {alike} FROM '{ours}' o FULL JOIN '{theirs}' t USING (plant)").fetchone()
    if found != (count, count):
        raise Differs(f"of {count} plants there are {found}: in either answer, and alike in both")


def run(folder: Path, plants: int, seed: int, *, kill: bool) -> dict[str, Run]:
    """Write the plants, have both answer them, and compare.

    Args:
        folder: for all files.
        plants: how many.
        seed: of the plants.
        kill: whether to kill the work in the middle and take it up again, too.
    """
    snapshot = lenticel.load()
    source, says, names, ours, theirs = (folder / f"{name}.parquet" for name in ("seen", "says", "names", "ours", "theirs"))
    write_says(snapshot, write_plants(snapshot, source, plants, seed), says, names)
    command = ["-m", "lenticel", "batch", str(source), "--workers", str(THREADS), "--out"]
    found = {"lenticel batch": measured([*command, str(ours)])}
    found["DuckDB"] = measured(["-c", SQL, *map(str, (source, says, names, theirs, THREADS))])
    same(ours, theirs, plants)
    if kill:
        again = folder / "again.parquet"
        chunks = len(range(0, plants * SEEN, 1 << 16))
        measured([*command, str(again)], until=chunks // 2, parts=folder / "again.parquet.parts")
        if again.exists():
            raise Differs("it was not killed in the middle")
        found["lenticel batch, the rest after a kill"] = measured([*command, str(again)])
        same(again, theirs, plants)
    return found


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plants", type=int, default=100_000, help="how many (default %(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="of the plants (default %(default)s)")
    parser.add_argument("--kill", action="store_true", help="also kill the work in the middle and take it up again")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = run(Path(folder), options.plants, options.seed, kill=options.kill)
    base = found["DuckDB"]
    rows = [
        [name, f"{each.wall:.1f} s", f"{options.plants / each.wall:,.0f}", f"{each.cpu:.1f} s", f"{each.memory / 1e6:,.0f} MB", f"{each.wall / base.wall:.2f}"]
        for name, each in found.items()
    ]
    head = [f"{options.plants:,} plants, {SEEN} observations each", "time", "plants/s", "processor time", "memory", "times DuckDB"]
    sys.stdout.write(f"{table(head, rows)}\n\n{machine('numpy', 'pyarrow', 'duckdb')} At most {THREADS} of {os.cpu_count()} cores.\n")


if __name__ == "__main__":
    main()
