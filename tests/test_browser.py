"""The pages in a real browser, at the width of a phone and of a desk: readable, without serious faults, the query page by keyboard alone."""

from __future__ import annotations

import asyncio
import shutil
import time
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from axe_core_python.selenium import Axe
from fastapi import Response
from fastapi.routing import APIRoute
from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.wait import WebDriverWait

from lenticel.api import create_app
from lenticel.paths import address_of
from lenticel.snapshot import Snapshot
from tests.served import in_thread

WIDTHS = {"phone": 390, "desk": 1280}
KINDS = ("home", "answer", "not understood", "taxon", "character", "measure", "state", "statement", "source", "caution", "cell", "release", "query", "missing",
         "taxa", "characters", "sources")  # fmt: skip
ROWS = '{"head": {"vars": ["name"]}, "results": {"bindings": [{"name": {"type": "literal", "value": "<b>one</b>"}}]}}'
FAULT = '{"detail": "The query cannot be read.", "fix": "Mend it.", "line": 2, "column": 3, "near": "WHEER"}'


@pytest.fixture(scope="module")
def service(trees: Snapshot) -> Iterator[str]:
    """The service on loopback; what it says to queries is made up, since only the page is tested here."""
    app = create_app(trees)

    async def stand_in(request: object) -> Response:
        text = (await request.body()).decode()  # type: ignore[attr-defined]
        if "slow" in text:
            await asyncio.sleep(20)
        if "WHEER" in text:
            return Response(FAULT, 400, media_type="application/problem+json")
        return Response(ROWS, media_type="application/sparql-results+json")

    app.router.routes[:] = [each for each in app.router.routes if not (isinstance(each, APIRoute) and each.path == "/sparql")]
    app.router.add_route("/sparql", stand_in, methods=["POST"])
    with in_thread(app) as address:
        yield address


@pytest.fixture(scope="module", autouse=True)
def installed() -> None:
    if not shutil.which("chromium") or not shutil.which("chromedriver"):
        pytest.skip("chromium and chromedriver, both Debian packages, are not installed")


@pytest.fixture(scope="module")
def browser() -> Iterator[webdriver.Chrome]:
    options = webdriver.ChromeOptions()
    quiet = ("no-first-run", "disable-background-networking", "disable-component-update", "disable-sync", "disable-quic")
    for each in ("headless=new", "no-sandbox", "disable-gpu", "disable-dev-shm-usage", *quiet):
        options.add_argument(f"--{each}")
    options.binary_location = shutil.which("chromium") or "chromium"
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(shutil.which("chromedriver") or "chromedriver"))
    yield driver
    driver.quit()


def address(trees: Snapshot, kind: str) -> str:
    known, iri = trees.knowledge, trees.knowledge.about.iri
    return {
        "home": "/",
        "answer": "/identify?seen=leaf-arrangement%3Dopposite&seen=bud-colour%3Dgreen",
        "not understood": "/identify?seen=leaf-arrangment%3Dopposite",
        "taxon": address_of(iri, "taxa", "acer-rubrum"),
        "character": address_of(iri, "characters", "leaf-margin"),
        "measure": address_of(iri, "characters", "leaf-blade-length"),
        "state": address_of(iri, "states", "leaf-margin.serrate"),
        "statement": address_of(iri, "statements", next(iter(known.statements))),
        "source": address_of(iri, "sources", "otis-1915"),
        "caution": address_of(iri, "cautions", next(iter(known.cautions))),
        "cell": address_of(iri, "cells", "acer-rubrum/leaf-margin"),
        "missing": f"{urlsplit(iri).path}taxon/nothing",
    }.get(kind, f"/{kind}")


def opened(browser: webdriver.Chrome, url: str, width: int) -> None:
    size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    browser.get("about:blank")
    try:
        browser.get(url)
    except WebDriverException:  # on a busy machine the first visit can run into a renderer that is not up yet
        browser.get(url)


@pytest.mark.parametrize("width", WIDTHS.values(), ids=WIDTHS)
@pytest.mark.parametrize("kind", KINDS)
def test_a_page_has_no_serious_fault_of_accessibility_and_fits_its_width(
    browser: webdriver.Chrome, service: str, trees: Snapshot, kind: str, width: int
) -> None:
    opened(browser, service + address(trees, kind), width)
    assert browser.execute_script("return document.documentElement.scrollWidth <= window.innerWidth")
    assert browser.find_elements(By.TAG_NAME, "h1")
    grave = [(each["id"], each["nodes"][0]["html"][:200]) for each in Axe().run(browser)["violations"] if each["impact"] in ("serious", "critical")]
    assert grave == []


