"""The examples in README.md: `python -m tests.docs` writes their present output into the file; a test compares it."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import sys
from pathlib import Path

from lenticel.cli import main

README = Path(__file__).parents[1] / "README.md"
BLOCK = re.compile(r"```console\n\$ lenticel (?P<command>[^\n]*)\n(?P<output>.*?)```", re.DOTALL)


def output_of(command: str) -> str:
    """What the command prints, with blanks at line ends taken off."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        main(shlex.split(command, comments=True))
    return "".join(f"{line.rstrip()}\n" for line in out.getvalue().splitlines())


def examples() -> list[tuple[str, str]]:
    """The commands shown in README.md, each with the output shown."""
    return [(found["command"], found["output"]) for found in BLOCK.finditer(README.read_text(encoding="utf-8"))]


def refresh() -> None:
    """Write the present output of each command into README.md."""
    text = README.read_text(encoding="utf-8")
    README.write_text(BLOCK.sub(lambda found: f"```console\n$ lenticel {found['command']}\n{output_of(found['command'])}```", text), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(refresh())
