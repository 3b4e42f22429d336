"""The process that serves, on loopback: it takes over releases and ends without losing a request."""

from __future__ import annotations

import asyncio
import gc
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import weakref
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest
import uvicorn
from fastapi.testclient import TestClient

from lenticel.api import create_app
from lenticel.errors import BadRelease
from lenticel.releases import publish
from lenticel.serving import Current, Server, Turns, settled
from lenticel.settings import PREFIX, Settings, misspelt, settings_from_environment, settings_table
from lenticel.snapshot import Snapshot
from lenticel.store import load, save
from tests.hostile.cases import CASES
from tests.load import askers_of_the_index, asking
from tests.operations import operations
from tests.served import Releasing, releasing
from tests.test_releases import writer

ROOT = Path(__file__).parents[1]


@pytest.fixture
def service(workshop: Snapshot, tmp_path: Path) -> Iterator[Releasing]:
    publish(tmp_path / "releases", writer(workshop))
    with releasing(tmp_path / "releases", tmp_path / "log") as found:
        yield found


def test_a_new_release_is_taken_over_under_load_without_a_lost_or_mixed_answer(service: Releasing, trees: Snapshot, workshop: Snapshot) -> None:
    with asking(askers_of_the_index(service.url, 6)) as told:
        for snapshot in (trees, workshop, trees):
            publish(service.root, writer(snapshot))
            service.take_over(snapshot.digest)
    assert not told.wrong
    assert len(told.times) > 50
    assert told.releases.keys() == {workshop.digest, trees.digest}


def test_a_restart_on_a_shared_socket_loses_no_request(service: Releasing) -> None:
    with asking(askers_of_the_index(service.url, 6)) as told:
        for _ in range(3):
            time.sleep(0.5)
            service.restart()
    assert not told.wrong
    assert len(told.times) > 50


@pytest.mark.parametrize("harm", ["half written", "truncated", "no pointer"])
def test_a_release_that_is_no_good_is_refused_and_the_old_one_goes_on(service: Releasing, trees: Snapshot, workshop: Snapshot, harm: str) -> None:
    release = publish(service.root, writer(trees))
    if harm == "half written":
        (release.folder / "snapshot" / "hard.npy").unlink()
    elif harm == "truncated":
        path = release.folder / "snapshot" / "records.json"
        path.write_bytes(path.read_bytes()[:-100])
    else:
        (service.root / "current").unlink()
    service.process.send_signal(signal.SIGHUP)
    for _ in range(100):
        if 'lenticel_reloads_total{outcome="refused"} 1.0' in httpx.get(f"{service.url}/metrics").text:
            break
        time.sleep(0.05)
    else:
        raise AssertionError("the refusal was not counted")
    assert httpx.get(f"{service.url}/v1/stats").headers["x-lenticel-release"] == workshop.digest
    assert "not taken" in service.end()


def test_a_release_that_is_announced_while_another_is_taken_over_is_taken_over_too() -> None:
    """Else it would wait for the next signal, and its publisher be told nothing."""

    async def announced() -> list[str]:
        done: list[str] = []
        held = asyncio.Event()

        async def renew() -> None:
            done.append("begun")
            await held.wait()
            if len(done) == 1:
                raise BadRelease("It is damaged.", "Publish it anew.")

        async def nothing() -> None:
            pass

        server = Server(uvicorn.Config(nothing), Current(nothing), Turns(nothing, renew, nothing), 0)
        server.renew()
        while not done:
            await asyncio.sleep(0)
        for _ in range(3):
            server.renew()
        held.set()
        assert server._renewing
        await server._renewing
        return done

    assert asyncio.run(announced()) == ["begun"] * 2


def test_a_killed_service_answers_again_on_the_last_good_release(service: Releasing, workshop: Snapshot) -> None:
    service.end(signal.SIGKILL)
    service.start()
    assert httpx.get(f"{service.url}/readyz").json()["digest"] == workshop.digest


def test_each_request_is_a_line_of_json_without_the_client_or_the_question(service: Releasing, workshop: Snapshot) -> None:
    given = httpx.get(f"{service.url}/v1/identify?seen=thread%3Dpresent", headers={"x-request-id": "known-to-caller"})
    assert given.headers["x-request-id"] == "known-to-caller"
    made = httpx.get(f"{service.url}/v1/taxa/nothing-like-it", headers={"x-request-id": "no\tgood"})
    httpx.get(f"{service.url}/nowhere?thread=present")
    told = service.end()
    lines = [json.loads(line) for line in told.splitlines() if line.startswith("{")]
    by_id = {line["id"]: line for line in lines}
    assert len(by_id) == len(lines) >= 4
    one = by_id["known-to-caller"]
    assert (one["operation"], one["status"], one["method"]) == ("identifyByLink", 200, "GET")
    assert one["bytes"] > 100
    assert one["release"] == workshop.digest[:16]
    assert one["ms"] > 0
    other = by_id[made.headers["x-request-id"]]
    assert re.fullmatch(r"[0-9a-f]{32}", other["id"])
    assert (other["status"], other["problem"]) == (404, "unknown-term")
    assert not re.search(r"127\.0\.0\.1|thread|present", "\n".join(map(json.dumps, lines)))