def test_the_check_finds_a_fault_that_is_put_in(browser: webdriver.Chrome, service: str) -> None:
    opened(browser, service + "/", 390)
    browser.execute_script("document.querySelector('label').remove()")
    assert "label" in {each["id"] for each in Axe().run(browser)["violations"]}


def test_the_list_of_saved_questions_is_no_wider_than_a_phone(browser: webdriver.Chrome, service: str) -> None:
    """A list is as wide as its longest entry, and the questions come when the page is there."""
    opened(browser, f"{service}/query", 390)
    browser.execute_script("document.getElementById('saved').add(new Option('What can be told apart? '.repeat(6)))")
    assert browser.execute_script("return document.getElementById('saved').getBoundingClientRect().right") <= 390


def ready(browser: webdriver.Chrome, service: str) -> None:
    opened(browser, f"{service}/query", 1280)
    WebDriverWait(browser, 10).until(lambda it: it.find_element(By.ID, "find").get_attribute("data-terms"))


def test_a_term_is_put_into_a_query_by_its_label_and_by_keyboard_alone(browser: webdriver.Chrome, service: str) -> None:
    ready(browser, service)
    browser.execute_script("const text = document.getElementById('text'); text.value = ''; text.setSelectionRange(0, 0)")
    find = browser.find_element(By.ID, "find")
    find.send_keys("red maple")
    shown = browser.find_element(By.ID, "found")
    assert float(shown.get_attribute("data-milliseconds") or "inf") < 100
    assert "red maple" in shown.text
    assert find.get_attribute("aria-activedescendant") == "term0"
    find.send_keys(Keys.ARROW_DOWN, Keys.ARROW_UP, Keys.ENTER)
    assert browser.execute_script("return document.getElementById('text').value") == "taxon:acer-rubrum"
    assert browser.switch_to.active_element.get_attribute("id") == "text"
    find.send_keys("Réd maple")
    assert "red maple" in shown.text


def test_an_answer_is_a_table_and_the_link_holds_the_query(browser: webdriver.Chrome, service: str) -> None:
    ready(browser, service)
    text = browser.find_element(By.ID, "text")
    text.clear()
    text.send_keys("SELECT * WHERE { ?a ?b ?c }", Keys.CONTROL, Keys.ENTER)
    WebDriverWait(browser, 10).until(lambda it: "1 row" in it.find_element(By.ID, "status").text)
    assert browser.find_element(By.CSS_SELECTOR, "#rows tbody").text == "<b>one</b>"
    link = browser.current_url
    browser.get("about:blank")
    browser.get(link)
    WebDriverWait(browser, 10).until(lambda it: "1 row" in it.find_element(By.ID, "status").text)
    assert browser.find_element(By.ID, "text").get_property("value") == "SELECT * WHERE { ?a ?b ?c }"


def test_a_fault_is_said_with_its_line_and_column_and_a_slow_query_can_be_cancelled(browser: webdriver.Chrome, service: str) -> None:
    ready(browser, service)
    text = browser.find_element(By.ID, "text")
    text.clear()
    text.send_keys("SELECT *\nx WHEER", Keys.CONTROL, Keys.ENTER)
    WebDriverWait(browser, 10).until(lambda it: "Line 2, column 3" in it.find_element(By.ID, "fault").text)
    assert browser.execute_script("return document.getElementById('text').selectionStart") == len("SELECT *\nx ")
    text.clear()
    text.send_keys("slow", Keys.CONTROL, Keys.ENTER)
    cancel = browser.find_element(By.ID, "cancel")
    WebDriverWait(browser, 5).until(lambda it: cancel.is_enabled())
    began = time.monotonic()
    cancel.click()
    WebDriverWait(browser, 5).until(lambda it: it.find_element(By.ID, "status").text == "Cancelled.")
    assert time.monotonic() - began < 5


def test_no_page_breaks_its_own_content_policy(browser: webdriver.Chrome, service: str, trees: Snapshot) -> None:
    browser.get_log("browser")
    for kind in ("home", "query", "taxon"):
        opened(browser, service + address(trees, kind), 390)
        time.sleep(0.3)
    assert [each["message"] for each in browser.get_log("browser") if "Content Security Policy" in each["message"]] == []
