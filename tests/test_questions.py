"""The saved questions: each answers what it says it does, quickly, from the command and over HTTP, and no parameter gets out of its place.

The service that they are put to also answers what README.md shows for `curl` and R, as it stands there.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import subprocess
import time
from collections.abc import Iterator
from fnmatch import fnmatchcase
from pathlib import Path

import httpx
import pyoxigraph as ox
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rdflib import RDF, RDFS, SH, Graph, URIRef

from lenticel.cli import main
from lenticel.errors import LenticelError
from lenticel.queries import Limits
from lenticel.refused import Refused
from lenticel.saved import TYPES, Binder, Parameter, Saved, read, saved_in
from lenticel.snapshot import Snapshot
from lenticel.tokens import tokens
from tests.conftest import ROOT
from tests.docs import README
from tests.endpoint import Running, running

QUESTIONS = saved_in(ROOT / "ontology" / "questions")
LONGEST = 1.0  # seconds, on the best of TIMES: another process may have the processor meanwhile
SWIFT = 0.3  # seconds; what took no longer is not asked again
TIMES = 3


@pytest.fixture(scope="module")
def service(trees: Snapshot, trees_store: Path) -> Iterator[Running]:
    with running(trees, trees_store, Limits(seconds=30, kept=0), questions=QUESTIONS) as found:  # each is asked of the store, however often
        yield found


@pytest.fixture(scope="module")
def binder(trees: Snapshot) -> Binder:
    return Binder(trees)


def test_there_are_at_least_thirty() -> None:
    assert len(QUESTIONS) >= 30
    assert len({each.title for each in QUESTIONS.values()}) == len(QUESTIONS)
    assert all(each.title.endswith("?") and each.about.endswith(".") for each in QUESTIONS.values())


@pytest.mark.parametrize("name", QUESTIONS)
def test_each_question_gives_the_rows_that_it_promises_within_a_second(service: Running, name: str) -> None:
    question, took = QUESTIONS[name], list[float]()
    while not took or (min(took) > SWIFT and len(took) < TIMES):
        began = time.perf_counter()
        answer = httpx.get(f"{service.url}/v1/questions/{name}", headers={"accept": "text/csv, application/n-triples;q=0.5"}, timeout=20)
        took.append(time.perf_counter() - began)
    assert min(took) < LONGEST, took
    assert answer.status_code == 200, answer.text
    count = int(answer.headers["x-lenticel-rows"])
    assert count >= question.rows if question.at_least else count == question.rows
    rows = [[_short(cell) for cell in row] for row in csv.reader(io.StringIO(answer.text))][1:]
    for wanted in question.row:
        assert any(len(row) == len(wanted) and all(map(fnmatchcase, row, wanted)) for row in rows), (wanted, rows[:5])


def _short(cell: str) -> str:
    """An IRI of ours by its last part, as the files name it."""
    below = cell.removeprefix("https://w3id.org/lenticel/trees/")
    return below if below == cell or below.startswith("ontology/") else below.partition("/")[2]


def test_a_row_that_is_not_there_is_missed(service: Running) -> None:
    """The check above can fail: two thirds of the questions name a row, and an altered row is not found."""
    assert sum(bool(each.row) for each in QUESTIONS.values()) >= 20
    rows = [[_short(cell) for cell in row] for row in csv.reader(io.StringIO(httpx.get(f"{service.url}/v1/questions/lineage?format=csv").text))][1:]
    assert ["acer", "genus", "Acer"] in rows
    assert ["acer", "genus", "Acer."] not in rows


def test_a_parameter_changes_the_answer(service: Running) -> None:
    oaks = httpx.get(f"{service.url}/v1/questions/species-of-genus", params={"taxon": "Quercus", "format": "csv"}).text
    assert "Quercus rubra" in oaks
    assert "Acer" not in oaks


def test_nothing_parts_a_taxon_from_itself(service: Running) -> None:
    """Else every character that parts it from any other would be told as parting it from itself."""
    found = httpx.get(f"{service.url}/v1/questions/parts-two", params={"one": "red maple", "other": "Acer rubrum", "format": "csv"})
    assert found.text.split() == ["character,force,seasons"]


def test_the_list_shows_queries_that_run_as_they_stand(service: Running) -> None:
    listed = httpx.get(f"{service.url}/v1/questions").json()
    assert [each["question"]["name"] for each in listed] == list(QUESTIONS)
    for each in listed:
        assert "$" not in each["question"]["query"], each["question"]["name"]
    alone = httpx.get(f"{service.url}{listed[0]['link']}", headers={"accept": "*/*"})
    written = httpx.post(f"{service.url}/sparql", data={"query": listed[0]["question"]["query"]}, headers={"accept": "*/*"})
    assert alone.content == written.content


def test_the_description_of_the_service_holds_them_all_as_they_are_run(service: Running) -> None:
    """SHACL Advanced Features, section 5: anybody's engine can run what stands there, and gets what the service answers."""
    graph = Graph().parse(data=httpx.get(f"{service.url}/sparql", headers={"accept": "text/turtle"}).text, format="turtle")
    found = {str(each): each for each in graph.subjects(RDF.type, SH.SPARQLExecutable)}
    assert found.keys() == {f"{service.url}/v1/questions/{name}" for name in QUESTIONS}
    run = {each["link"].rpartition("/")[2]: each["question"]["query"] for each in httpx.get(f"{service.url}/v1/questions").json()}
    for name, question in QUESTIONS.items():
        node = found[f"{service.url}/v1/questions/{name}"]
        assert [str(each) for each in graph.objects(node, RDFS.label)] == [question.title]
        assert [str(each) for each in graph.objects(node, RDFS.comment)] == [question.about]
        assert [str(each) for each in graph.objects(node, URIRef("https://schema.org/target"))] == [f"{service.url}/sparql"]
        (text,) = [str(each) for word in (SH.select, SH.ask, SH.construct) for each in graph.objects(node, word)]
        assert text == run[name]
    declared = [each for node in graph.objects(None, SH.declare) for each in [(graph.value(node, SH.prefix), graph.value(node, SH.namespace))]]
    assert {str(prefix): str(iri) for prefix, iri in declared} == httpx.get(f"{service.url}/prefixes").json()
    name, query = next((name, query) for name, query in run.items() if "SELECT" in query)
    whole = "".join(f"PREFIX {prefix}: <{iri}>\n" for prefix, iri in declared) + query
    elsewhere = ox.Store.read_only(str(service.pool.store)).query(whole, use_default_graph_as_union=True)
    assert len(list(elsewhere)) == int(httpx.get(f"{service.url}/v1/questions/{name}?format=json").headers["x-lenticel-rows"]) > 0  # type: ignore[arg-type]


