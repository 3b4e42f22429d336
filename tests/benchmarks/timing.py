"""Clocks, medians and the wording of figures; and the check without which no figure is printed."""

from __future__ import annotations

import argparse
import os
import platform
from collections.abc import Callable, Iterable, Mapping
from importlib.metadata import version
from statistics import median
from time import perf_counter

import numpy as np
import numpy.typing as npt

Bar = tuple[str, float, float, str]  # what is bounded, its bound, the figure, and "least" or "most"


class Differs(AssertionError):
    """A peer gave another answer, so that its speed says nothing."""


def same(who: str, answer: Iterable[int], ours: npt.NDArray[np.intp]) -> None:
    """Hold a peer's answer against ours, element by element.

    Raises:
        Differs: with the taxa on which the two differ.
    """
    theirs = np.array(sorted(answer), np.intp)
    if not np.array_equal(theirs, ours):
        raise Differs(f"{who} differs from the engine on taxa {sorted(set(theirs.tolist()) ^ set(ours.tolist()))[:10]}")


def timed(call: Callable[[], object], times: int = 1) -> list[float]:
    """The seconds that each of several calls took."""
    taken = []
    for _ in range(times):
        start = perf_counter()
        call()
        taken.append(perf_counter() - start)
    return taken


def interleaved(calls: dict[str, tuple[Callable[[], object], int]], rounds: int) -> dict[str, float]:
    """The median seconds of each call; in every round each is called its number of times, so that all meet the same neighbours."""
    taken: dict[str, list[float]] = {name: [] for name in calls}
    for _ in range(rounds):
        for name, (call, times) in calls.items():
            taken[name] += timed(call, times)
    return {name: median(each) for name, each in taken.items()}


def medians(by_question: list[dict[str, float]]) -> dict[str, float]:
    """For each name, the median over the questions."""
    return {name: median(each[name] for each in by_question) for name in by_question[0]}


def spoken(seconds: float) -> str:
    """Three figures and the unit that suits."""
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e9:.3g} ns"


def table(head: list[str], rows: list[list[str]]) -> str:
    """A Markdown table, all columns but the first set to the right."""
    lines = [head, ["---", *["---:"] * (len(head) - 1)], *rows]
    return "\n".join(f"| {' | '.join(each)} |" for each in lines)


def machine(*packages: str) -> str:
    """What figures were taken on, and with which versions of some packages."""
    versions = ", ".join(f"{name} {version(name)}" for name in packages)
    return f"{os.cpu_count()} cores, {platform.machine()}, load {os.getloadavg()[0]:.1f}; Python {platform.python_version()}, {versions}."


def bars_table(bars: Iterable[Bar]) -> str:
    """Which bars are met, as Markdown."""
    rows = []
    for name, bound, figure, way in bars:
        met = figure >= bound if way == "least" else figure <= bound
        rows.append([name, f"at {way} {bound:,.0f}", f"{figure:,.3g}", "met" if met else "**missed**"])
    return table(["what", "bar", "measured", ""], rows)


def run_parts(parser: argparse.ArgumentParser, parts: Mapping[str, Callable[[argparse.Namespace], Iterable[Bar]]], title: str) -> None:
    """Run the parts of a benchmark that its command line names, all if it names none, and say which bars are met.

    Args:
        parser: reads the options that the parts take.
        parts: runs each part by name, and gives its bars.
        title: what is printed above the figures.
    """
    parser.add_argument("parts", nargs="*", default=list(parts), help=", ".join(parts))
    options = parser.parse_args()
    if unknown := set(options.parts) - set(parts):
        parser.error(f"no part is called {', '.join(sorted(unknown))}")
    print(title)
    bars = [bar for name in parts if name in options.parts for bar in parts[name](options)]
    if bars:
        print(f"\n### Bars\n\n{bars_table(bars)}")
