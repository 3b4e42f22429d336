"""Older releases that are kept answer when they are named, as they did when they were in force; every answer names its release."""

from __future__ import annotations

import asyncio
import gc
import shutil
import signal
import time
import weakref
from collections.abc import Callable
from functools import partial
from pathlib import Path
from urllib.parse import urljoin

import httpx
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx import Response
from starlette.types import ASGIApp

from lenticel.api import create_app
from lenticel.api.made import QUEUE, Busy, Made
from lenticel.api.releases import Shelf
from lenticel.api.sparql import Endpoint
from lenticel.budgets import Budgets
from lenticel.build import snapshot_of
from lenticel.releases import Release, described, opened, point, publish
from lenticel.snapshot import Snapshot
from lenticel.store import load
from tests.operations import Operation, is_problem, operations
from tests.served import served
from tests.test_releases import writer

VERSIONS = ("2026-01-01", "2026-02-01", "2026-03-01", "2026-04-01", "2026-05-01")
ITSELF = ("listReleases",)  # tells of the service and not of a release


def dated(tables: Path, version: str, out: Path) -> Snapshot:
    """The tables in a version of their own."""
    shutil.copytree(tables, out)
    about = out / "about.csv"
    about.write_text(about.read_text(encoding="utf-8").replace("2026-11-25", version), encoding="utf-8")
    return snapshot_of(out)


@pytest.fixture(scope="module")
def versions(workshop_tables: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Snapshot]:
    """Five versions of the invented workshop, the last in force."""
    folder = tmp_path_factory.mktemp("versions")
    found = [dated(workshop_tables, version, folder / version) for version in VERSIONS]
    assert len({each.digest for each in found}) == len(VERSIONS)
    return found


@pytest.fixture
def root(versions: list[Snapshot], tmp_path: Path) -> Path:
    for each in versions:
        about = each.knowledge.about
        publish(tmp_path / "releases", lambda out, each=each, about=about: {**writer(each)(out), "version": about.version, "issued": about.issued})
    return tmp_path / "releases"


class Library:
    """A service over the newest of the releases in a folder, and a count of how often an older one was opened."""

    def __init__(self, root: Path, current: Snapshot, most: int = 3, wait: float = 0) -> None:
        self.opened, self.wait = 0, wait
        self.shelf = Shelf(partial(described, root), self._open, most)
        self.app = create_app(current, shelf=self.shelf)
        self.client = TestClient(self.app)

    def _open(self, release: Release) -> ASGIApp:
        self.opened += 1
        time.sleep(self.wait)
        return create_app(load(opened(release.folder).snapshot_folder), shelf=self.shelf)

    def version(self, digest: str) -> str:
        return str(self.client.get("/", params={"release": digest}).json()["about"]["version"])


def told(answer: Response) -> tuple[int, bytes, list[tuple[str, str]]]:
    return answer.status_code, answer.content, sorted(answer.headers.items())


def asked(client: TestClient) -> list[Operation]:
    """The operations that answer from a release."""
    return [each for each in operations(client.get("/openapi.json").json()) if "release" in each.examples("query") and each.id not in ITSELF]


def test_an_older_release_answers_bit_for_bit_as_when_it_was_in_force(root: Path, versions: list[Snapshot]) -> None:
    library, count = Library(root, versions[-1]), 0
    for old in versions[1:3]:
        then = TestClient(create_app(old))
        for each in asked(then):
            named = {**each.examples("query"), "release": old.digest}
            before, after = each.ask(then, params=named), each.ask(library.client, params=named)
            assert (before.status_code, after.headers["x-lenticel-release"]) == (200, old.digest), each.id
            assert told(after) == told(before), each.id
            assert after.content == each.ask(then).content, each.id
            count += 1
    assert count >= 2 * 25
    assert library.opened == 2
    assert library.version("") == VERSIONS[-1]


def test_the_beginning_of_a_digest_as_answers_print_it_names_a_release(root: Path, versions: list[Snapshot]) -> None:
    library = Library(root, versions[-1])
    assert [library.version(each.digest[:16]) for each in versions] == list(VERSIONS)


def test_of_the_older_releases_no_more_are_held_than_the_setting_says_and_all_can_be_asked(root: Path, versions: list[Snapshot]) -> None:
    library = Library(root, versions[-1], most=2)
    for _ in range(2):
        assert [library.version(each.digest) for each in versions[:-1]] == list(VERSIONS[:-1])
    assert library.opened == 8
    library.version(versions[3].digest)
    assert library.opened == 8


