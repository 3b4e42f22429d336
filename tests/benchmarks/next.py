"""How fast all outcomes of all characters are counted, over very many taxa: `python -m tests.benchmarks.next`.

Over all generated taxa, and over one in a hundred of them, beside one read of the same bytes at the speed of memory in the same run. The
counts are first held against plain ones on a sample of planes. With the extra `fast` the kernels are compiled, without it NumPy does the work.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path
from statistics import median

import numpy as np

from lenticel import store
from lenticel.snapshot import members_of
from lenticel.sweep import sweep
from tests.benchmarks import generated
from tests.benchmarks.timing import timed

TIMES = 9


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", type=int, nargs=2, default=[350_000, 500], metavar=("TAXA", "CHARACTERS"))
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        generated.write(Path(name), *options.size, options.seed)
        snapshot = store.load(Path(name))
        made, count = sweep(snapshot), snapshot.taxa_count
        everything = np.arange(count)
        few = np.sort(np.random.default_rng(options.seed).choice(count, count // 100, replace=False))
        for rows in (everything, few):
            counted = made.count(rows).left
            for place in range(0, len(snapshot.hard), max(1, len(snapshot.hard) // 40)):
                assert counted[place] == members_of(snapshot.hard[place], count)[rows].sum(), place
        planes = np.concatenate((snapshot.hard, made.bins))
        read = median(timed(lambda: np.bitwise_or.reduce(planes.reshape(-1)), TIMES))
        whole, part = (median(timed(lambda rows=rows: made.count(rows), TIMES)) for rows in (everything, few))
    sys.stdout.write(
        f"{count:,} taxa, {options.size[1]} characters, {planes.nbytes / 1e6:.0f} MB of planes\n"
        f"one read of them: {1e3 * read:.1f} ms\nall taxa: {1e3 * whole:.1f} ms (bar 16), {whole / read:.1f} reads (bar 2)\n"
        f"one in a hundred: {1e3 * part:.2f} ms (bar 1)\n"
    )


if __name__ == "__main__":
    main()
