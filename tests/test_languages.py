"""Labels in the language that is asked for: never empty, each with its language; the same answer otherwise."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from typing import Any
from urllib.parse import parse_qs, quote, urlsplit

import pytest
from fastapi.testclient import TestClient

from lenticel.account import account
from lenticel.answers import as_json
from lenticel.api import create_app
from lenticel.api.carried import carrying
from lenticel.identify import identify
from lenticel.languages import in_language, languages_of
from lenticel.model import Name
from lenticel.negotiate import language_wanted
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot
from lenticel.text import account_text
from lenticel.written import identified
from tests.operations import is_problem

ASKED = ("en", "fr", "de", "la", "ja")
SEEN = [("leaf-arrangement", "opposite"), ("petiole-sap", "milky")]
# Invented: no source calls these trees so. They stand in place of the French names of the tables, which grow, and for a language of which these hold none.
INVENTED = [
    Name("acer-rubrum", "arbre deux", "common", "fr", "otis-1915", "invented"),
    Name("acer-rubrum", "arbre un", "common", "fr", "bailey-1917", "invented"),
    Name("acer-rubrum", "arbre un", "common", "fr", "otis-1915", "invented"),
    Name("acer-nigrum", "bois noir", "common", "fr", "otis-1915", "invented"),
    Name("acer-nigrum", "âtre noir", "common", "fr", "otis-1915", "invented"),
    Name("acer-platanoides", "arbre <trois>", "common", "fr", "otis-1915", "invented"),
    Name("acer", "Bäume", "common", "de", "otis-1915", "invented"),
]


@pytest.fixture(scope="module")
def spoken(trees: Snapshot) -> Snapshot:
    """The knowledge with the invented names."""
    known = replace(trees.knowledge, names=[*(each for each in trees.knowledge.names if each.language != "fr"), *INVENTED])
    return replace(trees, load_body=lambda: replace(trees.body, knowledge=known), memo={})


@pytest.fixture(scope="module")
def client(spoken: Snapshot) -> TestClient:
    return TestClient(create_app(spoken))


def below(snapshot: Snapshot) -> str:
    """The path below which things are answered for."""
    return urlsplit(snapshot.knowledge.about.iri).path


def labels(client: TestClient, **more: Any) -> dict[str, tuple[str, str]]:
    answer = client.get("/v1/taxa", **more)
    assert answer.status_code == 200, answer.text
    return {each["id"]: (each["label"], each["label_language"]) for each in answer.json()}


def test_no_taxon_is_without_a_label_in_any_language_and_the_scientific_name_is_always_in_it(client: TestClient, trees: Snapshot) -> None:
    for language in ASKED:
        found = labels(client, params={"lang": language})
        assert len(found) == len(trees.knowledge.taxa)
        for key, (label, told) in found.items():
            assert label.startswith(trees.knowledge.taxa[key].scientific_name)
            assert told in (language, "en", "la")
            assert "()" not in label
            assert (told == "la") == (label == trees.knowledge.taxa[key].scientific_name)


def test_the_name_asked_for_goes_before_the_english_and_that_before_the_scientific_alone(client: TestClient) -> None:
    french, latin = (labels(client, params={"lang": language}) for language in ("fr", "la"))
    assert french["acer-rubrum"] == ("Acer rubrum (arbre un)", "fr")
    assert french["acer-saccharum"] == ("Acer saccharum (sugar maple)", "en")
    assert set(latin.values()) >= {("Acer rubrum", "la")}
    assert {told for _, told in latin.values()} == {"la"}


def test_of_several_names_the_one_that_most_sources_use_stands_in_the_label_else_the_first_by_the_alphabet(client: TestClient, spoken: Snapshot) -> None:
    assert next(each.name for each in spoken.knowledge.names if each.taxon == "acer-rubrum" and each.language == "fr") == "arbre deux"
    french = labels(client, params={"lang": "fr"})
    assert french["acer-rubrum"] == ("Acer rubrum (arbre un)", "fr")
    assert french["acer-nigrum"] == ("Acer nigrum (âtre noir)", "fr")


@pytest.fixture(scope="module")
def served(trees: Snapshot) -> TestClient:
    """The service of the tables as they are, with the French names that sources give."""
    return TestClient(create_app(trees))


def test_french_names_stand_wherever_a_taxon_is_called(served: TestClient) -> None:
    asked = {"accept-language": "fr-CA, en;q=0.5"}
    name = "Acer rubrum (érable rouge)"
    listed = served.get("/v1/taxa?limit=200", headers=asked).json()
    assert sum(1 for each in listed if each["label_language"] == "fr") >= 80
    assert next(each for each in listed if each["id"] == "acer-rubrum")["label"] == name
    found = served.get("/v1/identify?seen=leaf-arrangement%3Dopposite&lang=fr").json()
    assert name in [each["label"] for each in found["consistent"]]
    assert served.get("/v1/taxa/acer-rubrum", headers=asked).json()["taxon"]["label"] == name
    assert served.get("/v1/taxa/acer-rubrum?lang=de").json()["taxon"]["label"] == "Acer rubrum (red maple)"
    assert '<span lang="fr">érable rouge</span>' in served.get("/taxa", headers=asked | {"accept": "text/html"}).text
    assert name in [each["label"] for each in served.get("/terms.json", headers=asked).json()]


def test_a_name_that_several_sources_use_stands_once_on_the_page_with_each_of_them(served: TestClient, trees: Snapshot) -> None:
    page = served.get(f"{below(trees)}taxon/acer-rubrum", headers={"accept": "text/html"}).text
    records = [each.id for each in trees.knowledge.names if each.taxon == "acer-rubrum" and each.name == "érable rouge"]
    assert len(records) > 2
    assert page.count('<span lang="fr">érable rouge</span>') == 1
    assert [page.count(f'/{quote(each)}"') for each in records] == [1] * len(records)


def test_text_says_in_which_language_a_name_is_that_is_neither_english_nor_scientific(trees: Snapshot) -> None:
    text = "\n".join(account_text(trees.knowledge, account(trees, "acer-rubrum")))
    assert "érable rouge (fr)" in text
    assert "soft maple," in text


@pytest.mark.parametrize("word", ["erable rouge", "Érable rouge", "e\u0301rable rouge", "ÉRABLE  ROUGE"])
def test_a_taxon_is_named_by_its_french_name_with_or_without_accents(served: TestClient, word: str) -> None:
    assert served.get(f"/v1/taxa/{quote(word)}").json()["taxon"]["id"] == "acer-rubrum"
    assert served.get("/v1/compare", params={"taxa": [word, "erable a sucre"]}).json()["taxa"] == ["acer-rubrum", "acer-saccharum"]


@pytest.mark.parametrize(
    ("accept", "language"),
    [
        ("fr", "fr"), ("fr-CA, en;q=0.5", "fr"), ("ja, fr;q=0.2, de;q=0.3", "de"), ("ja", ""), ("*", ""), ("", ""), ("en-US,en;q=0.9,fr;q=0.8", "en"),
        ("fr;q=0, de", "de"), ("fr;q=0", ""), ("FR", "fr"), ("fr;q=nonsense", ""), (",;q=,", ""), ("x" * 5000, ""), ("de-Latn-DE-1996", "de"),
    ],
)  # fmt: skip
def test_the_language_is_the_most_wanted_that_there_is_or_a_broader_one(accept: str, language: str) -> None:
    assert language_wanted(accept, ("de", "en", "fr", "la")) == language


def test_the_address_goes_before_the_header(client: TestClient) -> None:
    assert labels(client, headers={"accept-language": "fr"})["acer-rubrum"][1] == "fr"
    assert labels(client, params={"lang": "de"}, headers={"accept-language": "fr"})["acer"] == ("Acer (Bäume)", "de")
    assert labels(client, params={"lang": "ja"}, headers={"accept-language": "fr"})["acer-rubrum"][1] == "en"


@pytest.mark.parametrize("lang", ["fr,de", "f_r", "a" * 9, "fr;q=1", "é"])
def test_what_is_no_language_tag_is_refused(client: TestClient, lang: str) -> None:
    found = is_problem(client.get("/v1/taxa", params={"lang": lang}), 422, "bad-request")
    assert found["errors"][0]["pointer"] == "/lang"


def test_an_answer_differs_by_its_labels_alone(client: TestClient, spoken: Snapshot) -> None:
    plain, french = (
        client.get("/v1/identify?seen=leaf-arrangement%3Dopposite", params={"seen": "petiole-sap=milky", "lang": each}).json() for each in ("en", "fr")
    )
    called = {each["taxon"]: each for each in french["consistent"]}
    assert called["acer-platanoides"]["label"] == "Acer platanoides (arbre <trois>)"
    for each in (*plain["consistent"], *plain["excluded"], *french["consistent"], *french["excluded"]):
        assert each.pop("label").startswith(spoken.knowledge.taxa[each["taxon"]].scientific_name)
        assert each.pop("label_language")
    assert plain == french


@pytest.mark.parametrize("language", ASKED[:4])
def test_the_answer_put_together_from_pieces_is_that_of_the_function(spoken: Snapshot, language: str) -> None:
    snapshot = in_language(spoken, language)
    seen = read_observations(Reader(snapshot), SEEN)
    assert identified(snapshot, seen) == as_json(identify(snapshot, seen))


def test_a_kept_answer_is_found_unchanged_only_in_its_own_language(client: TestClient) -> None:
    tags = {}
    for accept in ("en", "fr", "ja", "la"):
        answer = client.get("/v1/taxa/acer-rubrum", headers={"accept-language": accept})
        assert "accept-language" in answer.headers["vary"].split(", ")
        assert answer.headers["content-language"] == {"fr": "fr, en", "la": "la, en"}.get(accept, "en")
        tags[accept] = answer.headers["etag"]
    assert tags["en"] == tags["ja"]
    assert len(set(tags.values())) == 3
    assert client.get("/v1/taxa/acer-rubrum", headers={"accept-language": "fr", "if-none-match": tags["fr"]}).status_code == 304
    assert client.get("/v1/taxa/acer-rubrum", headers={"accept-language": "fr", "if-none-match": tags["en"]}).status_code == 200


def test_pages_say_in_which_language_each_name_is(client: TestClient, spoken: Snapshot) -> None:
    for path in ("/taxa", "/identify?seen=petiole-sap%3Dmilky", f"{below(spoken)}taxon/acer-platanoides"):
        page, plain = (client.get(path, headers={"accept": "text/html", "accept-language": each}) for each in ("fr", "en"))
        assert page.status_code == 200
        assert "accept-language" in page.headers["vary"].split(", ")
        assert '<html lang="en">' in page.text
        assert '<span lang="fr">arbre &lt;trois&gt;</span>' in page.text
        assert '<i lang="la">Acer platanoides</i>' in page.text
        assert "Norway maple" in plain.text
        assert ('lang="fr"' in plain.text) == path.endswith("acer-platanoides")  # among its other names


def followed(page: str) -> list[str]:
    """Where the links of a page to other pages of the service lead."""
    return [unescape(each) for each in re.findall(r'<a\b[^>]* href="(/[^"]*)"', page)]


def test_the_links_and_the_form_of_a_page_carry_the_language_that_its_address_names(client: TestClient, spoken: Snapshot) -> None:
    for path in ("/", "/taxa", "/identify?seen=petiole-sap%3Dmilky", f"{below(spoken)}taxon/acer-platanoides", "/release"):
        page = client.get(f"{path}{'&' if '?' in path else '?'}lang=fr", headers={"accept": "text/html"}).text
        links = followed(page)
        assert len(links) > 5
        assert [each for each in links if parse_qs(urlsplit(each).query).get("lang") != ["fr"]] == []
        assert page.count('<input type="hidden" name="lang" value="fr">') == page.count("<form action=")
        assert "/static/page.css?" not in page
        unnamed = client.get(path, headers={"accept": "text/html", "accept-language": "fr"}).text
        assert [urlsplit(each).path for each in followed(unnamed)] == [urlsplit(each).path for each in links]
        assert "lang=" not in "".join(followed(unnamed))
    assert client.get(next(each for each in links if "/taxa" in each)).text.count("arbre &lt;trois&gt;") == 1


def test_what_a_page_carries_on_stays_a_parameter() -> None:
    page = b'<a class="cite" href="/taxa?a=1#here">x</a><a href="https://example.org/">y</a><a href="//example.org/">z</a><form action="/identify">'
    carried = carrying(page, 'fr"><i>&b=1').decode()
    assert carried.startswith('<a class="cite" href="/taxa?a=1&amp;lang=fr%22%3E%3Ci%3E%26b%3D1#here">x</a><a href="https://example.org/">y</a>')
    assert carried.endswith('z</a><form action="/identify"><input type="hidden" name="lang" value="fr&#34;&gt;&lt;i&gt;&amp;b=1">')
    assert carrying(page, "") == page


def test_the_page_of_all_taxa_names_each(client: TestClient, spoken: Snapshot) -> None:
    page = client.get("/taxa").text
    assert [key for key in spoken.knowledge.taxa if f'{below(spoken)}taxon/{key}"' not in page] == []


def test_graphs_are_the_same_whatever_language_is_wanted(client: TestClient, spoken: Snapshot) -> None:
    path = f"{below(spoken)}taxon/acer-rubrum.ttl"
    assert client.get(path).content == client.get(path, headers={"accept-language": "fr"}).content


def test_a_body_of_knowledge_has_the_languages_of_its_names_besides_english_and_latin(spoken: Snapshot, workshop: Snapshot) -> None:
    assert languages_of(spoken.knowledge) == ("de", "en", "fr", "la")
    assert languages_of(workshop.knowledge) == ("en", "la")