@pytest.mark.parametrize("word", ["érable rouge", "erable rouge", "Érable Rouge"])
def test_a_name_in_any_language_finds_its_taxon_with_or_without_accents_and_comes_with_its_language(service: Running, word: str) -> None:
    found = httpx.get(f"{service.url}/v1/questions/taxa-called", params={"word": word, "format": "json"}).json()["results"]["bindings"]
    assert [(each["name"]["value"], each["called"]["value"], each["called"]["xml:lang"]) for each in found] == [("Acer rubrum", "érable rouge", "fr")]
    names = httpx.get(f"{service.url}/v1/questions/other-names", params={"taxon": word, "format": "json"}).json()["results"]["bindings"]
    assert ("érable rouge", "fr") in [(each["name"]["value"], each["language"]["value"]) for each in names]


def test_what_does_not_fit_is_refused_with_what_does(service: Running) -> None:
    for name, query, status, code in (
        ("parts-twoo", "", 404, "unknown-term"),
        ("parts-two", "?three=acer-rubrum", 400, "bad-parameter"),
        ("parts-two", "?one=red%20mapel", 400, "bad-parameter"),
        ("alike-in-season", "?season=monsoon", 400, "bad-parameter"),
        ("in-flower", "?month=13", 400, "bad-parameter"),
        ("possible-at-size", "?size=1e5", 400, "bad-parameter"),
        ("taxa-called", "?word=" + "x" * 201, 400, "bad-parameter"),
    ):
        answer = httpx.get(f"{service.url}/v1/questions/{name}{query}")
        assert (answer.status_code, answer.json()["code"]) == (status, code), answer.text
        assert answer.json()["fix"]


