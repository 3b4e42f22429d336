"""Which form of an answer a client gets, over all that it can say of two or three media ranges, held against the rule of RFC 9110, 12.5.1, written apart."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from urllib.parse import urlsplit

import pytest
from fastapi.testclient import TestClient

from lenticel.api import create_app, linked
from lenticel.negotiate import chosen
from lenticel.refused import Refused
from lenticel.snapshot import Snapshot
from lenticel.sparql import forms_for

# What is sent, the preferred first, each with the short name for it and the other types that mean it.
ROWS = {
    "application/sparql-results+json": ("json", "application/json"),
    "application/sparql-results+xml": ("xml", "application/xml", "text/xml"),
    "text/csv": ("csv", "text/plain"),
    "text/tab-separated-values": ("tsv",),
}
TURTLE, N_TRIPLES = ("ttl", "application/x-turtle", "application/turtle"), ("nt", "text/plain")
RDF_XML, JSON_LD = ("rdf", "application/xml", "text/xml"), ("jsonld", "application/json")
GRAPHS = {
    "text/turtle": TURTLE, "application/n-triples": N_TRIPLES, "application/rdf+xml": RDF_XML, "application/ld+json": JSON_LD,
    "application/n-quads": ("nq",), "application/trig": ("trig",),
}  # fmt: skip
THINGS = {
    "text/turtle": TURTLE, "application/ld+json": JSON_LD, "application/n-triples": N_TRIPLES, "application/rdf+xml": RDF_XML,
    "text/html": ("html", "application/xhtml+xml"), "application/n-quads": ("nq",), "application/trig": ("trig",),
}  # fmt: skip
Table = dict[str, tuple[str, ...]]
Said = dict[str, float]  # the weight of each media range of a header
WEIGHTS = (1.0, 0.9, 0.001, 0.0)


def rule(said: Said, table: Table) -> str | None:
    """What is to be sent: the most exact range that fits a type gives it its weight, 0 forbids it, and the greatest weight wins.

    What the standard leaves open goes by how exact the range is, then by our order.
    """
    found = []
    for place, (sent, (_, *others)) in enumerate(table.items()):
        for exact, names in ((3, [sent]), (3, others), (2, [f"{sent.partition('/')[0]}/*"]), (1, ["*/*"])):
            weights = [said[name] for name in names if name in said]
            if weights:
                found.append((max(weights), exact, -place, sent))
                break
    best = max(found, default=(0.0, 0, 0, ""))
    return best[3] if best[0] > 0 else None


def header(said: Said) -> str:
    """An Accept header, in one of the ways in which clients write such."""
    comma, semicolon = ((", ", ";"), (",", "; "), (" , ", " ; "))[sum(map(len, said)) % 3]
    return comma.join(name if weight == 1 else f"{name}{semicolon}q={weight:g}" for name, weight in said.items())


def headers(table: Table) -> Iterator[Said]:
    """All pairs of ranges with all weights, and each type beside the wildcards that stand for it too."""
    types = sorted({*table, *(name for _, *names in table.values() for name in names)})
    kinds = sorted({f"{name.partition('/')[0]}/*" for name in types})
    for first, second in itertools.permutations([*types, *kinds, "*/*", "image/png"], 2):
        yield from ({first: one, second: two} for one, two in itertools.product(WEIGHTS, repeat=2))
    for name in types:
        three = (name, f"{name.partition('/')[0]}/*", "*/*")
        yield from (dict(zip(three, weights, strict=True)) for weights in itertools.product(WEIGHTS, repeat=3))


def of_query(place: int) -> Callable[[str], str | None]:
    """What `/sparql` sends for rows (0) or graphs (1) by an Accept header."""

    def sent(accept: str) -> str | None:
        try:
            form = forms_for("", accept)[place]
        except Refused:
            return None
        return form and form.media_type

    return sent


def of_thing(accept: str) -> str | None:
    """What the path of an IRI sends by an Accept header."""
    form = chosen(accept, linked.FORMS)
    return form and form.media_type


@pytest.mark.parametrize(("table", "sent"), [(ROWS, of_query(0)), (GRAPHS, of_query(1)), (THINGS, of_thing)], ids=["rows", "graphs", "things"])
def test_every_pair_of_ranges_gives_what_the_rule_gives(table: Table, sent: Callable[[str], str | None]) -> None:
    asked, refused = 0, 0
    for said in headers(table):
        wanted = rule(said, table)
        assert sent(header(said)) == wanted, header(said)
        asked, refused = asked + 1, refused + (wanted is None)
    print(f"{asked} headers, {refused} of them refused, none wrong")
    assert asked > 1500
    assert refused > 100


def test_a_word_stands_before_the_header_and_a_media_type_is_read_like_one() -> None:
    for place, table in enumerate((ROWS, GRAPHS)):
        for sent, (word, *others) in table.items():
            for accept in ("image/png", *ROWS, *GRAPHS):
                for asked in (word, word.upper(), sent, *others, f"image/png, {sent};q=0.1"):
                    form = forms_for(asked, accept)[place]
                    assert form, (asked, accept)
                    assert form.media_type == sent, (asked, accept)
    for word in ("docx", "image/png", "*/*;q=0"):
        with pytest.raises(Refused) as refused:
            forms_for(word, "*/*")
        assert (refused.value.code, refused.value.status) == ("not-acceptable", 406)


def test_the_path_of_a_thing_gives_what_the_rule_gives(workshop: Snapshot) -> None:
    """Word before suffix before header; all of it over HTTP for two dozen of the headers."""
    client = TestClient(create_app(workshop))
    path = f"{urlsplit(workshop.knowledge.about.iri).path}taxon/{next(iter(workshop.knowledge.taxa))}"
    some = list(headers(THINGS))[::181]
    assert len(some) > 20
    for said in some:
        answer, wanted = client.get(path, headers={"accept": header(said)}), rule(said, THINGS)
        assert "accept" in answer.headers["vary"].split(", ")
        if wanted is None:
            assert (answer.status_code, answer.json()["forms"]) == (406, list(THINGS)), header(said)
        else:
            assert answer.headers["content-type"].partition(";")[0] == wanted, header(said)
    for (one, (word, *_)), (other, (suffix, *_)) in itertools.pairwise([*THINGS.items(), *list(THINGS.items())[:1]]):
        assert client.get(f"{path}.{suffix}", headers={"accept": one}).headers["content-type"].partition(";")[0] == other
        assert client.get(f"{path}.{suffix}?format={word}", headers={"accept": other}).headers["content-type"].partition(";")[0] == one