def test_a_kept_connection_to_a_socket_that_was_open_already_holds_no_packet_back(service: Releasing) -> None:
    """Late acknowledgement (RFC 1122, 4.2.3.2) and small packets held back (RFC 896) together cost 40 ms an answer on Linux.

    The first answer of a connection escapes that; the fastest of the next 20 must be free of it."""
    with httpx.Client() as client:
        client.get(f"{service.url}/healthz")
        assert min(client.get(f"{service.url}/healthz").elapsed.total_seconds() for _ in range(20)) < 0.035


def test_a_descriptor_that_is_no_socket_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from lenticel.cli import main

    with (tmp_path / "file").open("w") as file:
        assert main(["serve", "--fd", str(file.fileno())]) == 1
    assert "is no socket" in capsys.readouterr().err


SETTLING = """
import gc, weakref
from lenticel.errors import BadRelease
from lenticel.serving import Current, Server, Turns, settled

class Old:
    pass

old = Old()
old.itself = old  # only a collection finds it
seen = weakref.ref(old)
settled()
print(gc.get_freeze_count() > 10_000)
del old
gc.collect()
print(seen() is not None)
settled()
print(seen() is None)
"""


def test_nothing_of_an_old_release_is_kept(workshop: Snapshot, tmp_path: Path) -> None:
    """Else each reload costs memory, and its collection of what is not needed more time than that of the one before."""
    save(workshop, tmp_path / "snapshot")
    old = load(tmp_path / "snapshot")
    seen = weakref.ref(old)
    app = create_app(old)
    assert TestClient(app).get("/v1/stats?lang=fr").status_code == 200
    del old, app
    settled()
    gc.unfreeze()
    assert seen() is None


STARTING = """
import gc
gc.set_threshold(50_000, 20, 20)
from lenticel.serving import started
started()
print(gc.get_freeze_count() > 10_000, gc.get_threshold() == (700, 10, 10))
"""


def test_a_start_is_not_held_up_by_collections_which_run_as_usual_from_then_on() -> None:
    assert subprocess.run([sys.executable, "-c", STARTING], capture_output=True, text=True, check=True, timeout=60).stdout.split() == ["True"] * 2


def test_what_stays_is_left_out_of_collections_and_an_old_release_still_goes() -> None:
    """A full collection over all knowledge would hold up every answer; but what was left out once must not stay for ever."""
    told = subprocess.run([sys.executable, "-c", SETTLING], capture_output=True, text=True, check=True, timeout=60).stdout
    assert told.split() == ["True"] * 3


def test_a_log_that_nobody_reads_stops_nothing(workshop: Snapshot, tmp_path: Path) -> None:
    publish(tmp_path / "releases", writer(workshop))
    reading, writing = os.pipe()
    with socket.create_server(("127.0.0.1", 0)) as listener, httpx.Client(timeout=20) as client:
        listener.set_inheritable(True)
        service = Releasing(tmp_path / "releases", Path(f"/dev/fd/{writing}"), listener)
        service.start()
        for _ in range(500):  # their lines are more than a pipe holds
            assert client.get(f"{service.url}/v1/stats").status_code == 200
        lost = re.search(r"^lenticel_log_lines_lost_total (\d+)", client.get(f"{service.url}/metrics").text, re.MULTILINE)
        os.close(reading)
        assert client.get(f"{service.url}/v1/stats").status_code == 200
        os.close(writing)
        service.process.send_signal(signal.SIGTERM)
        assert service.process.wait(30) in (0, -signal.SIGTERM)
    assert lost
    assert 0 < int(lost[1]) < 500


def test_the_figures_count_what_was_asked(service: Releasing, workshop: Snapshot) -> None:
    for _ in range(3):
        httpx.get(f"{service.url}/v1/stats")
    told = httpx.get(f"{service.url}/metrics")
    assert told.headers["x-content-type-options"] == "nosniff"
    text = told.text
    assert 'lenticel_requests_total{operation="stats",status="200"} 3.0' in text
    assert f'digest="{workshop.digest}"' in text
    assert f"lenticel_taxa {len(workshop.knowledge.taxa)}.0" in text
    series = {line.split()[2] for line in text.splitlines() if line.startswith("# TYPE")}
    assert len(series) >= 12


