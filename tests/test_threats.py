"""Every promise of the threat model names a test that exists."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_every_promise_names_tests_that_exist() -> None:
    rows = [line for line in (ROOT / "THREATS.md").read_text(encoding="utf-8").splitlines() if line.startswith("| ") and "---" not in line][1:]
    assert len(rows) >= 10
    for row in rows:
        named = re.findall(r"`(tests/[\w/]+\.py)::(test_\w+)`", row)
        assert named, row
        for path, test in named:
            assert f"def {test}(" in (ROOT / path).read_text(encoding="utf-8"), (path, test)


def test_the_container_runs_a_command_that_there_is() -> None:
    from lenticel.cli.commands import Commands
    from lenticel.cli.serve import add

    text = (ROOT / "Containerfile").read_text(encoding="utf-8")
    words = re.search(r'^CMD \["lenticel", (.*)\]$', text, re.MULTILINE)
    assert words
    commands = Commands()
    add(commands)
    options = commands.parser.parse_args([word.strip('" ') for word in words[1].split(",")])
    assert (options.host, options.port) == ("0.0.0.0", 8000)
    assert "USER lenticel" in text
