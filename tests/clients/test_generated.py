"""Clients that others make from the document alone compile, and make the main call."""

from __future__ import annotations

import importlib
import json
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import httpx
import pytest

from tests.operations import Operation, operations

# A picture, lines of JSON, and a query as a body, for which the maker of the Python client has no types; a query as a form it can send.
UNTYPED = {"coveragePicture", "identifyMany", "judgeManyClaims", "sparqlByPost"}
PACKAGES = {"openapi-typescript": "7.4.4", "typescript": "5.7.2"}
HERE = Path(__file__).parent


def _run(*command: str, where: Path, fails: bool = False) -> str:
    done = subprocess.run(command, cwd=where, capture_output=True, text=True, timeout=240, check=False)
    assert bool(done.returncode) == fails, done.stdout + done.stderr
    return done.stdout + done.stderr


def _identify(document: dict[str, Any]) -> Operation:
    return next(each for each in operations(document) if each.id == "identify")


def _example(document: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = _identify(document).body["requestBody"]["content"]["application/json"]["example"]
    assert found["observations"]
    return found


def _told(service: str, question: dict[str, Any]) -> list[str]:
    found = [each["taxon"] for each in httpx.post(f"{service}/v1/identify", json=question).json()["consistent"]]
    assert found
    return found


@pytest.fixture(scope="module")
def made(present: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The Python client, and what its maker said."""
    folder = tmp_path_factory.mktemp("python")
    (folder / "openapi.json").write_text(json.dumps(present))
    maker = "from openapi_python_client.cli import app; app()"
    said = _run(sys.executable, "-c", maker, "generate", "--path", "openapi.json", "--meta", "none", "--output-path", "made_client", where=folder)
    return folder, said


@pytest.fixture
def client(made: tuple[Path, str], monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(made[0]))
    return importlib.import_module("made_client")


def test_a_python_client_has_every_operation_but_those_that_are_named_here(present: dict[str, Any], made: tuple[Path, str]) -> None:
    folder, said = made
    _run(sys.executable, "-m", "compileall", "-q", "made_client", where=folder)
    found = {path.stem.rstrip("_").replace("_", "") for path in (folder / "made_client" / "api").rglob("*.py")}
    wanted = {each.id for each in operations(present)}
    assert len(wanted) >= 35
    assert {each for each in wanted if each.lower() not in found} <= UNTYPED
    assert said.count("WARNING parsing") <= len(UNTYPED), said
    assert "Unable to" not in said


def test_the_python_client_makes_the_main_call(present: dict[str, Any], client: ModuleType, service: str) -> None:
    identify = importlib.import_module("made_client.api.questions.identify").sync
    models = importlib.import_module("made_client.models")
    question = _example(present)
    answer = identify(client=client.Client(base_url=service), body=models.IdentifyRequest.from_dict(question))
    assert isinstance(answer, models.Answer)
    assert [each.taxon for each in answer.consistent] == _told(service, question)


def test_the_python_client_reads_a_problem(client: ModuleType, service: str) -> None:
    compare = importlib.import_module("made_client.api.questions.compare").sync
    problem = compare(client=client.Client(base_url=service), taxa=["nothing-at-all", "nothing-either"])
    assert isinstance(problem, importlib.import_module("made_client.models").Problem)
    assert problem.code == "unknown-term"


@pytest.fixture(scope="module")
def compiled(present: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the types, the program that uses them, and what it was compiled to."""
    if not (shutil.which("npm") and shutil.which("node")):
        pytest.skip("node and npm are not installed")
    folder = tmp_path_factory.mktemp("typescript")
    (folder / "package.json").write_text(json.dumps({"private": True, "devDependencies": PACKAGES}))
    installed = subprocess.run(
        ("npm", "install", "--no-audit", "--no-fund", "--no-package-lock", "--prefer-offline"),
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    if installed.returncode:
        pytest.skip(f"npm cannot install {', '.join(PACKAGES)}: {installed.stderr[-200:]}")
    (folder / "openapi.json").write_text(json.dumps(present))
    _run("npx", "openapi-typescript", "openapi.json", "-o", "api.d.ts", where=folder)
    shutil.copy(HERE / "main.ts", folder)
    _compile(folder, "main.ts")
    return folder


def _compile(folder: Path, name: str, *, fails: bool = False) -> str:
    return _run("npx", "tsc", "--strict", "--target", "es2022", "--module", "nodenext", "--lib", "es2022,dom", name, where=folder, fails=fails)


def test_a_typescript_program_compiles_against_the_types_and_makes_the_main_call(present: dict[str, Any], compiled: Path, service: str) -> None:
    question = _example(present)
    assert json.loads(_run("node", "main.js", service, json.dumps(question), where=compiled)) == _told(service, question)
    wrong = {"observations": [{"character": "no-such-thing", "states": ["x"]}]}
    assert "unknown-term" in _run("node", "main.js", service, json.dumps(wrong), where=compiled)


def test_a_typescript_program_that_reads_a_field_which_is_not_there_does_not_compile(compiled: Path) -> None:
    wrong = (HERE / "main.ts").read_text(encoding="utf-8").replace("each.taxon", "each.species")
    (compiled / "wrong.ts").write_text(wrong)
    assert "species" in _compile(compiled, "wrong.ts", fails=True)
