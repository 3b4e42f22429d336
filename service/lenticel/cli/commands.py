"""The command line as a whole: what every command shares."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from typing import Any

from lenticel.answers import as_json
from lenticel.cli.meant import RULE
from lenticel.version import __version__

EXAMPLES = """\
examples:
  lenticel identify -o leaf-arrangement=opposite -o bud-colour=green -o "terminal-bud-length=9 mm"
  lenticel identify seen.csv --wild --prove     # seen.csv has the columns character,value
  lenticel compare "sugar maple" "Norway maple" --season winter
  lenticel account "red maple"
  lenticel terms bud
  lenticel check --knowledge my-tables/

values:
  serrate   serrate|crenate (one of them)   "not milky"   "7.5 cm"   "7.5±0.5 cm"   5-8   ">=12 m"   absent
"""


class Commands:
    """The parser, to which each group of commands adds its own."""

    def __init__(self) -> None:
        self.parser = argparse.ArgumentParser(
            prog="lenticel",
            description="Ask sourced trait knowledge what a plant is, why, and on whose word.",
            epilog=EXAMPLES,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        self.parser.add_argument("--version", action="version", version=f"lenticel {__version__}")
        self._commands = self.parser.add_subparsers(required=True, metavar="COMMAND", dest="command")

    def add(self, name: str, run: Callable[[argparse.Namespace], int], help_text: str, example: str, *, as_json: bool = True) -> argparse.ArgumentParser:
        """Add a command.

        Args:
            name: what one types.
            run: does it, and returns the exit status.
            help_text: one line.
            example: a command line that works.
            as_json: whether it takes `--json`.
        """
        sub = self._commands.add_parser(
            name, help=help_text, description=help_text, epilog=f"example:\n  {example}", formatter_class=argparse.RawDescriptionHelpFormatter
        )
        sub.set_defaults(run=run)
        sub.add_argument("--knowledge", metavar="FOLDER", help=f"a folder of tables or a snapshot (default: {RULE})")
        if as_json:
            sub.add_argument("--json", action="store_true", help="answer as JSON, the same as the API's")
        return sub


def show(options: argparse.Namespace, answer: Any, lines: Iterable[str]) -> int:
    """Print an answer, as JSON or line by line."""
    if options.json:
        print(as_json(answer).decode())
        return 0
    for line in lines:
        print(line)
    return 0
