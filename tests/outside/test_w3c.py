"""The W3C's SPARQL cases through our endpoint. Source: the SPARQL 1.0 and 1.1 test suites, as rdflib's source distribution carries them."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.outside.w3c import Outcome, fetched, run_all

EXCEPTIONS = Path(__file__).with_name("w3c_exceptions.csv")
MOST_EXCEPTIONS = 20  # that may be left out of the share
LEAST_SHARE = 0.98


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
    share = (len(asked) - len(failed)) / (len(asked) - MOST_EXCEPTIONS)
    print(f"{len(asked) - len(failed)} of {len(asked)} cases of queries, results and syntax: {share:.1%} of all but {MOST_EXCEPTIONS}")
    assert {name: why for name, why in failed.items() if name not in named} == {}
    assert [name for name in named if name not in failed] == [], "these hold now: take them off the list"
    assert all(named.values())
    assert len(asked) > 700
    assert share >= LEAST_SHARE


def test_every_update_of_the_w3c_is_refused(outcomes: Sequence[Outcome]) -> None:
    """By each way in which it can come; `run_all` asserts that the store holds the same afterwards."""
    updates = [each for each in outcomes if "Update" in each.case.kind]
    assert len(updates) > 130
    assert [each for each in updates if each.why] == []
