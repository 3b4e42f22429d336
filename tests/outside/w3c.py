"""The W3C's own SPARQL cases through our endpoint over HTTP: `python -m tests.outside.w3c [FOLDER]`.

The cases are those of the SPARQL 1.0 and 1.1 test suites (W3C RDF Data Access and SPARQL Working Groups, W3C test suite licence), as rdflib's source
distribution carries them in `test/data/suites/w3c`; without FOLDER that distribution is fetched. All data files become named graphs of one store, each
under the address at which its case has it, and a case asks with the dataset parameters of the protocol.
"""

from __future__ import annotations

import csv
import gzip
import io
import subprocess
import sys
import tarfile
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path
from urllib.parse import unquote

import httpx
import pyoxigraph as ox
import rdflib
from rdflib import RDF, XSD, BNode, Graph, Literal, URIRef
from rdflib.collection import Collection
from rdflib.compare import isomorphic
from rdflib.namespace import Namespace
from rdflib.query import Result
from rdflib.term import Node

from lenticel import load
from lenticel.queries import Limits
from tests.endpoint import Running, running, store_from

MF = Namespace("http://www.w3.org/2001/sw/DataAccess/tests/test-manifest#")
QT = Namespace("http://www.w3.org/2001/sw/DataAccess/tests/test-query#")
DAWGT = Namespace("http://www.w3.org/2001/sw/DataAccess/tests/test-dawg#")
RS = Namespace("http://www.w3.org/2001/sw/DataAccess/tests/result-set#")
HOME = "https://cases.example/"  # where the folder is thought to lie
NOWHERE = f"{HOME}nothing"
SUITES = ("dawg-data-r2", "sparql11")
ELSEWHERE = {  # folders that hold no case of a query's answer: other entailment, other protocols, updates of which only the refusal counts
    "sparql11/entailment": "answers under RDFS, OWL and RIF entailment, which the endpoint does not claim",
    "sparql11/http-rdf-update": "another protocol, the Graph Store's",
    "sparql11/protocol": "in tests/test_sparql.py",
    "sparql11/service-description": "in tests/test_sparql.py",
    "sparql11/service": "asks other services by SERVICE, which is refused by design",
}
FORMATS = {".ttl": ox.RdfFormat.TURTLE, ".nt": ox.RdfFormat.N_TRIPLES, ".n3": ox.RdfFormat.TURTLE, ".rdf": ox.RdfFormat.RDF_XML}
ACCEPT = {".srx": "application/sparql-results+xml", ".srj": "application/sparql-results+json", ".csv": "text/csv", ".tsv": "text/tab-separated-values"}
NUMBERS = {XSD[name] for name in ("integer", "decimal", "double", "float", "int", "short", "byte", "long", "nonNegativeInteger", "positiveInteger")}


@dataclass(frozen=True, slots=True)
class Case:
    """One case: its name, its kind, its query, and its dataset and answer as addresses."""

    name: str
    kind: str
    query: str
    default: tuple[str, ...] = ()
    named: tuple[str, ...] = ()
    answer: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a case went: why it failed, or ""."""

    case: Case
    why: str


def fetched(into: Path) -> Path:
    """The folder of the cases out of rdflib's source distribution of the version that is installed here.

    Raises:
        OSError: it cannot be had.
    """
    command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--no-binary", "rdflib", "-d", str(into), f"rdflib=={rdflib.__version__}"]
    if subprocess.run(command, capture_output=True, check=False, timeout=180).returncode:
        raise OSError("rdflib's source distribution cannot be had")
    (archive,) = into.glob("rdflib-*.tar.gz")
    with tarfile.open(archive) as file:
        file.extractall(into, [each for each in file.getmembers() if "/test/data/suites/w3c/" in each.name and each.isfile()])
    return next(into.glob("rdflib-*/test/data/suites/w3c"))


def cases_in(folder: Path) -> Iterator[Case]:
    """Every case of the suites that the W3C's groups approved, and besides every update."""
    for suite in SUITES:
        for path in sorted((folder / suite).rglob("manifest.ttl")):
            where = path.parent.relative_to(folder).as_posix()
            if where not in ELSEWHERE:
                yield from _cases(Graph().parse(path, publicID=f"{HOME}{where}/manifest.ttl"), f"{where}/")