HOSTILE = [
    '"', "'", "\\", '\\"', '" ) } #', "> <x", "\n", "\r\n", "\t", "}", "?x", "$word", "$taxon", "{ SERVICE <http://127.0.0.1/> {} }", "'''", '"""',
    "\\u0022", "\\U00000022", '") || true || CONTAINS("', '"@en', '"^^<http://e/>', "acer> . ?s ?p ?o . <x", "acer-rubrum> } DROP ALL #", "%22",
    "\u2028", "a" * 200, "é", "\U0001f333", "# comment", "\x00", "\ud800", "<>",
]  # fmt: skip


@pytest.mark.parametrize("kind", TYPES)
@pytest.mark.parametrize("value", HOSTILE)
def test_a_hostile_value_is_one_term_or_refused(binder: Binder, kind: str, value: str) -> None:
    _holds_one_term(binder, kind, value)


@given(st.sampled_from(TYPES), st.text(max_size=220))
def test_any_value_is_one_term_or_refused(trees: Snapshot, kind: str, value: str) -> None:
    _holds_one_term(_shared(trees), kind, value)


_BINDERS: dict[str, Binder] = {}


def _shared(trees: Snapshot) -> Binder:
    return _BINDERS.setdefault(trees.digest, Binder(trees))


def _holds_one_term(binder: Binder, kind: str, value: str) -> None:
    """Whatever the value, the query keeps its tokens but for one, and the engine reads the same value back."""
    question = Saved("x", "X?", "X.", (Parameter("it", kind, "", "x"),), "SELECT ?v { VALUES ?v { $it } }", 1, True, ())
    try:
        text = binder.text(question, {"it": value})
    except Refused:
        return
    kinds = [kind for kind, _ in tokens(text)]
    without = [kind for kind, _ in tokens(question.query)]
    assert len([each for each in kinds if each == "word"]) == len([each for each in without if each == "word"])
    rows = list(ox.Store().query(text))  # type: ignore[arg-type]
    assert len(rows) == 1
    if kind == "text":
        assert rows[0]["v"].value == value.strip()  # type: ignore[index, union-attr]


def test_parameters_in_strings_comments_and_names_are_left_alone(binder: Binder) -> None:
    query = 'SELECT ?x { ?x ?y "$it" ; <$it> $item . FILTER(?it = $it) } # $it'
    text = binder.text(Saved("x", "X?", "X.", (Parameter("it", "number", "5", "x"),), query, 1, True, ()), {})
    assert text == query.replace("= $it", '= "5"^^<http://www.w3.org/2001/XMLSchema#integer>')


def test_every_parameter_stands_in_its_query_and_every_mark_is_a_parameter() -> None:
    for question in QUESTIONS.values():
        marked = {text[1:] for kind, text in tokens(question.query) if kind == "variable" and text.startswith("$")}
        assert marked == {each.name for each in question.parameters}, question.name


@pytest.mark.parametrize(
    "text", ["# Title?\nSELECT * {}", "# T?\n# About.\n# parameter x: colour = red | which\nASK {}", "# T?\n# A.\n# parameter x taxon\nASK {}", "ASK {}"]
)
def test_a_file_that_is_not_written_as_it_should_be_is_refused(text: str) -> None:
    with pytest.raises(LenticelError):
        read("x", text)


