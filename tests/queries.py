"""Generated queries over a dataset, and their answers by two engines: pyoxigraph as our worker asks it, and rdflib."""

from __future__ import annotations

import gzip
import io
import json
import re
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

import pyoxigraph as ox
import rdflib
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from rdflib.query import Result

from lenticel.build import ontology_of, snapshot_of
from lenticel.dataset import write_dataset
from lenticel.worker import answer

ASKED = (  # predicates, by the last part of their name, that make up the part of a dataset that both engines are asked
    "character", "taxon", "mayShow", "usuallyShows", "excludes", "partedBy", "order", "identifier", "rank", "label", "least", "most", "subClassOf", "graded",
)  # fmt: skip
WORKSHOP = Path(__file__).parents[1] / "fixtures" / "workshop"
VARIABLES = ("?a", "?b", "?c", "?d")
Term = ox.NamedNode | ox.Literal


@dataclass(frozen=True)
class Part:
    """The part of a dataset that queries are made for, with the terms that stand in it."""

    quads: tuple[ox.Quad, ...]
    subjects: tuple[str, ...]
    predicates: tuple[str, ...]
    objects: tuple[str, ...]
    graphs: tuple[str, ...]


def workshop_part(every: int = 3) -> Part:
    """Such a part of the dataset of `fixtures/workshop`."""
    with tempfile.TemporaryDirectory() as scratch:
        dataset = Path(scratch) / "dataset.nq.gz"
        write_dataset(snapshot_of(WORKSHOP), dataset, ontology_of(WORKSHOP)[0])
        return part_of(dataset, every)


def part_of(dataset: Path, every: int = 3) -> Part:
    """Quads of the predicates `ASKED` without blank nodes, one in so many of each predicate, out of a file of gzipped N-Quads.

    Between two terms there is one triple only: the engines differ in how often they count a path that leads from one to the other in several ways.
    rdflib counts it once more for each graph that has the triple; pyoxigraph counts alternatives of a path once (SPARQL 1.1, 18.4: each), and what a
    negation leaves once or each, as it joins them.
    """
    found = ox.parse(gzip.decompress(dataset.read_bytes()), format=ox.RdfFormat.N_QUADS)
    seen: Counter[str] = Counter()
    quads = []
    for quad in {(each.subject, each.object): each for each in sorted(found, key=str)}.values():
        name = quad.predicate.value.rpartition("/")[2].rpartition("#")[2]
        if name in ASKED and not isinstance(quad.subject, ox.BlankNode) and not isinstance(quad.object, ox.BlankNode):
            seen[name] += 1
            if seen[name] % every == 0:
                quads.append(quad)
    columns = [sorted({str(getattr(quad, name)) for quad in quads}) for name in ("subject", "predicate", "object", "graph_name")]
    return Part(tuple(quads), *(tuple(column) for column in columns))


# --- queries