def _cases(manifest: Graph, where: str) -> Iterator[Case]:
    for entries in manifest.objects(None, MF.entries):
        for entry in Collection(manifest, entries):
            kind = str(manifest.value(entry, RDF.type) or MF.QueryEvaluationTest).rpartition("#")[2]
            if manifest.value(entry, DAWGT.approval) != DAWGT.Approved and "Update" not in kind:
                continue
            action, name = manifest.value(entry, MF.action), where + str(entry).rpartition("#")[2]
            query = manifest.value(action, QT.query) or manifest.value(action, URIRef("http://www.w3.org/2009/sparql/tests/test-update#request")) or action
            graphs = [manifest.value(each, QT.graph) or each for each in manifest.objects(action, QT.graphData)]
            data = tuple(str(each) for each in manifest.objects(action, QT.data))
            yield Case(name, kind, str(query), data, tuple(map(str, graphs)), str(manifest.value(entry, MF.result) or ""))


def quads_of(folder: Path, cases: Iterable[Case]) -> str:
    """The data of all cases as N-Quads, each file a graph under its address."""
    store = ox.Store()
    for address in sorted({each for case in cases for each in (*case.default, *case.named)} | set(_from_clauses(folder, cases))):
        path = _file(folder, address)
        if path.is_file() and path.suffix in FORMATS:
            store.load(path.read_bytes(), format=FORMATS[path.suffix], base_iri=address, to_graph=ox.NamedNode(address))
    return store.dump(format=ox.RdfFormat.N_QUADS).decode()


def _from_clauses(folder: Path, cases: Iterable[Case]) -> Iterator[str]:
    """The data files beside queries that name their dataset themselves."""
    for case in cases:
        if case.query and not case.default and not case.named:
            beside = _file(folder, case.query).parent.iterdir()
            yield from (f"{case.query.rpartition('/')[0]}/{each.name}" for each in beside if each.suffix in FORMATS and "manifest" not in each.name)


def _file(folder: Path, address: str) -> Path:
    return folder / unquote(address.removeprefix(HOME))