def test_the_command_asks_the_same(
    trees_folder: Path, trees_dataset: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], service: Running
) -> None:
    (tmp_path / "release").mkdir()
    for each in trees_folder.iterdir():
        (tmp_path / "release" / each.name).symlink_to(each)
    (tmp_path / "release" / "dataset.nq.gz").symlink_to(trees_dataset)
    (tmp_path / "release" / "questions").symlink_to(ROOT / "ontology" / "questions")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    where = ["--knowledge", str(tmp_path / "release")]
    assert main(["ask", "parts-two", "one=red maple", "other=silver maple", "--format", "csv", *where]) == 0
    printed = capsys.readouterr()
    assert printed.out == httpx.get(f"{service.url}/v1/questions/parts-two?format=csv").text
    assert printed.err.count(f"The dataset for queries is laid out in {tmp_path / 'cache' / 'lenticel'}") == 1
    assert main(["ask", "lineage", *where]) == 0
    printed = capsys.readouterr()
    assert "taxon/acer" in printed.out
    assert "laid out" not in printed.err
    assert main(["ask", "--list", *where]) == 0
    assert len([line for line in capsys.readouterr().out.splitlines() if line.endswith("?")]) == len(QUESTIONS)
    (tmp_path / "query.rq").write_text("ASK { taxon:acer ?p ?o }", encoding="utf-8")
    assert main(["sparql", str(tmp_path / "query.rq"), *where]) == 0
    assert capsys.readouterr().out == "yes\n"
    (tmp_path / "query.rq").write_text("ASK { taxon:acer ?p }", encoding="utf-8")
    assert main(["sparql", str(tmp_path / "query.rq"), *where]) == 1
    assert "line 1" in capsys.readouterr().err


ADDRESS = "http://127.0.0.1:8000"  # as README.md has it
SHELL = re.findall(r"```sh\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
TOLD = "\\n== %{http_code} %{content_type}\\n"  # what curl is made to write after each answer, by its configuration: its own line stays as it is
MADE = {"json": "application/json", "csv": "text/csv", "ndjson": "application/x-ndjson"}


def test_each_line_of_curl_in_the_readme_is_answered_in_the_form_that_it_asks_for(service: Running, tmp_path: Path) -> None:
    if not shutil.which("curl"):
        pytest.skip("curl is not installed")
    (tmp_path / ".curlrc").write_text(f'write-out = "{TOLD}"\n')
    found: list[tuple[str, str]] = []
    for block in SHELL:
        script = block.replace(ADDRESS, service.url)
        assert ADDRESS in block
        done = subprocess.run(
            ("sh", "-e", "-c", script), cwd=tmp_path, env={**os.environ, "CURL_HOME": str(tmp_path)}, capture_output=True, text=True, timeout=60, check=False
        )
        assert done.returncode == 0, done.stderr
        answers = re.findall(r"(.*?)\n== (\d+) ([^;\n]*)[^\n]*\n", done.stdout, re.DOTALL)
        assert len(answers) == len(re.findall(r"^curl ", block, re.MULTILINE)), done.stdout
        assert [status for _, status, _ in answers] == ["200"] * len(answers), done.stdout
        found += [(kind, body) for body, _, kind in answers]
    assert [kind for kind, _ in found] == [MADE[each] for each in ("json", "csv", "csv", "ndjson")]
    (_, identified), (_, genera), (_, parting), (_, many) = found
    assert json.loads(identified)["consistent"]
    assert ["Acer"] in list(csv.reader(io.StringIO(genera)))
    assert len(list(csv.reader(io.StringIO(parting)))) > 1
    plant, closing = map(json.loads, many.splitlines())
    assert plant["plant"] == "tag 3"
    assert "plant" not in closing


def test_the_line_of_r_in_the_readme_reads_a_table(service: Running) -> None:
    if not shutil.which("Rscript"):
        pytest.skip("R is not installed")
    (line,) = re.findall(r"`(read\.csv\(.*?)`", README.read_text(encoding="utf-8"))
    assert ADDRESS in line
    query = 'SELECT ?name { ?taxon lt:rank "genus" ; lt:scientificName ?name } ORDER BY ?name'
    script = f"query <- commandArgs(trailingOnly = TRUE)\ncat({line.replace(ADDRESS, service.url)}$name, sep = '\\n')"
    done = subprocess.run(("Rscript", "-e", script, query), capture_output=True, text=True, timeout=60, check=False)
    if "there is no package called" in done.stderr:
        pytest.skip("R has no curl")
    assert done.returncode == 0, done.stderr
    assert "Acer" in done.stdout.split()
