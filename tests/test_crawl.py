"""No identifier that is published and no link of a page is dead: all are followed, as people and as programs do.

By default as many of each kind as take half a minute, evenly spread; all of them with LENTICEL_CRAWL=all.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from html import unescape
from urllib.parse import urldefrag, urljoin, urlsplit

import pytest
from fastapi.testclient import TestClient

from lenticel.api import create_app
from lenticel.paths import Place, address_of, places_of
from lenticel.snapshot import Snapshot

KINDS = ("taxa", "characters", "states", "sources", "statements")
EACH, LINKS = 60, 400  # as many of a kind, and of further links, as are followed by default
BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"
WHOLE = os.environ.get("LENTICEL_CRAWL") == "all"


def spread(keys: list[str], most: int) -> list[str]:
    """At most so many of the keys, evenly spread over their order."""
    step = max(1, -(-len(keys) // most))
    return keys if WHOLE else keys[::step]


class Crawler:
    """Opens addresses as a browser does, each once, and remembers what each page holds."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.pages: dict[str, tuple[set[str], set[str]]] = {}

    def open(self, address: str) -> tuple[set[str], set[str]]:
        """The inner links of a page, and the places in it to which a link may lead."""
        if address not in self.pages:
            answer = self.client.get(address, headers={"accept": BROWSER})
            assert answer.status_code == 200, address
            page = answer.text if answer.headers["content-type"].startswith("text/html") else ""
            self.pages[address] = set(inner_links(page, address)), {unescape(each) for each in re.findall(r'\bid="([^"]*)"', page)}
        return self.pages[address]

    def follow(self, link: str) -> None:
        """Open where a link leads; a place in a page must be there."""
        address, place = urldefrag(link)
        _, places = self.open(address)
        assert not place or place in places, link


def inner_links(page: str, address: str) -> Iterator[str]:
    """The links of a page that stay with the service."""
    for each in re.findall(r'\b(?:href|src|action)="([^"]*)"', page):
        link = urljoin(address, unescape(each))
        if not urlsplit(link).scheme:
            yield link


@pytest.fixture(scope="module")
def crawler(trees: Snapshot) -> Crawler:
    return Crawler(TestClient(create_app(trees), raise_server_exceptions=False))


@pytest.fixture(scope="module")
def places(trees: Snapshot) -> dict[str, Place]:
    """By address, every thing of the kinds that are crawled."""
    found = places_of(trees.knowledge, trees.body.cells)
    return {address_of(trees.knowledge.about.iri, each.table, each.key): each for each in found.values() if each.table in KINDS and not each.part}


def test_every_identifier_opens_as_page_and_in_two_forms_for_programs_and_no_link_of_its_page_is_dead(
    trees: Snapshot, crawler: Crawler, places: dict[str, Place]
) -> None:
    links: set[str] = set()
    opened = dict.fromkeys(KINDS, 0)
    for kind in KINDS:
        all_of_it = [address for address, place in places.items() if place.table == kind]
        assert len(all_of_it) == len(getattr(trees.knowledge, kind))
        for address in spread(all_of_it, EACH):
            iri = f"{trees.knowledge.about.iri}{address.removeprefix(urlsplit(trees.knowledge.about.iri).path)}"
            found, _ = crawler.open(address)
            links |= found
            linked = crawler.client.get(address, headers={"accept": "application/ld+json"})
            assert (linked.status_code, linked.headers["content-type"]) == (200, "application/ld+json"), address
            assert f'"@id": "{iri}"' in linked.text, address
            assert json.loads(linked.text)["@context"]
            turtle = crawler.client.get(address, headers={"accept": "text/turtle"})
            assert (turtle.status_code, turtle.headers["content-type"]) == (200, "text/turtle; charset=utf-8"), address
            assert f"<{iri}>" in turtle.text or f":{iri.rpartition('/')[2]} " in turtle.text, address
            opened[kind] += 1
    for link in spread(sorted(links), LINKS):
        crawler.follow(link)
    print(f"opened {opened}, followed {len(spread(sorted(links), LINKS))} of {len(links)} links")
    assert all(opened.values())
    assert len(links) > 300


def test_no_link_of_the_pages_on_which_people_start_is_dead(crawler: Crawler) -> None:
    starts = [link for link in crawler.open("/")[0] if not link.startswith("/static")]
    assert len(starts) >= 5
    for start in starts:
        links, _ = crawler.open(urldefrag(start)[0])
        for link in spread(sorted(links), 40):
            crawler.follow(link)


def test_a_dead_link_is_found(crawler: Crawler) -> None:
    for link in ("/lenticel/trees/taxon/no-such-thing", "/#no-such-place"):
        with pytest.raises(AssertionError):
            crawler.follow(link)
