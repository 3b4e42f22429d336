"""Generated queries: our worker's engine gives the rows that rdflib gives, and what is no whole answer is noticed. `tests/benchmarks` asks thousands."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.whole import rows_in
from tests.queries import Engines, Part, difference, part_of, queries_of

QUERIES = 50


@pytest.fixture(scope="module")
def part(workshop_dataset: Path) -> Part:
    return part_of(workshop_dataset, 6)


@pytest.fixture(scope="module")
def engines(part: Part) -> Engines:
    return Engines(part)


def test_two_engines_give_the_same_rows(part: Part, engines: Engines) -> None:
    """Each as often as the other; at least a quarter of the queries finds something, else this would say little."""
    told = Counter(difference(engines, query) for query in queries_of(part, QUERIES))
    assert told["unexplained"] == 0
    assert told["alike, something found"] > QUERIES // 4


def test_an_engine_that_loses_a_row_is_noticed(part: Part, engines: Engines, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = engines.theirs

    def losing(query: str) -> Any:
        found = kept(query)
        return found if isinstance(found, bool) else found - Counter(dict.fromkeys(list(found)[:1], 1))

    monkeypatch.setattr(engines, "theirs", losing)
    assert "unexplained" in {difference(engines, query) for query in queries_of(part, 10)}


@pytest.mark.parametrize(
    ("kind", "body", "rows"),
    [
        ("application/sparql-results+json", b'{"head":{"vars":["a"]},"results":{"bindings":[{},{}]}}', 2),
        ("application/sparql-results+xml", b'<sparql xmlns="http://www.w3.org/2005/sparql-results#"><results><result/><result/></results></sparql>', 2),
        ("text/csv", b'a\r\n"one\r\nmore"\r\ntwo\r\n', 2),
        ("text/tab-separated-values", b'?a\n"one"\n"two"\n', 2),
        ("text/turtle", b"<http://e/a> <http://e/b> 1 , 2 .", 2),
    ],
)
def test_a_body_that_was_cut_is_noticed(kind: str, body: bytes, rows: int) -> None:
    """It cannot be read, or holds fewer rows than were announced."""
    assert rows_in(kind, body) == rows
    try:
        assert rows_in(kind, body[: -len(body) // 3]) < rows
    except Exception:
        return
