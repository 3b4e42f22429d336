"""How fast "which taxa remain after ten observations" is answered, beside those who can answer it too.

Run `python -m tests.benchmarks.identify` from the repository root; `--help` lists the parts and sizes. Every peer's answer
is first checked to be the engine's, taxon by taxon; all figures of a table come from the same run, peers and engine in turn.
The large part fills 0.8 GB of disk while it runs. All together take about two minutes.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterable
from pathlib import Path
from statistics import median
from time import perf_counter

from lenticel import store
from lenticel.engine import consistent
from lenticel.observation import Reader
from lenticel.snapshot import Snapshot
from tests.benchmarks import cases, generated, large
from tests.benchmarks.questions import Question, questions, read_probes
from tests.benchmarks.sparql import Sparql
from tests.benchmarks.timing import Bar, interleaved, machine, medians, run_parts, same, spoken, table, timed

ENGINE, TEXT = "engine, probes made beforehand", "engine, from the text of the observations"


def compare(snapshot: Snapshot, asked: list[Question], sparql: Sparql, rounds: int) -> dict[str, float]:
    """Check every SPARQL form on every question, then time them and the engine in turn; median seconds a question."""
    reader, found = Reader(snapshot), []
    for question in asked:
        ours = consistent(snapshot, question.probes)
        calls = {
            ENGINE: (lambda q=question: consistent(snapshot, q.probes), 20),
            TEXT: (lambda q=question: consistent(snapshot, read_probes(reader, q.rows)), 5),
        }
        for name, form in sparql.forms.items():
            query = form(question.probes)
            same(f"SPARQL ({name})", sparql.places(sparql.run(query)), ours)
            calls[f"SPARQL, {name}"] = (lambda query=query: sparql.run(query), 3)
        found.append(interleaved(calls, rounds))
    return medians(found)


def small(options: argparse.Namespace) -> Iterable[Bar]:
    """The project's own knowledge, cut: HermiT twice, and SPARQL."""
    from tests.benchmarks.reasoners import InProcess, Owlready  # the only part that needs Java

    graph, knowledge, snapshot = cases.real(options.small)
    asked = questions(snapshot, options.questions, options.seed)
    figures = compare(snapshot, asked, Sparql(snapshot), options.rounds)
    owlready = Owlready(graph, knowledge)
    process = InProcess(graph, knowledge, [each.observations for each in asked])
    for name, ask, count in (
        ("HermiT in process, answering only", process.answer, len(asked)),
        ("HermiT through owlready2", lambda place: owlready.answer(asked[place].observations), options.owlready_questions),
    ):
        taken = []
        for place, question in enumerate(asked[:count]):
            seconds, left = ask(place)
            same(name, [snapshot.place_of[taxon] for taxon in left], consistent(snapshot, question.probes))
            taken.append(seconds)
        figures[name] = median(taken)
    process.close()
    count = len(knowledge.terminal)
    show(f"{count} taxa, {len(knowledge.characters)} characters: the project's own tables, cut to their first {count} lowest taxa", figures)
    print(f"\nSetting HermiT up in process, once for all {len(asked)} questions: {spoken(process.setting_up)}.")
    yield f"HermiT through owlready2 / engine, {count} taxa", 10_000, figures["HermiT through owlready2"] / figures[ENGINE], "least"
    yield f"fastest SPARQL / engine, {count} taxa", 5, fastest(figures) / figures[ENGINE], "least"


def middle(options: argparse.Namespace) -> Iterable[Bar]:
    """Generated knowledge that SPARQL can still hold."""
    taxa, characters = options.middle
    with tempfile.TemporaryDirectory() as name:
        generated.write(Path(name), taxa, characters, options.seed)
        snapshot = store.load(Path(name))
        asked = questions(snapshot, options.questions, options.seed)
        (first,) = timed(lambda: consistent(snapshot, asked[0].probes))
        for question in asked:
            same("the plain reference", generated.plainly(taxa, options.seed, question.rows).tolist(), consistent(snapshot, question.probes))
        start = perf_counter()
        sparql = Sparql(snapshot)
        loading = perf_counter() - start
        figures = compare(snapshot, asked[: options.sparql_questions], sparql, options.rounds)
    show(f"{taxa:,} generated taxa, {characters} characters", figures)
    print(f"\nLoading the SPARQL store, once: {spoken(loading)} for {len(sparql.store):,} triples. The engine's first answer of all: {spoken(first)}.")
    yield f"SPARQL, one FILTER NOT EXISTS an observation / engine, {taxa:,} taxa", 400, figures["SPARQL, filters"] / figures[ENGINE], "least"
    yield f"fastest SPARQL / engine, {taxa:,} taxa", 400, fastest(figures) / figures[ENGINE], "least"


