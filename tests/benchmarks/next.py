"""How fast all outcomes of all characters are counted, which is the work behind "what to look at next", beside those who can count too.

Run `python -m tests.benchmarks.next` from the repository root; `--help` lists the parts and sizes. Over all generated taxa, and over one in a
hundred of them, in turn with DuckDB, with a SPARQL store where it can hold the knowledge, and with one read of the same bytes at the speed of
memory. Every count of every peer is first held against the plain columns. With the extra `fast` the kernels are compiled, without it NumPy does
the work. SPARQL is asked of a smaller case only: 350,000 taxa and 500 characters would be some 770 million triples, and loading a
store with the fraction of them that the smaller case makes is timed too.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from time import perf_counter

import numpy as np
import numpy.typing as npt

from lenticel import store
from lenticel.counting import compiled
from lenticel.snapshot import Snapshot
from lenticel.sweep import Sweep, sweep
from tests.benchmarks import generated
from tests.benchmarks.columns import Columns
from tests.benchmarks.sparql import Sparql
from tests.benchmarks.timing import Bar, Differs, interleaved, machine, run_parts, spoken, table

ENGINE, READ = "engine", "one read of the planes"
RARE = 100  # of which one remains

Counts = npt.NDArray[np.int64]
Places = npt.NDArray[np.intp]


def plainly(made: Sweep, rows: Places, seed: int) -> Counts:
    """The counts from the columns themselves: no planes, no kernels."""
    taxa, found = made.snapshot.taxa_count, np.zeros(len(made.snapshot.hard) + len(made.bins), np.int64)
    for key, spans in made.shown.items():
        where, start = made.snapshot.layout[key], made.rows_of[key].start
        if where.atoms:
            may = generated.state_column(seed, where.place, taxa)[0][rows]
            found[start : start + len(spans)] = [(may & shown != 0).sum() for shown in spans]
        else:
            low, high = generated.range_column(seed, where.place, taxa)[0][:2, rows]
            found[start : start + len(spans)] = [((low <= span[1]) & (high >= span[0])).sum() for span in spans if not isinstance(span, int)]
    return found


def same(who: str, counts: npt.ArrayLike, due: Counts) -> None:
    """Hold counts against the plain ones.

    Raises:
        Differs: with the outcomes on which the two differ.
    """
    if not np.array_equal(np.asarray(counts), due):
        raise Differs(f"{who} counts otherwise than the plain reference at {np.flatnonzero(np.asarray(counts) != due)[:10].tolist()}")


def compare(snapshot: Snapshot, rows: Places, seed: int, rounds: int, peers: tuple[Columns, Sparql | None]) -> dict[str, float]:
    """Check everyone, then time them in turn; median seconds a question."""
    made, (columns, sparql) = sweep(snapshot), peers
    some = len(rows) < snapshot.taxa_count
    due = plainly(made, rows, seed)
    columns.mark(rows)
    query = columns.counts(made, marked=some)
    counted = columns.run(query)
    same("DuckDB", [counted[f"n{place}"][0] for place in range(len(due))], due)
    same(ENGINE, made.count(rows).left, due)
    planes = np.concatenate((snapshot.hard, made.bins)).reshape(-1)
    calls: dict[str, tuple[Callable[[], object], int]] = {
        ENGINE: (lambda: made.count(rows), 5),
        READ: (lambda: np.bitwise_or.reduce(planes), 5),
        "DuckDB": (lambda: columns.run(query), 1),
    }
    if sparql:
        text = sparql.counts(made, rows if some else None)
        same("SPARQL", sparql.counted(text, made, len(rows)), due)
        calls["SPARQL"] = (lambda: list(sparql.store.query(text)), 1)
    return interleaved(calls, rounds)


def measured(size: list[int], seed: int, rounds: int, *, with_sparql: bool) -> tuple[dict[str, float], dict[str, float]]:
    """The figures over all taxa of generated knowledge, and over one in RARE."""
    with tempfile.TemporaryDirectory() as name:
        generated.write(Path(name), *size, seed)
        snapshot = store.load(Path(name))
        columns, start = Columns(snapshot, seed, [], everything=True), perf_counter()
        peers = columns, Sparql(snapshot) if with_sparql else None
        if peers[1]:
            print(f"\nLoading the SPARQL store, once: {spoken(perf_counter() - start)} for {len(peers[1].store):,} triples.")
        everything = np.arange(snapshot.taxa_count)
        few = np.sort(np.random.default_rng(seed).choice(everything, max(1, len(everything) // RARE), replace=False))
        whole, part = (compare(snapshot, rows, seed, rounds, peers) for rows in (everything, few))
        for rows, figures in ((everything, whole), (few, part)):
            print(f"\n### {len(rows):,} of {size[0]:,} generated taxa, {size[1]} characters\n")
            print(table(["who counts", "median", "times the engine"], [[who, spoken(each), f"{each / figures[ENGINE]:,.3g}"] for who, each in figures.items()]))
    return whole, part


def middle(options: argparse.Namespace) -> Iterable[Bar]:
    """Generated knowledge that SPARQL can hold."""
    measured(options.middle, options.seed, options.rounds, with_sparql=True)
    return ()


def large(options: argparse.Namespace) -> Iterable[Bar]:
    """Generated knowledge of the size of the world's flora."""
    whole, part = measured(options.large, options.seed, options.rounds, with_sparql=False)
    yield f"median, ms, all of {options.large[0]:,} taxa", 16, 1e3 * whole[ENGINE], "most"
    yield "the same, in reads of the same bytes", 2, whole[ENGINE] / whole[READ], "most"
    yield "median, ms, one in a hundred of them", 1, 1e3 * part[ENGINE], "most"


def main() -> None:
    """Run the chosen parts, and say which bars are met."""
    parts = {"middle": middle, "large": large}
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.next", description=__doc__, formatter_class=argparse.ArgumentDefaultsHelpFormatter)
    parser.add_argument("--middle", type=int, nargs=2, default=[1_000, 200], metavar=("TAXA", "CHARACTERS"))
    parser.add_argument("--large", type=int, nargs=2, default=[350_000, 500], metavar=("TAXA", "CHARACTERS"))
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    kernels = "compiled" if compiled() else "by NumPy"
    run_parts(parser, parts, f"## What each outcome of each character would leave\n\n{machine('numpy', 'duckdb', 'pyoxigraph')} Kernels {kernels}.")


if __name__ == "__main__":
    main()