class Queries:
    """Strategies for queries over a part of a dataset; most triples are patterns of two that stand linked in it, so that most queries find something."""

    def __init__(self, part: Part) -> None:
        self.variable = st.sampled_from(VARIABLES)
        self.predicate = st.sampled_from(part.predicates)
        self.object = st.sampled_from(part.objects)
        self.subject = st.sampled_from(part.subjects)
        self.graph = st.one_of(self.variable, st.sampled_from([each for each in part.graphs if each.startswith("<")]))
        linked = sorted({(one.subject, one.predicate, one.object, two.subject, two.predicate, two.object) for one, two in _linked(part.quads)}, key=str)
        names = st.sampled_from([("?a", "?b", "?c"), ("?a", "?c", "?d"), ("?c", "?a", "?d")])
        places = st.lists(st.sampled_from([True, True, True, False]), min_size=3, max_size=3)
        self.pair = st.builds(_generalised, st.sampled_from(linked), names, places)
        self.triple = st.one_of(
            self.pair.map(lambda pair: pair[0]),
            st.builds("{} ?d {} .".format, self.subject, st.sampled_from(["?a", "?b"])),
            st.builds("{} {} {} .".format, st.sampled_from(["?a", "?c"]), self.path(), st.sampled_from(["?b", "?d"])),
        )
        self.block = st.one_of(self.pair.map(" ".join), self.triple)

    def path(self) -> st.SearchStrategy[str]:
        """Paths that end."""
        one = self.predicate
        either = st.lists(one, min_size=2, max_size=2, unique=True)
        return st.one_of(
            st.builds("{}/{}".format, one, one), either.map(lambda two: f"({two[0]}|{two[1]})"), st.builds("^{}".format, one), st.builds("{}+".format, one),
            st.builds("!{}".format, one),
        )  # fmt: skip

    def condition(self) -> st.SearchStrategy[str]:
        """What a FILTER holds."""
        number = st.integers(0, 12).map(str)
        base = st.one_of(
            st.builds("{} = {}".format, self.variable, self.object), st.builds("{} != {}".format, self.variable, self.variable),
            st.builds("(BOUND({0}) && isNumeric({0}) && {0} < {1})".format, self.variable, number),
            st.builds("STRLEN(STR({})) > {}".format, self.variable, number),
            st.builds("isIRI({})".format, self.variable), st.builds("BOUND({})".format, self.variable),
            self.variable.map("(BOUND({0}) && isNumeric({0}))".format),
            st.builds('CONTAINS(STR({}), "{}")'.format, self.variable, st.sampled_from(["a", "le", "-"])),
            st.builds('REGEX(STR({}), "{}", "i")'.format, self.variable, st.sampled_from(["^h", "s$", "[0-9]+", "(a|e).b"])),
            st.builds("{} IN ({}, {})".format, self.variable, self.object, self.object), st.builds("sameTerm({}, {})".format, self.variable, self.object),
            st.builds("{} EXISTS {{ {} }}".format, st.sampled_from(["", "NOT"]), self.triple),
        )  # fmt: skip
        return st.recursive(
            base,
            lambda inner: st.one_of(
                st.builds("({} && {})".format, inner, inner), st.builds("({} || {})".format, inner, inner), st.builds("!({})".format, inner)
            ),
            max_leaves=3,
        )

    def pattern(self) -> st.SearchStrategy[str]:
        """What stands between the braces of WHERE."""
        return st.recursive(
            self.block,
            lambda inner: st.one_of(
                st.builds("{} OPTIONAL {{ {} }}".format, inner, inner), st.builds("{{ {} }} UNION {{ {} }}".format, inner, inner),
                st.builds("{} MINUS {{ {} }}".format, inner, inner), st.builds("{} FILTER({})".format, inner, self.condition()),
                st.builds("{} GRAPH {} {{ {} }}".format, inner, self.graph, self.block),
                st.builds("{} BIND(STRLEN(STR({})) AS ?n)".format, self.block, self.variable),
                st.builds("VALUES {} {{ {} {} }} {}".format, self.variable, self.subject, self.object, inner),
                st.builds("{} {{ SELECT DISTINCT ?a ?b ?c ?d {{ {} }} }}".format, self.block, inner),
            ),
            max_leaves=3,
        )  # fmt: skip

    def query(self) -> st.SearchStrategy[str]:
        """Whole queries."""
        pattern = self.pattern()
        distinct = st.sampled_from(["", "DISTINCT"])
        return st.one_of(
            st.builds("SELECT {} ?a ?b ?c ?d {{ {} }}".format, distinct, pattern),
            st.builds("SELECT {} * {{ {} }} ORDER BY ?a ?c".format, distinct, pattern),
            st.builds("SELECT ?a (COUNT({}) AS ?n) {{ {} }} GROUP BY ?a".format, self.variable, pattern),
            st.builds("SELECT (COUNT(DISTINCT {}) AS ?n) {{ {} }}".format, self.variable, pattern),
            st.builds("SELECT ?a (COUNT(*) AS ?n) {{ {} }} GROUP BY ?a HAVING (COUNT(*) > 1)".format, pattern),
            st.builds("ASK {{ {} }}".format, pattern),
            st.builds("CONSTRUCT {{ ?a ?b ?c }} WHERE {{ {} }}".format, pattern),
        )


def _linked(quads: tuple[ox.Quad, ...]) -> Iterator[tuple[ox.Quad, ox.Quad]]:
    """Quads and others that have the same subject, or their object as subject."""
    by_subject: dict[Any, list[ox.Quad]] = {}
    for quad in quads:
        by_subject.setdefault(quad.subject, []).append(quad)
    for quad in quads:
        for other in (*by_subject[quad.subject][:3], *by_subject.get(quad.object, ())[:3]):
            yield quad, other


def _generalised(linked: tuple[Any, ...], names: tuple[str, ...], places: list[bool]) -> tuple[str, str]:
    """Two linked triples as patterns: subjects and objects become variables, the same term the same one, where `places` says so."""
    terms = list(dict.fromkeys((linked[0], linked[2], linked[3], linked[5])))
    said = {term: name if place else str(term) for term, name, place in zip(terms, (*names, "?e"), (*places, True), strict=False)}
    return tuple(f"{said[linked[at]]} {linked[at + 1]} {said[linked[at + 2]]} ." for at in (0, 3))  # type: ignore[return-value]