def test_a_release_that_is_not_there_is_refused_with_those_that_are(root: Path, versions: list[Snapshot]) -> None:
    library = Library(root, versions[-1])
    found = is_problem(library.client.get("/v1/taxa", params={"release": "0" * 16}), 404, "unknown-release")
    assert all(each.digest[:16] in found["fix"] for each in versions)


@pytest.mark.parametrize("harm", ["removed", "damaged", "without manifest"])
def test_a_release_that_went_or_broke_is_gone(root: Path, versions: list[Snapshot], harm: str) -> None:
    library, lost = Library(root, versions[-1]), versions[1].digest
    library.shelf.listed()
    folder = next(each.folder for each in described(root) if each.digest == lost)
    if harm == "removed":
        shutil.rmtree(folder)
    elif harm == "damaged":
        (folder / "snapshot" / "hard.npy").write_bytes(b"")
    else:
        (folder / "manifest.json").unlink()
    found = is_problem(library.client.get("/v1/taxa", params={"release": lost}), 410, "gone-release")
    assert versions[-1].digest[:16] in found["fix"]
    assert library.version(versions[0].digest) == VERSIONS[0]


@pytest.mark.parametrize("name", ["x", "../..", "0" * 15, "0" * 65, "A" * 16, "é" * 16])
def test_what_is_no_digest_is_refused(root: Path, versions: list[Snapshot], name: str) -> None:
    is_problem(Library(root, versions[-1]).client.get("/v1/taxa", params={"release": name}), 422, "bad-request")


def test_where_no_older_ones_are_held_the_one_in_force_alone_can_be_named(root: Path, versions: list[Snapshot]) -> None:
    for client in (Library(root, versions[-1], most=0).client, TestClient(create_app(versions[-1]))):
        assert client.get("/v1/taxa", params={"release": versions[-1].digest}).status_code == 200
        is_problem(client.get("/v1/taxa", params={"release": versions[0].digest}), 404, "unknown-release")
        assert [each["digest"] for each in client.get("/v1/releases").json()["releases"]] == [versions[-1].digest]


def test_the_list_of_releases_names_each_newest_first_and_changes_when_one_comes_or_goes(root: Path, versions: list[Snapshot]) -> None:
    client = Library(root, versions[-1]).client
    answer = client.get("/v1/releases", headers={"accept-encoding": "identity"})
    assert answer.json()["digest"] == versions[-1].digest
    assert [(each["digest"], each["version"], each["issued"]) for each in answer.json()["releases"]] == [
        (each.digest, each.knowledge.about.version, each.knowledge.about.issued) for each in reversed(versions)
    ]
    assert all(client.get(each["link"]).headers["x-lenticel-release"] == each["digest"] for each in answer.json()["releases"])
    assert "content-encoding" not in answer.headers  # else the tag would change with the length
    had = {"if-none-match": answer.headers["etag"], "accept-encoding": "identity"}
    assert client.get("/v1/releases", headers=had).status_code == 304
    shutil.rmtree(described(root)[-1].folder)
    assert client.get("/v1/releases", headers=had).status_code == 200


def test_a_walk_over_pages_goes_on_in_the_release_that_it_began_in(root: Path, versions: list[Snapshot]) -> None:
    client, address, found = Library(root, versions[-1]).client, f"/v1/taxa?limit=2&release={versions[0].digest}", []
    while True:
        answer = client.get(address)
        assert answer.headers["x-lenticel-release"] == versions[0].digest
        found += [each["id"] for each in answer.json()]
        if "next" not in answer.links:
            break
        address = urljoin(address, answer.links["next"]["url"])
    assert found == list(versions[0].knowledge.taxa)


def test_queries_are_refused_for_an_older_release_and_not_answered_from_another(root: Path, versions: list[Snapshot]) -> None:
    shelf = Shelf(partial(described, root), lambda release: create_app(load(release.snapshot_folder)), 1)
    client = TestClient(create_app(versions[-1], shelf=shelf, endpoint=Endpoint(Budgets(1, 1))))
    for path in ("/sparql?query=ASK{}", "/v1/questions?", "/prefixes?"):
        is_problem(client.get(f"{path}&release={versions[0].digest}"), 404, "unknown-release")


