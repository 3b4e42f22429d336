"""The guides for curators hold: their blocks are followed to the letter, in order, in a folder of their own."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import shutil
from pathlib import Path

import pytest

from lenticel.cli import main
from tests.conftest import ROOT

BLOCK = re.compile(r"^```(console|csv (?P<file>\S+)(?P<whole> whole)?)\n(?P<text>.*?)^```$", re.DOTALL | re.MULTILINE)


def follow(command: str) -> str:
    """Run a command of a guide: `cp -r`, or `lenticel`, which must end without a fault, or with one if `|| true` stands behind it; what it printed."""
    name, *words = shlex.split(command.removesuffix(" || true"))
    if name == "cp":
        shutil.copytree(words[1], words[2])
        return ""
    assert name == "lenticel"
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        assert main(words) == int(command.endswith(" || true")), f"{command}\n{out.getvalue()}"
    return out.getvalue()


def test_the_guides_followed_to_the_letter_work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Below each command stand words that it must print."""
    shutil.copytree(ROOT / "fixtures", tmp_path / "fixtures")
    monkeypatch.chdir(tmp_path)
    commands = printed = 0
    output = ""
    for block in BLOCK.finditer((ROOT / "GUIDES.md").read_text(encoding="utf-8")):
        if block["file"]:
            with Path(block["file"]).open("w" if block["whole"] else "a", encoding="utf-8") as file:
                file.write(block["text"])
            continue
        for line in block["text"].splitlines():
            if line.startswith("$ "):
                output, commands = follow(line[2:]), commands + 1
            else:
                assert line in output, f"{line!r} is not in\n{output}"
                printed += 1
    assert commands >= 20
    assert printed >= 20


def test_the_guides_show_each_step_of_a_curator() -> None:
    text = (ROOT / "GUIDES.md").read_text(encoding="utf-8")
    shown = {found[1] for found in re.finditer(r"^\$ lenticel (\w+)", text, re.MULTILINE)}
    due = {"draft", "terms", "check", "account", "compare", "changes", "recorded", "import", "identify", "disagreements", "why", "review", "export", "release"}
    assert due <= shown
