"""The command `lenticel`."""

from __future__ import annotations

import gc
import sys
from collections.abc import Sequence

from lenticel.cli import batch, curate, doubt, draft, exchange, identify, knowledge, lessons, review, serve, sparql, walk, why
from lenticel.cli.commands import Commands
from lenticel.errors import FaultyTables, LenticelError, OutsideFragment

# A command reads millions of small objects that live as long as it does: the usual 700 would look through them all the time.
PATIENT = (50_000, 20, 20)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns 0, or 1 for faults and bad input, 2 for a wrong command line."""
    commands = Commands()
    for group in (identify, batch, walk, doubt, why, knowledge, lessons, curate, draft, review, exchange, sparql, serve):
        group.add(commands)
    options = commands.parser.parse_args(argv)
    gc.set_threshold(*PATIENT)
    try:
        return int(options.run(options))
    except (FaultyTables, OutsideFragment) as error:
        print(str(error), file=sys.stderr)
    except LenticelError as error:
        where = f" (at {error.where})" if error.where else ""
        print(f"{error.code}: {error.message}{where}\nfix: {error.fix}", file=sys.stderr)
    except BrokenPipeError:
        sys.stderr.close()
    except OSError as error:
        if error.filename is None:
            raise
        print(
            f"bad-file: {str(error.filename)!r} cannot be read or written: {error.strerror}.\nfix: Check its name, and that its folder is there.",
            file=sys.stderr,
        )
    return 1