def test_every_answer_names_its_release_and_so_does_every_refusal(versions: list[Snapshot]) -> None:
    snapshot = versions[0]
    client = TestClient(create_app(snapshot, body_limit=5000), raise_server_exceptions=False)
    answers: list[Response] = [each.ask(client) for each in operations(client.get("/openapi.json").json())]
    bad: list[tuple[int, Callable[[], Response]]] = [
        (404, lambda: client.get("/nowhere")), (405, lambda: client.put("/v1/identify")), (422, lambda: client.get("/v1/taxa?limit=0")),
        (413, lambda: client.post("/v1/identify", content=b"x" * 6000)), (422, lambda: client.get("/v1/taxa?lang=_")),
        (404, lambda: client.get(f"/v1/taxa?release={'0' * 20}")), (400, lambda: client.post("/v1/identify", json=None, content=b"{", headers=JSON)),
        (200, lambda: client.options("/v1/identify", headers={"origin": "https://a.example", "access-control-request-method": "POST"})),
    ]  # fmt: skip
    refused = [(status, ask()) for status, ask in bad]
    assert [(status, answer.status_code) for status, answer in refused if status != answer.status_code] == []
    for answer in (*answers, *(each for _, each in refused)):
        assert answer.headers.get_list("x-lenticel-release") == [snapshot.digest], answer.url
    assert len(answers) >= 30


JSON = {"content-type": "application/json"}


def test_every_json_object_that_can_hold_it_holds_the_digest(versions: list[Snapshot]) -> None:
    client = TestClient(create_app(versions[0]))
    without = set()
    for each in operations(client.get("/openapi.json").json()):
        answer = each.ask(client)
        told = answer.json() if each.path.startswith("/v1/") and answer.headers["content-type"] == "application/json" else []
        if isinstance(told, dict) and told.get("digest") != versions[0].digest:
            without.add(each.id)
    assert without == {"source", "stats"}  # a record of the tables, and a map of counts


def test_whoever_asks_an_older_release_waits_for_it_alone(root: Path, versions: list[Snapshot]) -> None:
    library = Library(root, versions[-1], wait=0.6)

    async def both() -> tuple[float, float]:
        async with httpx.AsyncClient(transport=httpx.ASGITransport(library.app), base_url="http://x") as client:
            await client.get("/v1/stats")
            began = time.perf_counter()
            old = asyncio.create_task(client.get(f"/v1/stats?release={versions[0].digest}"))
            await asyncio.sleep(0.05)
            await client.get("/v1/stats")
            current = time.perf_counter() - began
            assert (await old).status_code == 200
            return current, time.perf_counter() - began

    current, old = asyncio.run(both())
    assert current < 0.4 < 0.6 <= old


def test_too_many_that_wait_are_turned_away() -> None:
    made = Made(lambda key: time.sleep(0.005) or key, 1)

    async def crowd() -> list[object]:
        return await asyncio.gather(*(made.of(str(number)) for number in range(QUEUE + 5)), return_exceptions=True)

    found = asyncio.run(crowd())
    assert [type(each) for each in found[QUEUE:]] == [Busy] * 5
    assert found[:QUEUE] == [str(number) for number in range(QUEUE)]


def test_the_command_serves_older_releases_and_the_one_that_was_in_force_before(root: Path, versions: list[Snapshot]) -> None:
    names = {each.digest: each.id for each in described(root)}
    point(root, names[versions[1].digest])
    with served("--releases", str(root), queries="false") as service:
        point(root, names[versions[2].digest])
        service.process.send_signal(signal.SIGHUP)
        until(lambda: httpx.get(f"{service.url}/readyz").json()["digest"] == versions[2].digest)
        for each in versions:
            answer = httpx.get(f"{service.url}/v1/stats", params={"release": each.digest}, timeout=20)
            assert (answer.status_code, answer.headers["x-lenticel-release"]) == (200, each.digest)
        assert len(httpx.get(f"{service.url}/v1/releases").json()["releases"]) == len(versions)


def until(holds: Callable[[], bool]) -> None:
    end = time.monotonic() + 20
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.05)


def test_an_app_that_had_to_make_room_is_let_go(workshop: Snapshot) -> None:
    """An older release that is not held ready any more would else keep its memory."""
    seen: list[weakref.ref[FastAPI]] = []

    def make(key: str) -> FastAPI:
        app = create_app(workshop)
        seen.append(weakref.ref(app))
        return app

    async def asked() -> None:
        made = Made(make, 1)
        await made.of("first")
        await made.of("second")

    asyncio.run(asked())
    gc.collect()
    assert seen[0]() is None
