"""How fast "which taxa are one and two slips away" is answered after ten observations, beside those who can answer it too.

Run `python -m tests.benchmarks.doubt` from the repository root; `--help` lists the parts and sizes. Every answer is first
checked, taxon by taxon and count by count, against a plain reference made from the generated columns; all figures of a
table come from the same run, peers and engine in turn. The large part fills 0.8 GB of disk while it runs and takes about a minute.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterable
from pathlib import Path
from time import perf_counter

import numpy as np
import numpy.typing as npt

from lenticel import store
from lenticel.slips import near
from lenticel.snapshot import Snapshot
from tests.benchmarks import generated
from tests.benchmarks.columns import Columns
from tests.benchmarks.questions import Question, questions
from tests.benchmarks.sparql import Sparql
from tests.benchmarks.timing import Bar, Differs, interleaved, machine, medians, run_parts, spoken, table

ENGINE = "engine"


def plainly(taxa: int, seed: int, question: Question) -> dict[int, int]:
    """The taxa one and two slips away, from the columns themselves: how many observations, each asked alone, leave the taxon out."""
    slips = np.full(taxa, len(question.rows))
    for row in question.rows:
        slips[generated.plainly(taxa, seed, [row])] -= 1
    return {int(taxon): int(slips[taxon]) for taxon in np.flatnonzero((slips >= 1) & (slips <= 2))}


def same(who: str, taxa: npt.ArrayLike, slips: npt.ArrayLike, due: dict[int, int]) -> None:
    """Hold an answer against the plain reference.

    Raises:
        Differs: with the taxa on which the two differ.
    """
    found = dict(zip(np.asarray(taxa).tolist(), np.asarray(slips).tolist(), strict=True))
    if found != due:
        raise Differs(f"{who} differs from the plain reference on taxa {sorted(key for key in found | due if found.get(key) != due.get(key))[:10]}")


def compare(snapshot: Snapshot, asked: list[Question], seed: int, rounds: int, sparql: Sparql | None) -> dict[str, float]:
    """Check everyone on every question, then time them in turn; median seconds a question."""
    columns = Columns(snapshot, seed, [each.probes for each in asked])
    found = []
    for question in asked:
        due = plainly(snapshot.taxa_count, seed, question)
        same(ENGINE, *near(snapshot, question.probes), due)
        query = columns.slips(question.probes)
        answer = columns.run(query)
        same("DuckDB", answer["taxon"], answer["slips"], due)
        calls = {ENGINE: (lambda q=question: near(snapshot, q.probes), 5), "DuckDB": (lambda query=query: columns.run(query), 1)}
        if sparql:
            text = sparql.slips(question.probes)
            solutions = list(sparql.store.query(text))
            same("SPARQL", sparql.places([each["t"] for each in solutions]), [int(each["slips"].value) for each in solutions], due)
            calls["SPARQL"] = (lambda text=text: list(sparql.store.query(text)), 1)
        found.append(interleaved(calls, rounds))
    return medians(found)


def middle(options: argparse.Namespace) -> Iterable[Bar]:
    """Generated knowledge that SPARQL can still hold."""
    figures = _measured(options.middle, options, options.middle_questions, with_sparql=True)
    yield f"DuckDB / engine, {options.middle[0]:,} taxa", 10, figures["DuckDB"] / figures[ENGINE], "least"
    yield f"SPARQL / engine, {options.middle[0]:,} taxa", 100, figures["SPARQL"] / figures[ENGINE], "least"


def large(options: argparse.Namespace) -> Iterable[Bar]:
    """Generated knowledge of the size of the world's flora; a SPARQL store does not load it in a minute."""
    figures = _measured(options.large, options, options.large_questions, with_sparql=False)
    yield f"median answer, ms, {options.large[0]:,} taxa", 1, 1e3 * figures[ENGINE], "most"
    yield f"DuckDB / engine, {options.large[0]:,} taxa", 10, figures["DuckDB"] / figures[ENGINE], "least"


def _measured(size: list[int], options: argparse.Namespace, count: int, *, with_sparql: bool) -> dict[str, float]:
    taxa, characters = size
    with tempfile.TemporaryDirectory() as name:
        generated.write(Path(name), taxa, characters, options.seed)
        snapshot = store.load(Path(name))
        asked = questions(snapshot, count, options.seed)
        start = perf_counter()
        sparql = Sparql(snapshot) if with_sparql else None
        loading = perf_counter() - start
        figures = compare(snapshot, asked, options.seed, options.rounds, sparql)
        hits = [len(near(snapshot, each.probes)[0]) for each in asked]
    print(f"\n### {taxa:,} generated taxa, {characters} characters; {np.median(hits):,.0f} of them one or two slips away (median of {count} questions)\n")
    print(table(["who answers", "median", "times the engine"], [[who, spoken(each), f"{each / figures[ENGINE]:,.3g}"] for who, each in figures.items()]))
    if sparql:
        print(f"\nLoading the SPARQL store, once: {spoken(loading)} for {len(sparql.store):,} triples.")
    return figures


def main() -> None:
    """Run the chosen parts, and say which bars are met."""
    parts = {"middle": middle, "large": large}
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.doubt", description=__doc__, formatter_class=argparse.ArgumentDefaultsHelpFormatter)
    parser.add_argument("--middle", type=int, nargs=2, default=[1_000, 200], metavar=("TAXA", "CHARACTERS"))
    parser.add_argument("--large", type=int, nargs=2, default=[350_000, 500], metavar=("TAXA", "CHARACTERS"))
    parser.add_argument("--middle-questions", type=int, default=30)
    parser.add_argument("--large-questions", type=int, default=15)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    run_parts(parser, parts, f"## Which taxa are one and two slips away after ten observations\n\n{machine('numpy', 'duckdb', 'pyoxigraph')}")


if __name__ == "__main__":
    main()
