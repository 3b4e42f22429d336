"""JSON is read as the standard has it, and a fault is pointed to wherever it stands."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lenticel.notation import MOST_DEPTH, MOST_DIGITS, MOST_NAMES, MOST_SIGNS, BadJson, Misfit, pointer, read_json
from lenticel.requests import QUESTIONS, parse_request
from tests.conftest import ROOT

HERE = "@the place of the fault@"
NAMES = st.text('ab05/~"\\\n[]{}:, \u00e9\u4e94\U0001f333', max_size=4)
LEAVES = st.none() | st.booleans() | st.integers(-(10**20), 10**20) | st.floats(allow_nan=False, allow_infinity=False) | NAMES
DOCUMENTS = st.recursive(LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3), max_leaves=6)
# Each stands where a value should, and is refused where it begins or within.
FAULTS = (
    b"NaN", b"Infinity", b"-Infinity", b"NaN5", b"9" * 1001, b"-" + b"9" * 5000, b"nul", b"5mm", b"01", b"+1", b".5", b"1.", b"0x10", b"'x'", b"None",
    b'"\\x41"', b'"\\u12"', b'"a\nb"', b'"\x00"', b"\xef\xbb\xbf5", b'"\xff"', b'"\xed\xa0\x80"', b'"half \xe2\x82"', b"\xff", b"//", b'{"a" 5}',
)  # fmt: skip


@st.composite
def planted(draw: st.DrawFn) -> tuple[tuple[int | str, ...], str]:
    """A document as text, with `HERE` for one of its values, and the steps that lead there."""
    inner: Any = HERE
    steps: list[int | str] = []
    for _ in range(draw(st.integers(0, 5))):
        if draw(st.booleans()):
            before = draw(st.lists(DOCUMENTS, max_size=2))
            steps.insert(0, len(before))
            inner = [*before, inner, *draw(st.lists(DOCUMENTS, max_size=1))]
        else:
            name = draw(NAMES)
            steps.insert(0, name)
            before, after = (draw(st.dictionaries(NAMES.filter(lambda each, name=name: each != name), DOCUMENTS, max_size=2)) for _ in range(2))
            inner = {**before, name: inner, **{each: value for each, value in after.items() if each not in before}}
    return tuple(steps), json.dumps(inner, ensure_ascii=draw(st.booleans()), indent=draw(st.sampled_from((None, 0, 3))))


def with_fault(text: str, fault: bytes) -> bytes:
    return text.encode().replace(json.dumps(HERE).encode(), fault)


def place_of(sent: bytes) -> str:
    with pytest.raises(BadJson) as error:
        read_json(sent)
    return error.value.where


@given(planted(), st.sampled_from(FAULTS))
def test_a_fault_is_pointed_to_wherever_it_stands(document: tuple[tuple[int | str, ...], str], fault: bytes) -> None:
    steps, text = document
    if fault == b'{"a" 5}':
        assert place_of(with_fault(text, fault)) == pointer((*steps, "a"))
    else:
        assert place_of(with_fault(text, fault)) == pointer(steps)


@given(planted())
def test_a_name_that_stands_twice_is_pointed_to(document: tuple[tuple[int | str, ...], str]) -> None:
    steps, text = document
    name = steps[-1] if steps else 0
    if isinstance(name, str):
        for second in (json.dumps(name), "".join(f"\\u{ord(each):04x}" for each in name).join('""') if name.isascii() else json.dumps(name)):
            assert place_of(with_fault(text, f"0, {second}: 1".encode())) == pointer(steps)
    assert place_of(with_fault(text, b'[{"a": 1, "b": 2, "a": 3}, {"b": 1, "b": 2}]')) == pointer((*steps, 0, "a"))


@given(planted(), st.integers(0, 5), st.sampled_from((("[", "]", 0), ('{"a":', "}", "a"))))
def test_what_lies_too_deep_is_pointed_to(document: tuple[tuple[int | str, ...], str], more: int, pair: tuple[str, str, int | str]) -> None:
    (steps, text), (opening, closing, step) = document, pair
    left = MOST_DEPTH - len(steps)
    read_json(with_fault(text, f"{opening * left}0{closing * left}".encode()))
    too_deep = left + 1 + more
    assert place_of(with_fault(text, f"{opening * too_deep}0{closing * too_deep}".encode())) == pointer((*steps, *[step] * left))


@given(DOCUMENTS, st.booleans())
@example("\ufeff", False)
@example({"": {"": [[], {}]}}, False)
def test_sound_json_is_read_as_it_is(document: Any, ascii_alone: bool) -> None:
    text = json.dumps(document, ensure_ascii=ascii_alone)
    assert read_json(text) == read_json(text.encode()) == document


@given(DOCUMENTS, st.integers(0, 200), st.binary(max_size=3), st.integers(0, 3))
def test_whatever_is_sent_is_read_as_python_does_or_refused(document: Any, place: int, put: bytes, gone: int) -> None:
    sent = json.dumps(document, ensure_ascii=False).encode()
    sent = sent[:place] + put + sent[place + gone :]
    try:
        found = read_json(sent)
    except (BadJson, Misfit):
        return
    assert found == json.loads(sent)


@pytest.mark.parametrize(
    ("sent", "place"),
    [
        (b"", ""),
        (b'\xef\xbb\xbf{"a": 1}', ""),
        (b'{"a": 1}x', ""),
        (b'{"a": 1,}', ""),
        (b'{"a": 1, b: 2}', ""),
        (b'{"a": [1, 2', "/a/1"),
        (b'{"a": [1,', "/a/1"),
        (b'{"a": {"b": 1} "c": 2}', "/a"),
        (b'{"a\xff": 1}', ""),
        (b'{"a": [1.' + b"7" * 2000 + b", 0." + b"0" * 2000 + b"1, 1e-" + b"0" * 2000 + b"1, x]}", "/a/3"),
    ],
)
def test_where_no_value_stands_the_one_around_it_or_before_it_is_pointed_to(sent: bytes, place: str) -> None:
    assert place_of(sent) == place


def test_the_limits_are_documented() -> None:
    text = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    assert f"at most {MOST_DEPTH} deep, has at most {MOST_NAMES} names in an object, {MOST_SIGNS:,} commas and opening brackets, and {MOST_DIGITS:,}" in text


def test_the_fullest_question_is_read_and_twice_as_many_values_are_not() -> None:
    rows = [{"character": "c", "states": ["s"] * 60}] * 200
    for model in QUESTIONS:
        full = {"observations": rows, "claims": [{"taxon": "t", "character": "c", "value": "v"}] * 1000, "kit": ["k"] * 20, "parts": ["p"] * 20}
        full |= {"taxa": ["t"] * {"WhyRequest": 1, "KeyRequest": 60}.get(model.__name__, 200)}
        sent = json.dumps({name: value for name, value in full.items() if name in model.model_fields}).encode()
        assert parse_request(sent, model)
    with pytest.raises(Misfit, match="commas"):
        read_json(json.dumps([0] * (MOST_SIGNS + 1)))