def test_no_answer_names_the_server_or_shows_its_inside(service: Releasing) -> None:
    """Neither to what is sound nor to what is malformed, nor to what is no HTTP at all."""
    port = urlsplit(service.url).port
    with httpx.Client(base_url=service.url, timeout=30) as client:
        document = client.get("/openapi.json").json()
        answers = [answer for each in operations(document) if each.id not in ("question", "sparql", "sparqlByPost") for answer in each.asked(client)]
        answers += [client.request(case.method, case.path, content=case.body or None, headers=case.headers) for case in CASES[::3] if case.path.isascii()]
    told = [" ".join(f"{name}: {value}" for name, value in each.headers.items()) + "\n" + each.text for each in answers]
    for raw in (b"nonsense\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"GET / HTTP/1.1\r\nno header\r\n\r\n"):
        with socket.create_connection(("127.0.0.1", port)) as talk:
            talk.sendall(raw)
            talk.shutdown(socket.SHUT_WR)
            told.append(talk.makefile("rb").read().decode())
    assert len(told) > 120
    assert {each.status_code for each in answers} >= {200, 400, 404, 405, 413, 415, 422}
    inside = r"(?im)^(?:.* )?(?:server|x-powered-by): |Traceback|\bFile \"|\.py\b|uvicorn|starlette|fastapi|httptools|\bh11\b|python/\d"
    assert [each[:300] for each in told if re.search(inside, each)] == []


@pytest.mark.parametrize("length", [20_000, 60_000, 200_000])
def test_an_address_that_is_too_long_is_refused(service: Releasing, length: int) -> None:
    with socket.create_connection(("127.0.0.1", urlsplit(service.url).port)) as client:  # httpx itself sends no address above 64 KiB
        client.sendall(f"GET /v1/identify?seen={'a' * length} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n".encode())
        head, _, body = client.makefile("rb").read().partition(b"\r\n\r\n")
    assert head.split()[1] == b"414"
    assert json.loads(body)["code"] == "too-large"


def test_every_setting_is_documented(tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    rows = list(settings_table())[2:]
    assert len(rows) == len(Settings.model_fields) >= 7
    assert all(row in readme for row in rows)
    assert all(field.description for field in Settings.model_fields.values())


def test_a_setting_that_does_not_fit_says_which_and_what_to_do(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    from lenticel.cli import main

    monkeypatch.setenv(f"{PREFIX}BODY_LIMIT", "much")
    assert main(["serve"]) == 1
    told = capsys.readouterr().err
    assert "LENTICEL_BODY_LIMIT" in told
    assert "fix:" in told
    monkeypatch.setenv(f"{PREFIX}BODY_LIMIT", "4096")
    assert settings_from_environment().body_limit == 4096


def test_a_misspelt_setting_is_told_and_what_a_platform_sets_is_not() -> None:
    told = list(misspelt(["LENTICEL_BODY_LIMT", "LENTICEL_BODY_LIMIT", "LENTICEL_SERVICE_PORT", "LENTICEL_PORT_80_TCP", "PATH"]))
    assert told == ["LENTICEL_BODY_LIMT is no setting and changes nothing. Did you mean LENTICEL_BODY_LIMIT?"]


def _line(number: int) -> bytes:
    return json.dumps({"plant": str(number), "observations": [{"character": "head", "states": ["flat"]}]}).encode() + b"\n"


def test_many_lines_come_back_over_a_socket_while_they_are_sent(service: Releasing) -> None:
    count = 20_000

    def body() -> Iterator[bytes]:
        for start in range(0, count, 100):
            yield b"".join(map(_line, range(start, start + 100)))

    headers = {"content-type": "application/x-ndjson"}
    with httpx.stream("POST", f"{service.url}/v1/identify/batch", content=body(), headers=headers, timeout=60) as answer:
        *found, closing = [json.loads(line) for line in answer.iter_lines()]
    assert [(each["line"], each["plant"]) for each in found] == [(number + 1, str(number)) for number in range(count)]
    assert (closing["answered"], closing["problems"], closing["stopped"]) == (count, 0, None)


def test_who_leaves_in_the_middle_of_many_lines_is_forgotten_at_once(service: Releasing) -> None:
    with socket.create_connection(service.listener.getsockname()[:2]) as client:
        client.sendall(b"POST /v1/identify/batch HTTP/1.1\r\nhost: x\r\ncontent-type: application/x-ndjson\r\ncontent-length: 100000000\r\n\r\n" + _line(1))
        told = b""
        while b'"line":1,' not in told:
            told += client.recv(4096)
    for _ in range(100):
        if "lenticel_requests_in_flight 0.0" in httpx.get(f"{service.url}/metrics").text:
            break
        time.sleep(0.05)
    logged = [json.loads(line) for line in service.end().splitlines() if '"identifyMany"' in line]
    assert [(each["left"], each["whole"]) for each in logged] == [(True, False)]
    assert logged[0]["ms"] < 5000
