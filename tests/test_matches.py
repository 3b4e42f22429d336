"""Terms here are matched with those of other vocabularies, each with where it was looked up; in the tables, in the ontology and on the way back."""

from __future__ import annotations

from pathlib import Path

import pytest
from rdflib import Graph, URIRef
from rdflib.namespace import SKOS

from lenticel.model import MATCHES
from lenticel.owl import write
from lenticel.records import knowledge_from
from lenticel.snapshot import Snapshot
from lenticel.tables import read

BASE = "https://example.org/workshop/"


def test_every_match_of_the_real_tables_names_a_term_and_where_it_was_read(tables: Path) -> None:
    known = read(tables).knowledge
    assert len(known.matches) >= 80
    assert {each.relation for each in known.matches.values()} <= set(MATCHES)
    for each in known.matches.values():
        assert each.match.startswith("http"), each.id
        assert each.locator, each.id
        assert known.sources[each.source].kind == "dataset", each.id
        assert not any(statement.source == each.source for statement in known.statements.values()), "a vocabulary is no source of traits"


def test_a_term_is_matched_once_with_the_same_term(tables: Path) -> None:
    known = read(tables).knowledge
    pairs = [(each.subject, each.match) for each in known.matches.values()]
    assert len(pairs) == len(set(pairs))


@pytest.mark.parametrize(
    ("subject", "relation", "term"),
    [
        ("character/thread", SKOS.closeMatch, "https://example.org/elsewhere/helix"),
        ("state/thread/present", SKOS.exactMatch, "https://example.org/elsewhere/threaded"),
        ("taxon/wire-nail", SKOS.broadMatch, "https://example.org/elsewhere/nail"),
    ],
)
def test_the_ontology_says_it_of_the_term_itself(workshop: Snapshot, subject: str, relation: URIRef, term: str) -> None:
    graph: Graph = write(workshop.knowledge)
    assert list(graph.objects(URIRef(BASE + subject), relation)) == [URIRef(term)]


def test_matches_come_back_out_of_the_ontology(workshop: Snapshot) -> None:
    assert len(workshop.knowledge.matches) == 3
    assert knowledge_from(write(workshop.knowledge)).matches == workshop.knowledge.matches
