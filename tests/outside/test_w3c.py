"""The W3C's SPARQL cases through our endpoint. Source: the SPARQL 1.0 and 1.1 test suites, as rdflib's source distribution carries them."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.outside.w3c import Outcome, fetched, run_all

EXCEPTIONS = Path(__file__).with_name("w3c_exceptions.csv")
BARS = (("sparql11", 15, 0.97), ("dawg-data-r2", 20, 0.95))  # a suite, how many exceptions it may have, and the least share of all its cases that holds


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> Sequence[Outcome]:
    try:
        folder = fetched(tmp_path_factory.mktemp("cases"))
    except OSError as error:
        pytest.skip(str(error))
    return run_all(folder)


def test_the_endpoint_answers_the_cases_of_the_w3c(outcomes: Sequence[Outcome]) -> None:
    """What fails is named with its reason, and is little."""
    with EXCEPTIONS.open(encoding="utf-8", newline="") as file:
        named = {row["case"]: row["reason"] for row in csv.DictReader(file)}
    asked = [each for each in outcomes if "Update" not in each.case.kind]
    failed = {each.case.name: each.why for each in asked if each.why}
    assert {name: why for name, why in failed.items() if name not in named} == {}
    assert [name for name in named if name not in failed] == [], "these hold now: take them off the list"
    assert all(named.values())
    assert len(asked) > 700
    for suite, most, least in BARS:
        names = [each.case.name for each in asked if each.case.name.startswith(f"{suite}/")]
        held = sum(name not in failed for name in names)
        print(f"{suite}: {held} of {len(names)} cases of queries, results and syntax: {held / len(names):.1%}; {len(names) - held} exceptions")
        assert len(names) - held <= most
        assert held / len(names) >= least


def test_every_update_of_the_w3c_is_refused(outcomes: Sequence[Outcome]) -> None:
    """By each way in which it can come; `run_all` asserts that the store holds the same afterwards."""
    updates = [each for each in outcomes if "Update" in each.case.kind]
    assert len(updates) > 130
    assert [each for each in updates if each.why] == []
