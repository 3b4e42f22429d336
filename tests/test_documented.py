"""README.md names every status, every code of a problem and every header that the service can send, and none besides."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from http import HTTPStatus
from pathlib import Path

import pytest
from httpx import Client, Response

from lenticel.api import create_app
from lenticel.problems import STATUSES, TITLES
from lenticel.snapshot import Snapshot
from tests.conftest import ROOT
from tests.endpoint import running
from tests.operations import operations

SERVICE = ROOT / "service" / "lenticel"
SPEAKS = (SERVICE / "problems.py", SERVICE / "refused.py", SERVICE / "examples.py", *sorted((SERVICE / "api").glob("*.py")))  # modules that give statuses
LEFT = 499  # for the log alone: the caller is gone
OF_HTTP = {"content-type", "content-length", "transfer-encoding", "date"}  # what any answer may have, and means what HTTP says
SITE = {"origin": "https://example.org"}
PREFLIGHT = {"access-control-request-method": "POST", "access-control-request-headers": "content-type"}


def table(head: str) -> dict[str, list[str]]:
    """The rows of the table of README.md that begins so: the first cell, and the others."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    rows = text[text.index(f"| {head} |") :].partition("\n\n")[0].splitlines()[2:]
    return {first: rest for first, *rest in ([cell.strip() for cell in row.split("|")[1:-1]] for row in rows)}


def tree(path: Path) -> Iterator[ast.AST]:
    return ast.walk(ast.parse(path.read_text(encoding="utf-8")))


def numbers() -> set[int]:
    """Every number of a status, from 301 on, that stands in a module of the service, whatever it stands for, as a number or as text."""
    written = (str(node.value) for path in SPEAKS for node in tree(path) if isinstance(node, ast.Constant) and type(node.value) in (int, str))
    return {int(each) for each in written if re.fullmatch(r"[345]\d\d", each) and int(each) > 300} & {*HTTPStatus, LEFT}


def pairs() -> set[tuple[int, str]]:
    """Every status with the code of a problem that has it."""
    found = {(status, code) for code, status in STATUSES.items()} | {(404, "unknown-term"), (422, "bad-request")}
    for node in (node for path in SPEAKS for node in tree(path)):
        if isinstance(node, ast.Call) and ast.unparse(node.func).rpartition(".")[2] in ("problem", "members") and len(node.args) >= 2:
            status, code = node.args[:2]
            if isinstance(status, ast.Constant) and isinstance(code, ast.Constant):
                found.add((status.value, code.value))
    return found | {(422, code) for code in TITLES.keys() - {code for _, code in found}} | {(422, "unknown-term")}


@pytest.fixture(scope="module")
def answers(workshop: Snapshot, workshop_store: Path) -> list[Response]:
    """Answers of every operation but that of saved questions, which is SPARQL's, and of what goes wrong in the ways that have headers of their own."""
    with running(workshop, workshop_store) as service, Client(base_url=service.url, headers=SITE, timeout=60) as client:
        asked = [answer for each in operations(client.get("/openapi.json").json()) if each.id != "question" for answer in each.asked(client)]
        pages = [client.get(path, headers={"accept": "text/html"}) for path in ("/", "/query")]
        wrong = [client.put("/v1/identify"), client.get("/nothing"), client.post("/v1/identify", content=b" " * (1 << 21))]
        return [*asked, *pages, *wrong, client.options("/v1/identify", headers=PREFLIGHT), client.get("/v1/stats", headers={"if-none-match": "*"})]


def test_the_readme_says_of_every_status_what_it_means_and_what_to_do() -> None:
    """Held against each number in the code of the service that could be one, so that none can be given that stands in no list."""
    given, listed = numbers() - {LEFT}, {int(each) for each in table("status")}
    assert len(given) >= 15
    assert listed == given | {200}
    assert all(len(meaning) > 10 for _, meaning in table("status").values())


def test_the_document_gives_no_status_that_the_readme_does_not_list(workshop: Snapshot) -> None:
    document = create_app(workshop).openapi()
    statuses = {status for each in operations(document) for status in each.body["responses"]}
    assert len(statuses) >= 10
    assert statuses - table("status").keys() == set()


def test_the_readme_lists_every_code_of_a_problem_with_its_status() -> None:
    """Each opens at /problems/<code>, which tests/test_api.py holds."""
    listed = {(int(status), code) for status, (codes, _) in table("status").items() for code in re.findall(r"[a-z-]+", codes)}
    assert {code for _, code in listed} == set(TITLES)
    assert listed == pairs()


def test_the_readme_says_of_every_header_that_is_sent_what_it_says(answers: list[Response]) -> None:
    assert len(answers) > 60
    assert {each.status_code for each in answers} >= {200, 304, 404, 405, 413}
    sent = {name.lower() for each in answers for name in each.headers} - OF_HTTP
    text = " ".join(name + meaning for name, (meaning,) in table("header").items())
    assert len(sent) >= 15
    assert [name for name in sorted(sent) if f"`{name}`" not in text] == []