def big(options: argparse.Namespace) -> Iterable[Bar]:
    """Generated knowledge of the size of the world's flora; the engine alone, in fresh processes."""
    taxa, characters = options.large
    figures = large.run(taxa, characters, options.seed, options.large_questions, options.checked)
    cold, warm = figures["cold"], figures["warm"]
    print(f"\n### {taxa:,} generated taxa, {characters} characters: the engine in a fresh process\n")
    rows = [
        ["opening the snapshot, files in the system's cache", spoken(warm["load"])],
        ["opening the snapshot, files not in the cache", spoken(cold["load"])],
        ["first answer, files in the cache", spoken(warm["first"])],
        ["first answer, files not in the cache", spoken(cold["first"])],
        [f"answer, median of {options.large_questions} questions, each asked once", spoken(warm["median"])],
        ["answer, 95th percentile", spoken(warm["p95"])],
        ["answer from the text of the observations, median", spoken(warm["text"])],
        ["taxa that remain, median", f"{warm['left']:,.0f}"],
        ["peak memory before the first question", megabytes(warm["before"])],
        ["peak memory after all questions", megabytes(warm["peak"])],
        ["of that mapped from the files, which the system may drop", megabytes(warm["mapped"])],
    ]
    print(table(["figure", "measured"], rows))
    print(f"\n{options.checked} of the answers equal the plain NumPy reference made from the generated columns, taxon by taxon.")
    yield f"opening the snapshot, ms, {taxa:,} taxa", 100, 1e3 * max(warm["load"], cold["load"]), "most"
    yield f"median answer, ms, {taxa:,} taxa", 2, 1e3 * warm["median"], "most"
    yield f"peak memory, MB, {taxa:,} taxa", 600, warm["peak"] / 1e6, "most"


def fastest(figures: dict[str, float]) -> float:
    """The fastest SPARQL form."""
    return min(seconds for name, seconds in figures.items() if name.startswith("SPARQL"))


def show(title: str, figures: dict[str, float]) -> None:
    """Print the medians of one size, and their ratios to the engine's."""
    print(f"\n### {title}\n")
    print(table(["who answers", "median", "times the engine"], [[name, spoken(each), f"{each / figures[ENGINE]:,.3g}"] for name, each in figures.items()]))


def megabytes(count: float) -> str:
    """Bytes in millions."""
    return f"{count / 1e6:.0f} MB"


def main() -> None:
    """Run the chosen parts, and say which bars are met."""
    parts = {"small": small, "middle": middle, "large": big}
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.identify", description=__doc__, formatter_class=argparse.ArgumentDefaultsHelpFormatter)
    parser.add_argument("--small", type=int, default=25, metavar="TAXA")
    parser.add_argument("--middle", type=int, nargs=2, default=[1_000, 200], metavar=("TAXA", "CHARACTERS"))
    parser.add_argument("--large", type=int, nargs=2, default=[350_000, 500], metavar=("TAXA", "CHARACTERS"))
    parser.add_argument("--questions", type=int, default=40, help="of the small and middle part")
    parser.add_argument("--owlready-questions", type=int, default=5, help="of those, asked of HermiT through owlready2, at 2 s each")
    parser.add_argument("--sparql-questions", type=int, default=15, help="of those, asked of SPARQL in the middle part")
    parser.add_argument("--large-questions", type=int, default=250)
    parser.add_argument("--checked", type=int, default=20, help="large questions worked out a second time by the plain reference")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seed", type=int, default=1)
    run_parts(parser, parts, f"## Which taxa remain after ten observations\n\n{machine('numpy', 'pyoxigraph', 'owlready2', 'jpype1')}")


if __name__ == "__main__":
    main()
