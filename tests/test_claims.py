"""Claims held against the sources: planted ones, every statement of the tables, and rows that cannot be read."""

from __future__ import annotations

import pytest

from lenticel.claims import Claims, JudgedClaim, claims
from lenticel.snapshot import Snapshot


def one(snapshot: Snapshot, taxon: str, character: str, value: str) -> JudgedClaim:
    answer = claims(snapshot, [(taxon, character, value)])
    assert not answer.bad
    return answer.judged[0]


@pytest.fixture(scope="module")
def of_statements(trees: Snapshot) -> Claims:
    rows = [(each.taxon, each.character, f"not {each.value}" if each.frequency == "never" else each.value) for each in trees.knowledge.statements.values()]
    return claims(trees, rows)


@pytest.mark.parametrize(
    ("taxon", "character", "value", "verdict"),
    [
        ("Norway maple", "petiole-sap", "milky", "supported"),
        ("sugar maple", "petiole-sap", "milky", "contradicted"),
        ("sugar maple", "petiole-sap", "not milky", "supported"),
        ("sugar maple", "leaf-blade-length", "8-12 cm", "supported"),
        ("sugar maple", "leaf-blade-length", "8-40 cm", "atypical"),
        ("sugar maple", "leaf-blade-length", "60-80 cm", "contradicted"),
        ("sugar maple", "leaf-blade-length", "3-5 in", "supported"),
        ("sugar maple", "height", "<=90 m", "atypical"),
        ("sugar maple", "flowering-month", "4-5", "supported"),
        ("sugar maple", "flowering-month", "11-12", "contradicted"),
        ("red maple", "leaflet-count", "5", "contradicted"),
        ("red maple", "leaf-colour-autumn", "red|yellow", "supported"),
        ("sugar maple", "needle-length", "5 cm", "contradicted"),
        ("sugar maple", "needle-pegs", "present", "unknown"),
        ("paper birch", "bark-texture", "papery-curls", "supported"),
        ("paper birch", "bark-texture", "blocky", "unknown"),
        ("paper birch", "bark-texture", "not mottled", "unknown"),
    ],
)
def test_a_planted_claim_is_judged_as_the_sources_have_it(trees: Snapshot, taxon: str, character: str, value: str, verdict: str) -> None:
    found = one(trees, taxon, character, value)
    assert found.verdict == verdict
    assert bool(found.supporting) == (verdict == "supported")
    assert (verdict == "contradicted") <= bool(found.against)
    assert not (found.verdict == "unknown" and (found.supporting or found.against or found.other))


def test_of_several_states_each_is_judged_and_the_worst_tells(trees: Snapshot) -> None:
    found = one(trees, "sugar maple", "petiole-sap", "clear|milky")
    assert [(part.claimed, part.verdict) for part in found.parts] == [("clear", "supported"), ("milky", "contradicted")]
    assert found.verdict == "contradicted"
    assert found.disputed
    assert set(found.supporting) & set(found.against)


def test_a_claim_of_no_age_is_answered_by_what_is_said_of_one_age_which_contradicts_nothing(trees: Snapshot) -> None:
    """Every source that tells the bark of paper birch tells it of an age."""
    judged = one(trees, "paper birch", "bark-texture", "papery-curls|mottled")
    assert not any(trees.knowledge.statements_on(rank, "bark-texture") for rank in trees.knowledge.lineage("betula-papyrifera"))
    assert {trees.knowledge.statements[key].character for key in judged.supporting} == {"bark-texture-mature"}
    assert judged.against == ()
    assert "texture of mature bark" in judged.instead


def test_a_range_that_runs_beyond_all_that_is_allowed_is_said_to(trees: Snapshot) -> None:
    assert one(trees, "sugar maple", "leaf-blade-length", "8-60 cm").parts[0].partly_outside
    assert not one(trees, "sugar maple", "leaf-blade-length", "8-16 cm").parts[0].partly_outside


def test_a_condition_that_decides_is_named_with_its_statements(trees: Snapshot) -> None:
    found = one(trees, "red maple", "leaflet-count", "5")
    assert found.condition == "leaf-division"
    assert {trees.knowledge.statements[key].character for key in found.against} == {"leaf-division"}
    assert "say nothing of the number of leaflets" in found.instead


def test_a_careful_writer_hedges_as_the_sources_do(trees: Snapshot) -> None:
    assert one(trees, "boxelder", "leaflet-count", "3-5").instead == "Acer negundo, number of leaflets: usually 3–9, at the extremes 3–11."
    assert "by some accounts" in one(trees, "red maple", "leaf-colour-autumn", "red").instead
    assert one(trees, "sugar maple", "needle-pegs", "present").instead.startswith("No source here says")


def test_a_source_stands_against_a_claim_that_another_supports(of_statements: Claims) -> None:
    disputed = [each for each in of_statements.judged if each.disputed and len(each.parts) == 1]
    assert disputed
    assert all(each.supporting and each.against for each in disputed)


def test_every_statement_taken_as_a_claim_is_supported_or_atypical(trees: Snapshot, of_statements: Claims) -> None:
    assert len(of_statements.judged) == len(trees.knowledge.statements) >= 10_000
    assert not of_statements.bad
    assert of_statements.counts["contradicted"] == of_statements.counts["unknown"] == 0
    assert of_statements.counts["supported"] >= 0.98 * len(of_statements.judged)
    keys = list(trees.knowledge.statements)
    assert not [keys[each.row - 1] for each in of_statements.judged if keys[each.row - 1] in each.against]
    print(of_statements.counts)


def test_bad_rows_are_reported_and_the_others_answered(trees: Snapshot) -> None:
    rows = [
        ("suger maple", "height", "3 m"),
        ("sugar maple", "hight", "3 m"),
        ("sugar maple", "petiole-sap", "milkey"),
        ("sugar maple", "height", "3 deg"),
        ("sugar maple", "height", ""),
        ("sugar maple", "height", "not 3 m"),
        ("sugar maple", "petiole-sap", "clear"),
    ]
    answer = claims(trees, rows)
    assert [(each.row, each.field, each.code) for each in answer.bad] == [
        (1, "taxon", "unknown-term"),
        (2, "character", "unknown-term"),
        (3, "value", "unknown-term"),
        (4, "value", "bad-quantity"),
        (5, "value", "bad-observation"),
        (6, "value", "bad-observation"),
    ]
    assert all(each.fix for each in answer.bad)
    assert [each.row for each in answer.judged] == [7]


def test_the_cautions_of_hazardous_taxa_come_with_the_verdicts(trees: Snapshot) -> None:
    answer = claims(trees, [("poison ivy", "leaflet-count", "3")])
    assert {each.kind for each in answer.cautions} >= {"skin"}
