"""Generated queries to pyoxigraph, as our workers ask it, and to rdflib: `python -m tests.benchmarks.differential`.

Both are asked about a part of the dataset of `fixtures/workshop`, and must give the same rows, each as often. Where the engines are known to differ the
difference has a name, and counts apart.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter

from tests.queries import Engines, Part, difference, queries_of, workshop_part


def compared(part: Part, queries: list[str]) -> Counter[str]:
    """How many queries were answered alike, or differed, by the name of the difference."""
    engines, told = Engines(part), Counter[str]()
    for query in queries:
        name = difference(engines, query)
        told[name] += 1
        if name == "unexplained":
            print(f"{query}\n  ours {engines.ours(query)}\n  rdflib {engines.theirs(query)}"[:2000])
    return told


def main() -> None:
    """Print how many were alike."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--queries", type=int, default=2000, help="how many (default %(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="where the generator begins (default %(default)s)")
    options = parser.parse_args()
    part = workshop_part()
    told = compared(part, queries_of(part, options.queries, options.seed))
    for name, number in sorted(told.items()):
        print(f"{number:6}  {name}")
    print(f"{sum(told.values()):6}  queries over {len(part.quads)} quads; unexplained {told['unexplained']} (bar 0)")
    sys.exit(told["unexplained"] > 0 or sum(told.values()) < options.queries)


if __name__ == "__main__":
    main()
