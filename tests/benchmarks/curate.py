"""How long a curator waits, on the real tables: `python -m tests.benchmarks.curate`.

The check of each save, and the report on a change that touches a statement of every tenth taxon. The peer in the same run is
the way through the ontology, which a release takes.
"""

from __future__ import annotations

import argparse
import csv
import shutil
import sys
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from lenticel import owl
from lenticel.build import check
from lenticel.change import change
from lenticel.compiler import compile_graph
from lenticel.tables import read
from lenticel.versions import opened
from tests.benchmarks.timing import timed

TABLES = Path(__file__).parents[2] / "ontology"


def touched(folder: Path, every: int) -> Path:
    """A copy of the tables in which one statement of every so many files is gone."""
    shutil.copytree(TABLES, folder)
    for path in sorted((folder / "statements").glob("*.csv"))[::every]:
        with path.open(encoding="utf-8", newline="") as lines:
            rows = list(csv.reader(lines))
        with path.open("w", encoding="utf-8", newline="") as lines:
            csv.writer(lines, lineterminator="\n").writerows(rows[:-1])
    return folder


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=5, help="how often each is timed (default 5)")
    times = parser.parse_args().times
    with TemporaryDirectory() as folder:
        new = touched(Path(folder) / "new", 10)
        quick = median(timed(lambda: check(TABLES), times))
        report = median(timed(lambda: change(opened(TABLES).snapshot, opened(new).snapshot), times))
        full = median(timed(lambda: compile_graph(owl.write(read(TABLES).knowledge))))
    sys.stdout.write(
        f"check of all tables: {quick:.2f} s (bar 2)\nreport on a change: {report:.2f} s (bar 10)\n"
        f"through the ontology: {full:.1f} s, {full / quick:.1f} times the check\n"
    )


if __name__ == "__main__":
    main()
