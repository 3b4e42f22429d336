"""A question in its usual form is read as its model reads it, and whatever the model refuses is left to it."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel.errors import BadQuestion
from lenticel.plain import plain_question
from lenticel.requests import IdentifyRequest, parse_request

WORDS = st.sampled_from(["", "leaf-margin", "serrate|crenate", "7.5±0.5 cm", 'a "quoted" word', "ö", "\t", "x" * 200, "x" * 201, "x" * 401])
ANYTHING = st.one_of(WORDS, st.none(), st.booleans(), st.integers(-2, 13), st.just(10_001), st.just(1.0), st.just(10**30), st.lists(WORDS, max_size=2))
OBSERVATIONS = st.one_of(
    st.fixed_dictionaries({"character": WORDS, "value": WORDS}),
    st.dictionaries(st.sampled_from(["character", "value", "states", "absent", "other"]), ANYTHING, max_size=3),
    ANYTHING,
)
FITTING = {
    "observations": st.lists(st.fixed_dictionaries({"character": st.just("leaf-margin"), "value": WORDS}), max_size=3),
    "month": st.integers(0, 13), "wild": st.booleans(), "region": WORDS, "every_rank": st.booleans(),
    "explain": st.integers(-1, 10_001), "excluded": st.integers(-1, 10_001),
}  # fmt: skip
OPTIONAL = {name: each for name, each in FITTING.items() if name != "observations"}
QUESTIONS = st.one_of(
    st.fixed_dictionaries({"observations": FITTING["observations"]}, optional=OPTIONAL),
    st.dictionaries(st.sampled_from([*FITTING, "other"]), st.one_of(ANYTHING, st.lists(OBSERVATIONS, max_size=3)), max_size=4),
    ANYTHING,
)


def both(body: bytes) -> bool:
    """Read a body in both ways; whether it is read without the model."""
    found = plain_question(body)
    if found is None:
        return False
    model = parse_request(body, IdentifyRequest)
    assert (found.rows(), found.context()) == (model.rows(), model.context())
    assert (found.every_rank, found.explain, found.excluded) == (model.every_rank, model.explain, model.excluded)
    return True


@settings(max_examples=400, deadline=None)
@given(QUESTIONS, st.data())
def test_what_is_read_without_the_model_the_model_reads_alike(question: Any, data: st.DataObject) -> None:
    text = json.dumps(question, ensure_ascii=data.draw(st.booleans())).encode()
    both(text)
    place, length = data.draw(st.integers(0, len(text))), data.draw(st.integers(0, 3))
    both(text[:place] + data.draw(st.binary(max_size=3)) + text[place + length :])
    again = data.draw(st.integers(0, len(text)))
    both(text[:again] + text[place:])


@pytest.mark.parametrize(
    "body",
    [
        b'{"observations": [{"character": "leaf-margin", "value": "serrate"}]}',
        b'{"observations": [], "explain": 0, "wild": true, "month": 2, "region": "ont", "every_rank": false, "excluded": 0}',
        '{"explain":3,"observations":[{"value":"7.5±0.5 cm","character":"ö"},{"character":"a","value":""}]}'.encode(),
    ],
)
def test_the_usual_form_is_read_without_the_model(body: bytes) -> None:
    assert both(body)


@pytest.mark.parametrize(
    "body",
    [
        b'{"observations": [], "explain": 0, "explain": 0}',
        b'{"observations": [{"character": "a", "character": "b", "value": "c"}]}',
        b'{"observations": [{"character": "a", "value": "c"}], "observations": []}',
        b'{"observations": [], "explain": 1.0}',
        b'{"observations": [], "explain": true}',
        b'{"observations": [], "month": 0}',
        b'{"observations": [], "else": 1}',
        b'{"observations": [{"character": "", "value": "c"}]}',
        b'{"observations": [{"character": "a", "value": "\xff"}]}',
        b'\xef\xbb\xbf{"observations": []}',
        b'{"observations": [{"character": "a", "value": "%b"}]}' % (b"x" * 401),
        b'{"observations": [{"character": "%b", "value": "c"}]}' % (b"x" * 201),
        b'{"observations": [], "region": "%b"}' % (b"x" * 81),
        b'{"observations": [%b]}' % b",".join([b'{"character": "a", "value": "c"}'] * 201),
        b'{"explain": 0}',
        b"[]",
    ],
)
def test_what_the_model_refuses_is_left_to_it(body: bytes) -> None:
    assert plain_question(body) is None
    with pytest.raises(BadQuestion):
        parse_request(body, IdentifyRequest)
