"""Whatever a client sends, reading it ends in an answer or a refusal, never in a fault."""

from __future__ import annotations

from urllib.parse import urlencode

from hypothesis import example, given
from hypothesis import strategies as st

from lenticel.hints import place_of, updates
from lenticel.negotiate import chosen, named, ranges_of
from lenticel.refused import REASONS, Refused
from lenticel.sparql import GRAPHS, SOLUTIONS, query_of, read_request
from lenticel.tokens import filled, keywords, named_iris, readable, tokens, undeclared

FORMS = (*SOLUTIONS, *GRAPHS)
WORDS = ["text/csv", "*/*", "text/*", "application/json", "text/turtle", ";", ",", "q=", "=", "0.5", "1.0001", "q=1", "charset=utf-8", '"', "\\", " ", "*", "/"]
HEADERS = st.one_of(st.text(max_size=300), st.lists(st.sampled_from(WORDS), max_size=40).map("".join))
PIECES = [
    "SELECT", "ASK", "{", "}", "?x", "$y", "<a>", "<a b>", "lt:x", ":", "_:b", "'", '"', "'''", '"""', "\\", "#", "\n", "\\u0053", "\\U0010FFFF", "\\uD800",
    ".", "PREFIX", "BASE", "SERVICE", "INSERT", "a", "1.5e", "@en", "^^", "<<", "\u201c", "\x00", "\u00b7", "é:é",
]  # fmt: skip
LISTS = st.lists(st.sampled_from(PIECES), max_size=60)
QUERIES = st.one_of(st.text(max_size=300), LISTS.map(" ".join), LISTS.map("".join))
NAMES = st.sampled_from(["query", "update", "default-graph-uri", "named-graph-uri", "timeout", "format", "using-graph-uri", "x"])
TYPES = st.sampled_from(["", "application/x-www-form-urlencoded", "application/sparql-query", "application/sparql-update", "text/plain", "a;charset=utf-16"])
FIELDS = st.one_of(st.binary(max_size=300), st.lists(st.tuples(NAMES, QUERIES)).map(lambda rows: urlencode(rows, errors="replace").encode()))


@given(HEADERS)
@example(",".join(["text/csv;q=0.1"] * 1000))
def test_any_accept_header_is_read(accept: str) -> None:
    found = chosen(accept, FORMS)
    assert found is None or found in FORMS
    assert all(0 <= each.weight <= 1 for each in ranges_of(accept))
    named(accept, FORMS)


@given(st.lists(st.tuples(st.sampled_from(FORMS), st.integers(0, 1000)), min_size=1, max_size=6, unique_by=lambda pair: pair[0].media_type))
def test_the_form_of_the_greatest_weight_is_chosen(liked: list[tuple[object, int]]) -> None:
    accept = ", ".join(f"{form.media_type};q={weight / 1000:.3f}" for form, weight in liked)  # type: ignore[attr-defined]
    found = chosen(accept, FORMS)
    weights = {form.media_type: weight for form, weight in liked}  # type: ignore[attr-defined]
    best = max(weights.values())
    if best == 0:
        assert found is None
    else:
        assert found
        assert max(weights.get(name, 0) for name in (found.media_type, *found.also)) == best


@given(st.sampled_from(["GET", "POST"]), FIELDS, TYPES, FIELDS, HEADERS)
def test_any_request_is_read_or_refused(method: str, address: bytes, content_type: str, body: bytes, accept: str) -> None:
    refused = None
    try:
        request = read_request(method, address, content_type, body, 30)
        if request.query is not None:
            query_of(request, accept, "http://e/")
    except Refused as error:
        refused = error
    assert refused is None or (refused.code in REASONS and 400 <= refused.status < 500)


@given(QUERIES)
def test_any_text_has_tokens_that_cover_it(query: str) -> None:
    assert "".join("".join(text.split()) for _, text in tokens(query)) in "".join(readable(query).split()) or "#" in query
    keywords(query)
    updates(query)
    undeclared(query, {"lt": "http://e/"})
    named_iris(query, "http://e/", {"lt": "http://e/"})
    assert filled(query, {}) == query


@given(QUERIES, st.integers(0, 50), st.integers(0, 400))
def test_any_mistake_has_a_place(query: str, line: int, column: int) -> None:
    found = place_of(query, f"error at {line}:{column}: expected", {"lt": "http://e/"})
    assert (found.line, found.column) == (line, column)
    assert len(found.near) <= len(query)