def queries_of(part: Part, count: int, start: int = 1) -> list[str]:
    """So many different queries over a part of a dataset, the same ones for the same start."""
    found: dict[str, None] = {}
    while len(found) < count:

        @seed(start)
        @settings(max_examples=count, deadline=None, database=None, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
        @given(Queries(part).query())
        def take(query: str) -> None:
            found[query] = None

        take()
        start += 1
    return list(found)[:count]


# --- answers


TERM = r'<[^>]*>|"(?:[^"\\]|\\.)*"(?:@[\w-]+|\^\^<[^>]*>)?'
Bag = Counter[frozenset[tuple[str, Any]]]


class Engines:
    """Both engines over one part of a dataset, all graphs seen as one where a query names none."""

    def __init__(self, part: Part) -> None:
        self.store = ox.Store()
        self.store.bulk_extend(part.quads)
        self.dataset = rdflib.Dataset(default_union=True)
        self.dataset.parse(data=self.store.dump(format=ox.RdfFormat.N_QUADS), format="nquads")

    def ours(self, query: str) -> Bag | bool:
        """The answer as a worker of the service gives it, read back from what it sends.

        Raises:
            AssertionError: it gave none.
        """
        head, body = answer(self.store, {
            "query": query, "solutions": "json", "graphs": "nt", "default_graphs": None, "named_graphs": None, "union": True,
            "prefixes": {}, "base": "http://e/", "rows": 10**6, "bytes": 10**9,
        })  # fmt: skip
        assert head["outcome"] == "done", head
        if head["kind"] == "graph":
            return bag_of(rdflib.Graph().parse(data=body, format="nt"))
        return read_back(json.loads(body), body)

    def theirs(self, query: str) -> Bag | bool:
        """The answer of rdflib."""
        found = self.dataset.query(query)
        if found.type == "ASK":
            return bool(found.askAnswer)
        if found.type == "CONSTRUCT":  # SPARQL 1.1, 16.2: what would be no triple is left out; rdflib leaves it in
            return bag_of(each for each in found.graph or () if not isinstance(each[0], rdflib.Literal) and isinstance(each[1], rdflib.URIRef))
        return rows_of(found)


def difference(engines: Engines, query: str) -> str:
    """How both engines answer: "alike", by the name of a difference that is known, or "unexplained"."""
    ours, theirs = engines.ours(query), engines.theirs(query)
    if ours == theirs:
        return "alike, something found" if ours else "alike, nothing found"
    if "GROUP BY" in query and not ours and isinstance(theirs, Counter) and sum(theirs.values()) == 1 and all(len(row) <= 1 for row in theirs):
        return "a row for no group"  # SPARQL 1.1, 11.2: where nothing is found, GROUP BY makes no group; rdflib makes one
    if "VALUES" in query and "OPTIONAL" in query and engines.theirs(_bound(query)) == ours:
        return "VALUES before OPTIONAL"  # SPARQL 1.1, 18.5: OPTIONAL keeps each row; rdflib keeps those of BIND, not all of VALUES
    return "unexplained"


def _bound(query: str) -> str:
    """The query with the two values of each VALUES, which begins its group, bound one by one."""
    return re.sub(rf"VALUES (\?\w+) {{ ({TERM}) ({TERM}) }}", r"{ BIND(\2 AS \1) } UNION { BIND(\3 AS \1) }", query)


def read_back(data: dict[str, Any], body: bytes) -> Bag | bool:
    """What a body in the JSON format holds."""
    return bool(data["boolean"]) if "boolean" in data else rows_of(Result.parse(io.BytesIO(body), format="json"))


def bag_of(triples: Iterable[Any]) -> Bag:
    """Triples as rows."""
    return Counter(frozenset(zip("spo", map(_plain, triple), strict=True)) for triple in triples)


def rows_of(result: Result) -> Bag:
    """Rows as a bag."""
    return Counter(frozenset((str(name), _plain(value)) for name, value in row.items() if value is not None) for row in result.bindings)


def _plain(term: Any) -> Any:
    """A term that is equal to what the other engine says in another spelling: numbers by value, strings with and without their datatype."""
    if isinstance(term, rdflib.Literal):
        if isinstance(term.value, int | float | Decimal) and not isinstance(term.value, bool):
            return "number", Decimal(str(term.value)).normalize()
        return str(term), str(term.language), "" if term.datatype == rdflib.XSD.string else str(term.datatype or "")
    return str(term), type(term).__name__
