"""The command for very many plants or claims."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from lenticel.cli.commands import Commands
from lenticel.cli.meant import knowledge_meant
from lenticel.errors import BadFile
from lenticel.identify import Context
from lenticel.text.parts import warned

MOST_WORKERS = 64
INTERRUPTED = 130  # 128 and the number of SIGINT, as shells have it


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    told = "Name very many plants, or judge very many claims, from a file into a file. Cut off, the same command goes on where it stopped."
    sub = commands.add("batch", _batch, told, "lenticel batch seen.csv --out answers.csv --workers 2", as_json=False)
    forms = (
        "CSV or Parquet: plant,character,value (the rows of a plant together), or plant and a column a character; taxon, if the plant is said to be one;"
        " or .ndjson: lines as the API takes them"
    )
    sub.add_argument("file", metavar="FILE", help=forms)
    sub.add_argument("--out", required=True, metavar="FILE", help="the answers: .csv or .parquet; .ndjson for .ndjson")
    sub.add_argument("--claims", action="store_true", help="the file holds claims: taxon,character,value")
    sub.add_argument("--workers", type=int, default=1, choices=range(1, MOST_WORKERS + 1), metavar=f"1-{MOST_WORKERS}", help="processes (default %(default)s)")
    sub.add_argument("--wild", action="store_true", help="nobody planted them, so that habitat excludes too")
    sub.add_argument("--month", type=int, choices=range(1, 13), default=0, metavar="1-12", help="when they were seen")
    sub.add_argument("--region", default="", metavar="REGION", help="where they stand, such as Ontario or ont; it orders and never excludes")


def _batch(options: argparse.Namespace) -> int:
    try:
        from tqdm import tqdm

        from lenticel.batch import Task, batch
    except ModuleNotFoundError as error:
        raise BadFile(f"Files of very many plants need {error.name}.", "Install it with: pip install 'lenticel[bulk]'") from None
    snapshot = knowledge_meant(options.knowledge)
    task = Task(options.claims, Context(options.wild, options.month, options.region))
    with tqdm(unit="B", unit_scale=True, file=sys.stderr, disable=None) as bar:

        def progress(part: int, total: int) -> None:
            bar.total = total
            bar.update(part)

        try:
            done = batch(snapshot, Path(options.file), Path(options.out), task, workers=options.workers, progress=progress)
        except KeyboardInterrupt:
            print("Interrupted. Run the same command again to go on.", file=sys.stderr)
            return INTERRUPTED
    known = snapshot.knowledge
    for line in warned(known, [known.cautions[key] for key in done.cautions]):
        print(line, file=sys.stderr)
    before = f"; {done.resumed} chunks were finished before" if done.resumed else ""
    print(f"{done.answered} answered, {done.problems} of them with a problem{before}.", file=sys.stderr)
    return 0
