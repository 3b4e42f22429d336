"""The W3C's SPARQL cases through our endpoint. Source: the SPARQL 1.0 and 1.1 test suites, as rdflib's source distribution carries them."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.outside.w3c import Outcome, fetched, run_all

EXCEPTIONS = Path(__file__).with_name("w3c_exceptions.csv")
MOST = 15  # exceptions
LEAST = 0.99  # of all other cases


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> Sequence[Outcome]:
    try:
        folder = fetched(tmp_path_factory.mktemp("cases"))
    except OSError as error:
        pytest.skip(str(error))
    return run_all(folder)


def test_the_endpoint_answers_the_cases_of_the_w3c(outcomes: Sequence[Outcome]) -> None:
    """What fails is named with its reason, and is little.

    Where a later recommendation changed an answer, the case is held against what it is now (`later`), counts as failed all the same, and is no exception.
    """
    with EXCEPTIONS.open(encoding="utf-8", newline="") as file:
        named = {row["case"]: row for row in csv.DictReader(file)}
    asked = [each for each in outcomes if "Update" not in each.case.kind]
    failed = {each.case.name: each.why for each in asked if each.why}
    assert {name: why for name, why in failed.items() if name not in named} == {}
    assert [name for name in named if name not in failed] == [], "these hold now: take them off the list"
    assert all(row["reason"] for row in named.values())
    assert {name: failed[name] for name, row in named.items() if not failed[name].startswith(row["later"])} == {}
    exceptions = [name for name, row in named.items() if not row["later"]]
    others = len(asked) - len(exceptions)
    held = len(asked) - len(failed)
    print(
        f"{held} of {len(asked)} cases of queries, results and syntax; {held / others:.2%} of the {others} that are not among the {len(exceptions)} exceptions"
    )
    assert len(asked) > 700
    assert len(exceptions) <= MOST
    assert held / others >= LEAST


def test_every_update_of_the_w3c_is_refused(outcomes: Sequence[Outcome]) -> None:
    """By each way in which it can come; `run_all` asserts that the store holds the same afterwards."""
    updates = [each for each in outcomes if "Update" in each.case.kind]
    assert len(updates) > 130
    assert [each for each in updates if each.why] == []
