"""What the documents show is what happens."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lenticel.api import create_app
from lenticel.guide import guide
from lenticel.snapshot import Snapshot
from tests.conftest import ROOT
from tests.docs import README, examples, output_of


@pytest.fixture(autouse=True)
def at_the_root(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.chdir(ROOT)
    return


@pytest.mark.parametrize(("command", "shown"), examples(), ids=[command for command, _ in examples()])
def test_the_readme_shows_what_the_command_prints(command: str, shown: str) -> None:
    """After a change of the knowledge: `python -m tests.docs` writes the new output."""
    assert output_of(command) == shown


def test_every_file_that_a_command_of_the_readme_reads_is_there() -> None:
    """So that a newcomer can type each of them as it stands; what an option or another command writes need not be there."""
    commands = re.findall(r"`lenticel ([^`]*)`", README.read_text(encoding="utf-8"))
    written = {each for command in commands for each in re.findall(r"(?:--out|--picture|--to|>) (\S+)", command)}
    read = {each for command in commands for each in re.findall(r"\S+\.(?:csv|rq|ttl|svg)\b", command)} - written
    assert len(read) >= 4
    assert [each for each in read if not Path(each).is_file()] == []


def test_the_readme_shows_at_least_three_commands() -> None:
    assert len(examples()) >= 3


def test_the_readme_says_of_every_header_that_a_page_elsewhere_may_read_what_it_says(workshop: Snapshot) -> None:
    answer = TestClient(create_app(workshop)).get("/v1/stats", headers={"origin": "https://example.org"})
    headers = answer.headers["access-control-expose-headers"].split(", ")
    assert len(headers) >= 12
    rows = "".join(line.partition(" | ")[0] for line in README.read_text(encoding="utf-8").splitlines() if line.startswith("| `"))
    assert [each for each in headers if f"`{each}`" not in rows] == []


def test_the_python_example_of_the_readme_runs(capsys: pytest.CaptureFixture[str]) -> None:
    code = re.search(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert code
    exec(compile(code[1], "README.md", "exec"), {})
    assert "acer-" in capsys.readouterr().out


def test_the_typescript_example_of_the_readme_is_the_beginning_of_the_program_that_is_compiled_and_run() -> None:
    """`tests/clients/test_generated.py` does so, wherever node and npm are installed."""
    (shown,) = re.findall(r"```ts\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert shown.count("\n") >= 10
    about, _, program = Path("tests/clients/main.ts").read_text(encoding="utf-8").partition("\n")
    assert about.startswith("//")
    assert program.startswith(shown)


def test_the_guide_is_the_one_that_the_schema_prints() -> None:
    """After a change of the schema: `lenticel guide > ontology/GUIDE.md`."""
    assert Path("ontology/GUIDE.md").read_text(encoding="utf-8") == guide()


def test_every_module_stands_in_the_developers_page() -> None:
    page = Path("DEVELOPERS.md").read_text(encoding="utf-8")
    missing = [path.stem for path in Path("service/lenticel").glob("*.py") if not path.stem.startswith("__") and f"`{path.stem}`" not in page]
    assert not missing