class Runner:
    """Asks the cases of a folder, one by one."""

    def __init__(self, folder: Path, service: Running) -> None:
        self.folder, self.service = folder, service
        self.client = httpx.Client(timeout=60)
        self.kinds: dict[str, Callable[[Case], str]] = {
            "QueryEvaluationTest": self._evaluated, "CSVResultFormatTest": self._evaluated,
            "PositiveSyntaxTest": self._read, "PositiveSyntaxTest11": self._read,
            "NegativeSyntaxTest": self._not_read, "NegativeSyntaxTest11": self._not_read,
        }  # fmt: skip

    def run(self, case: Case) -> Outcome | None:
        """Ask a case; None where it is none of a query. Updates must be refused, in whichever way they come."""
        if "Update" in case.kind:
            return Outcome(case, self._refused(case))
        return Outcome(case, self.kinds[case.kind](case)) if case.kind in self.kinds else None

    def _text(self, case: Case) -> str:
        return f"BASE <{case.query}>\n" + _file(self.folder, case.query).read_bytes().decode("utf-8", "surrogateescape")

    def _ask(self, case: Case, accept: str, *, bare: bool = False) -> httpx.Response:
        text = self._text(case)
        fields: dict[str, str | list[str]] = {"query": text}
        if case.default:
            fields["default-graph-uri"] = list(case.default)
        if case.named:
            fields["named-graph-uri"] = list(case.named)
        if not bare and not case.default and not case.named and "FROM" not in text.upper():
            fields["default-graph-uri"] = NOWHERE
        return self.client.post(f"{self.service.url}/sparql", data=fields, headers={"accept": accept})

    def _read(self, case: Case) -> str:
        found = self._ask(case, "application/sparql-results+json, text/turtle")
        return f"{found.status_code}: {found.text[:200]}" if _code(found) == "bad-query" else ""

    def _not_read(self, case: Case) -> str:
        found = self._ask(case, "application/sparql-results+json, text/turtle")
        return "" if _code(found) in ("bad-query", "read-only") else f"it was taken: {found.status_code}"

    def _refused(self, case: Case) -> str:
        text = _file(self.folder, case.query).read_bytes()
        url = f"{self.service.url}/sparql"
        answers = [
            self.client.post(url, content=text, headers={"content-type": "application/sparql-update"}),
            self.client.post(url, data={"update": text.decode("utf-8", "replace")}),
            self.client.post(url, data={"query": text.decode("utf-8", "replace")}),
            self.client.get(url, params={"query": text.decode("utf-8", "replace")}),
        ]
        if text.strip() and case.kind != "NegativeUpdateSyntaxTest11":
            return "" if all(400 <= each.status_code < 500 for each in answers) else str([each.status_code for each in answers])
        return "" if all(400 <= each.status_code < 500 for each in answers[:2]) else str([each.status_code for each in answers])

    def _evaluated(self, case: Case) -> str:
        wanted = _file(self.folder, case.answer)
        found = self._ask(case, f"{ACCEPT.get(wanted.suffix, 'application/sparql-results+json')}, application/n-triples;q=0.5")
        if found.status_code != 200:
            return f"{found.status_code}: {found.text[:200]}"
        if wanted.suffix == ".csv":
            return "" if _cells(found.text) == _cells(wanted.read_text(encoding="utf-8")) else f"other cells: {found.text[:300]}"
        given, expected = _answer_of(found), _expected(wanted, case.answer)
        if isinstance(given, Graph) or isinstance(expected, Graph):
            same = isinstance(given, Graph) and isinstance(expected, Graph) and isomorphic(given, expected)
            return "" if same else "another graph"
        if isinstance(given, bool) or isinstance(expected, bool):
            return "" if given is expected else f"{given} for {expected}"
        if case.query.startswith(f"{HOME}dawg-data-r2/reduced/"):  # REDUCED may take out as many equal rows as it likes
            given, expected = given.reduced(), expected.reduced()
        return "" if given.same(expected) else f"{given} for {expected}, or others"


