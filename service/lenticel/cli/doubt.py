"""The command that says what to doubt."""

from __future__ import annotations

import argparse

from lenticel.cli.commands import Commands, show
from lenticel.cli.meant import knowledge_meant
from lenticel.cli.seen import observed, take_observations
from lenticel.doubt import MOST, doubt
from lenticel.observation import Reader, read_observations
from lenticel.text import doubt_text


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add(
        "doubt", _doubt, "What to doubt when nothing fits, and what is a slip or two away?",
        "lenticel doubt -o leaf-arrangement=alternate -o fruit-type=paired-samara -o leaf-lobing=palmately-lobed",
    )  # fmt: skip
    take_observations(sub)
    sub.add_argument("--most", type=int, choices=range(1, MOST + 1), default=MOST, metavar=f"1-{MOST}", help="the most slips of a set (default %(default)s)")
    sub.add_argument("--explain", type=int, default=5, metavar="N", help="how many sets and taxa to explain (default %(default)s)")


def _doubt(options: argparse.Namespace) -> int:
    rows, context = observed(options)
    snapshot = knowledge_meant(options.knowledge)
    answer = doubt(snapshot, read_observations(Reader(snapshot), rows), context, most=options.most)
    return show(options, answer, doubt_text(snapshot.knowledge, answer, listed=max(options.explain, 1)))
