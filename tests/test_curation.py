"""Every statement knows who recorded it and when, and whether somebody read it back; in the tables, in the records and in the ontology."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from rdflib import XSD, Literal, URIRef
from rdflib.namespace import DCTERMS, PROV

from lenticel import owl
from lenticel.account import account
from lenticel.api import create_app
from lenticel.cite import Provenance
from lenticel.cli import main
from lenticel.curation import Recorded, Review
from lenticel.model import Knowledge
from lenticel.records import knowledge_from
from lenticel.snapshot import Snapshot
from lenticel.tables import read
from lenticel.text import account_text

BASE = "https://example.org/workshop/"
HEAD = "wood-screw.head.drawer-labels.usually"


def test_of_every_real_statement_it_is_recorded_who_brought_it_and_when(tables: Path) -> None:
    known = read(tables).knowledge
    unknown = [each.id for each in known.statements.values() if known.recorded_of(each) is None]
    assert len(known.statements) > 10_000
    assert unknown == []


def test_the_row_that_fits_a_statement_most_closely_says_who_recorded_it(workshop: Snapshot) -> None:
    known = workshop.knowledge
    statement = known.statements[HEAD]
    rows = [Recorded("wood-screw", *within, by, "2026-01-01") for within, by in ((("", ""), "a"), (("head", ""), "b"), (("", "drawer-labels"), "c"))]
    rows.append(Recorded("wood-screw", "head", "drawer-labels", "d", "2026-01-01"))
    for count in range(1, 5):
        found = replace(known, recorded={each.id: each for each in rows[:count]}).recorded_of(statement)
        assert found is not None
        assert found.by == "abcd"[count - 1]
    assert replace(known, recorded={each.id: each for each in rows}).recorded_of(known.statements["wire-nail.thread.shop-ledger.always"]) is None


def test_the_wording_changes_with_all_that_a_reader_holds_against_the_source_and_with_nothing_else(workshop: Snapshot) -> None:
    statement = workshop.knowledge.statements[HEAD]
    other = {"taxon": "nail", "character": "thread", "value": "round", "frequency": "", "exhaustive": False, "source": "x", "locator": "p. 1", "printed": "y"}
    assert len({statement.wording, *(replace(statement, **{name: value}).wording for name, value in other.items())}) == len(other) + 1
    assert replace(statement, note="Another note.").wording == statement.wording


def reviewed(known: Knowledge, *said: tuple[str, str, str]) -> Knowledge:
    """The knowledge with reviews of one statement: (wording, or "" for the present one; verdict; date)."""
    wording = known.statements[HEAD].wording
    rows = [Review(HEAD, worded or wording, verdict, "", "invented", "a reader", date) for worded, verdict, date in said]
    return replace(known, reviews={each.id: each for each in rows})


def test_a_verdict_counts_until_the_statement_changes_and_a_later_one_outweighs_it(workshop: Snapshot) -> None:
    known = workshop.knowledge
    assert HEAD not in known.verdicts
    assert HEAD not in reviewed(known, ("w-0123456789ab", "wrong", "2026-01-01")).verdicts
    read_once = reviewed(known, ("", "right", "2026-01-02"))
    assert read_once.verdicts[HEAD].verdict == "right"
    assert reviewed(known, ("", "right", "2026-01-02"), ("", "wrong", "2026-01-01")).verdicts[HEAD].verdict == "right"
    changed = replace(read_once.statements[HEAD], value="round")
    assert HEAD not in replace(read_once, statements={**read_once.statements, HEAD: changed}).verdicts


def test_on_one_day_the_graver_verdict_counts(workshop: Snapshot) -> None:
    statement = workshop.knowledge.statements[HEAD]
    rows = [Review(HEAD, statement.wording, verdict, "", "", by, "2026-01-01") for verdict, by in (("wrong", "a"), ("right", "b"), ("unclear", "c"))]
    assert replace(workshop.knowledge, reviews={each.id: each for each in rows}).verdicts[HEAD].verdict == "wrong"


def test_the_ontology_says_of_a_statement_who_recorded_it_and_in_which_recording(workshop: Snapshot) -> None:
    graph = owl.write(workshop.knowledge)
    statement = URIRef(f"{BASE}statement/wire-nail.thread.shop-ledger.always")
    assert list(graph.objects(statement, DCTERMS.creator)) == [Literal("A visitor (invented)")]
    assert list(graph.objects(statement, DCTERMS.created)) == [Literal("2026-11-26", datatype=XSD.date)]
    assert list(graph.objects(statement, PROV.wasGeneratedBy)) == [URIRef(f"{BASE}recorded/wire-nail.thread.shop-ledger")]
    assert not list(graph.objects(URIRef(f"{BASE}statement/rivet.stocked.shop-ledger"), PROV.wasGeneratedBy))


def test_who_recorded_and_who_read_comes_back_out_of_the_ontology_that_of_gone_statements_too(workshop: Snapshot) -> None:
    found = knowledge_from(owl.write(workshop.knowledge))
    assert (found.recorded, found.reviews) == (workshop.knowledge.recorded, workshop.knowledge.reviews)
    assert {each.statement for each in found.reviews.values()} - found.statements.keys() == {"rivet.thread.shop-ledger.often"}


READ, UNREAD, MISREAD = "screw.thread.drawer-labels", "wire-nail.thread.shop-ledger.always", "nail.thread.shop-ledger.usually"


def test_an_account_tells_who_recorded_each_statement_and_what_a_reader_found(workshop: Snapshot) -> None:
    told = account(workshop, "wire-nail")
    assert told.provenance.keys() == told.citations.keys()
    assert told.provenance[UNREAD] == Provenance("A visitor (invented)", "2026-11-26", "", "", "")
    assert told.provenance[MISREAD] == Provenance("A storekeeper (invented)", "2026-11-25", "wrong", "A visitor (invented)", "2026-11-26")
    lines = list(account_text(workshop.knowledge, told))
    assert f"1 of {len(told.citations)} statements recorded by A visitor (invented), 2026-11-26." in lines
    assert f"1 of {len(told.citations)} statements read back against their sources." in lines
    assert f"  {MISREAD}: wrong (A visitor (invented), 2026-11-26)" in lines


def test_a_statement_answers_with_who_recorded_and_who_read_it_as_json_and_as_a_page(workshop: Snapshot) -> None:
    client = TestClient(create_app(workshop))
    told = client.get(f"/v1/statements/{READ}").json()
    assert told["value"] == "present"
    assert told["provenance"] == {
        "recorded_by": "A storekeeper (invented)", "recorded": "2026-11-25", "verdict": "right", "read_by": "A visitor (invented)", "read": "2026-11-26",
    }  # fmt: skip
    for key, words in ((READ, "right (A visitor (invented), 2026-11-26)"), (UNREAD, "not yet")):
        page = client.get(f"/workshop/statement/{key}", headers={"accept": "text/html"}).text
        assert "Recorded" in page
        assert words in page


@pytest.fixture
def folder(workshop_tables: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(workshop_tables, tmp_path / "tables"))


def told(folder: Path, *words: str) -> None:
    assert main(["recorded", "--by", "A clerk", "--date", "2026-12-01", "--knowledge", str(folder), *words]) == 0


def test_who_recorded_is_written_for_statements_of_which_nobody_says_so_and_for_no_other(folder: Path) -> None:
    before = read(folder).knowledge
    open_ = {each.id for each in before.statements.values() if before.recorded_of(each) is None}
    told(folder)
    after = read(folder).knowledge
    assert {each.taxon for each in map(after.statements.__getitem__, open_)} == {"rivet"}
    assert set(after.recorded.values()) - set(before.recorded.values()) == {Recorded("rivet", "", "", "A clerk", "2026-12-01")}
    written = (folder / "recorded.csv").read_bytes()
    told(folder)
    assert (folder / "recorded.csv").read_bytes() == written


def test_a_statement_that_came_later_is_not_taken_for_one_that_was_there(folder: Path, workshop_tables: Path) -> None:
    """Rows on its taxon say who recorded the others; with the older version at hand it gets a row of its own, and they keep theirs."""
    before = read(folder).knowledge
    rows = ("wire-nail,head,flat,,,shop-ledger,p. 4 (invented),,", "coach-bolt,finish,bright,,,drawer-labels,p. 4 (invented),,")
    with (folder / "statements.csv").open("a", encoding="utf-8") as file:
        file.writelines(f"{row}\n" for row in rows)
    told(folder, "--since", str(workshop_tables))
    after = read(folder).knowledge
    new = [each for key, each in after.statements.items() if key not in before.statements]
    assert len(new) == 2
    for each in new:
        found = after.recorded_of(each)
        assert found is not None
        assert (found.by, found.date) == ("A clerk", "2026-12-01")
    assert all(after.recorded_of(each) == before.recorded_of(each) for each in before.statements.values() if each.taxon != "rivet")