def _code(found: httpx.Response) -> str:
    """The code of a problem; "" for an answer. That a query was read is not yet that it is carried out: a function may be unknown, a service be called."""
    return "" if found.status_code == 200 else str(found.json()["code"])


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of an answer; `ordered` where their order counts."""

    names: frozenset[str]
    rows: tuple[dict[str, Node], ...]
    ordered: bool = False

    def __str__(self) -> str:
        return f"{len(self.rows)} rows of {sum(map(len, self.rows))} terms"

    def same(self, expected: Rows) -> bool:
        """Whether these are the rows expected, up to the names of blank nodes, and their order where it counts."""
        return self.names == expected.names and isomorphic(self._graph(expected.ordered), expected._graph(expected.ordered))

    def reduced(self) -> Rows:
        """Each row once."""
        return Rows(self.names, tuple(dict(each) for each in dict.fromkeys(tuple(sorted(row.items())) for row in self.rows)))

    def _graph(self, ordered: bool) -> Graph:
        """The rows as a graph; equal rows are counted, so that as many must come."""
        made, seen = Graph(), Counter[frozenset[tuple[str, Node]]]()
        for place, row in enumerate(self.rows):
            node = BNode()
            key = frozenset((name, value) for name, value in row.items())
            if not ordered and not any(isinstance(value, BNode) for value in row.values()):
                seen[key] += 1
                made.add((node, RS["index"], Literal(seen[key])))
            if ordered:
                made.add((node, RS["index"], Literal(place)))
            made.add((node, RDF.type, RS.ResultSet))
            for name, value in row.items():
                made.add((node, RS[f"variable-{name}"], value))
        return made


def _plain(value: Node) -> Node:
    """A term; a number by its value, since the suites do not ask for one way to write it, and a string as RDF 1.1 has it."""
    if isinstance(value, Literal) and value.datatype in NUMBERS and value.value is not None:
        number = Decimal(repr(value.value)) if isinstance(value.value, float) else Decimal(value.value)
        return Literal(f"number {number.normalize():E}" if number.is_finite() else f"number {number}", datatype=URIRef(f"{value.datatype}-value"))
    if isinstance(value, Literal) and value.datatype == XSD.string:
        return Literal(str(value))
    if isinstance(value, Literal) and value.language:
        return Literal(str(value), lang=value.language.lower())  # BCP 47, 2.1.1: case means nothing
    return value


def _rows(result: Result, ordered: bool = False) -> Rows | bool:
    if result.askAnswer is not None:
        return bool(result.askAnswer)
    rows = tuple({str(name): _plain(value) for name, value in row.items()} for row in result.bindings)
    return Rows(frozenset(map(str, result.vars or ())), rows, ordered)


def _answer_of(found: httpx.Response) -> Rows | Graph | bool:
    kind = found.headers["content-type"].partition(";")[0]
    if kind == "application/n-triples":
        return Graph().parse(data=found.text, format="nt")
    forms = {"application/sparql-results+xml": "xml", "application/sparql-results+json": "json", "text/tab-separated-values": "tsv"}
    return _rows(Result.parse(io.BytesIO(found.content), format=forms[kind]))


def _expected(path: Path, address: str) -> Rows | Graph | bool:
    forms = {".srx": "xml", ".srj": "json", ".tsv": "tsv"}
    if path.suffix in forms:
        with path.open("rb") as file:
            return _rows(Result.parse(file, format=forms[path.suffix]))
    graph = Graph().parse(path, publicID=address, format="xml" if path.suffix == ".rdf" else "turtle")
    root = graph.value(None, RDF.type, RS.ResultSet)
    if root is None:
        return graph
    if (truth := graph.value(root, RS.boolean)) is not None:
        return bool(truth.toPython())  # type: ignore[attr-defined]
    solutions = list(graph.objects(root, RS.solution))
    ordered = any(graph.value(each, RS["index"]) is not None for each in solutions)
    if ordered:
        solutions.sort(key=lambda each: int(str(graph.value(each, RS["index"]))))
    rows = [{str(graph.value(each, RS.variable)): _plain(graph.value(each, RS.value)) for each in graph.objects(row, RS.binding)} for row in solutions]  # type: ignore[arg-type]
    return Rows(frozenset(map(str, graph.objects(root, RS.resultVariable))), tuple(rows), ordered)


def _cells(text: str) -> Counter[frozenset[tuple[str, str]]]:
    """The rows of a CSV file; a star puts columns in no set order, blank nodes have no set names, and a number counts by its value, as in the other formats."""
    return Counter(frozenset((name, _cell(cell)) for name, cell in row.items()) for row in csv.DictReader(io.StringIO(text)))


def _cell(text: str) -> str:
    try:
        return f"{Decimal(text).normalize():E}"
    except InvalidOperation:
        return "_:" if text.startswith("_:") else text


def run_all(folder: Path) -> list[Outcome]:
    """Ask every case of a folder."""
    cases = list(cases_in(folder))
    quads = quads_of(folder, cases)
    with tempfile.TemporaryDirectory() as scratch:
        store = store_from(quads, Path(scratch))
        before = _content(store)
        with running(load(), store, Limits(seconds=20)) as service:
            service.open(store, union=False)
            runner = Runner(folder, service)
            outcomes = [outcome for case in cases if (outcome := runner.run(case))]
        assert _content(store) == before, "the store has changed"
    return outcomes


def _content(store: Path) -> bytes:
    """All that a store holds, in one order."""
    quads = ox.Store.read_only(str(store)).dump(format=ox.RdfFormat.N_QUADS)
    return gzip.compress(b"\n".join(sorted(quads.splitlines())), mtime=0)


def main() -> None:
    """Print what became of the cases, and each that failed."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(sys.argv[1]) if len(sys.argv) > 1 else fetched(Path(scratch))
        outcomes = run_all(folder)
    for kind, number in sorted(Counter(each.case.kind for each in outcomes).items()):
        failed = sum(bool(each.why) for each in outcomes if each.case.kind == kind)
        print(f"{kind}: {number - failed} of {number}")
    for each in outcomes:
        if each.why:
            print(f"  {each.case.name}: {each.why}")


if __name__ == "__main__":
    main()
