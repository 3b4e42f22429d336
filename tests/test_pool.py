"""The pool of workers: who is killed, who waits, who is first, and what stays behind: nothing."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lenticel.budgets import STRANGER, Budgets, Standing, client_of
from lenticel.pool import Pool
from lenticel.queries import Kept, Limits, Query, Result
from lenticel.refused import Refused
from lenticel.snapshot import Snapshot
from tests.endpoint import Running, ask, running

ENDLESS = "SELECT (COUNT(*) AS ?n) { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i . ?j ?k ?l }"


@pytest.fixture
def service(workshop: Snapshot, workshop_store: Path) -> Iterator[Running]:
    with running(workshop, workshop_store, Limits(seconds=10, queue=2)) as found:
        yield found


def children(wanted: str = "lenticel.worker") -> set[int]:
    """The processes of workers that this process has started and that live."""
    found = set()
    for each in Path("/proc").iterdir():
        try:
            if each.name.isdigit() and int((each / "stat").read_text().rsplit(")", 1)[1].split()[1]) == os.getpid():
                command = (each / "cmdline").read_bytes().decode()
                if wanted in command:
                    found.add(int(each.name))
        except OSError:
            continue
    return found


def zombies() -> int:
    count = 0
    for each in Path("/proc").iterdir():
        try:
            if each.name.isdigit():
                state, parent = (each / "stat").read_text().rsplit(")", 1)[1].split()[:2]
                count += state == "Z" and int(parent) == os.getpid()
        except OSError:
            continue
    return count


def wait_until(true: object, seconds: float = 10) -> float:
    began = time.perf_counter()
    while not true():  # type: ignore[operator]
        assert time.perf_counter() - began < seconds, "in vain"
        time.sleep(0.01)
    return time.perf_counter() - began


def cpu(pid: int) -> float:
    """The processor time of a process, in seconds."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def busy() -> int:
    """The worker that is at work, by the processor time that it takes."""
    before = {pid: cpu(pid) for pid in children()}
    time.sleep(0.3)
    return max(before, key=lambda pid: cpu(pid) - before[pid])


def test_a_worker_killed_from_outside_costs_one_answer_and_is_replaced(service: Running) -> None:
    with ThreadPoolExecutor() as pool:
        asked = pool.submit(ask, service, ENDLESS)
        time.sleep(0.3)
        os.kill(busy(), signal.SIGKILL)
        answer = asked.result()
    assert (answer.status_code, answer.json()["code"]) == (507, "query-memory")
    assert ask(service, "ASK {}").json()["boolean"] is True
    wait_until(lambda: len(children()) == 3)


def test_a_worker_that_died_idle_is_noticed_before_it_is_asked(service: Running) -> None:
    for pid in children():
        os.kill(pid, signal.SIGKILL)
    time.sleep(0.2)
    assert ask(service, "ASK {}").json()["boolean"] is True
    assert [ask(service, f"ASK {{}} #{number}").status_code for number in range(6)] == [200] * 6


def test_a_client_that_leaves_frees_its_worker_at_once(service: Running) -> None:
    def left() -> None:
        with pytest.raises(httpx.ReadTimeout):
            httpx.post(f"{service.url}/sparql", data={"query": ENDLESS}, timeout=httpx.Timeout(5, read=0.5))

    with ThreadPoolExecutor() as pool:
        asked = pool.submit(left)
        time.sleep(0.2)
        pid = busy()
        asked.result()
        assert wait_until(lambda: pid not in children()) < 0.3
    assert service.pool.figures.killed["gone"] == 1


def test_the_processor_is_free_soon_after_the_deadline(service: Running) -> None:
    with ThreadPoolExecutor() as pool:
        asked = pool.submit(ask, service, ENDLESS, timeout="1")
        time.sleep(0.2)
        pid = busy()
        assert asked.result().status_code == 504
        assert wait_until(lambda: pid not in children()) < 0.5


def test_a_full_queue_is_told_at_once(service: Running) -> None:
    with ThreadPoolExecutor(8) as pool:
        held = [pool.submit(ask, service, ENDLESS + f" #{number}", timeout="2", client=f"10.0.1.{number}") for number in range(4)]
        time.sleep(0.5)
        refused = ask(service, "ASK {}", client="10.0.1.9")
        assert (refused.status_code, refused.json()["code"]) == (503, "busy")
        assert refused.headers["retry-after"] == "2"
        assert httpx.get(f"{service.url}/v1/stats").status_code == 200
        assert {each.result().status_code for each in held} <= {504, 503}


def test_who_is_not_trusted_leaves_a_worker_to_those_who_are(service: Running) -> None:
    """Whether a stranger or one whose query was long."""
    assert ask(service, "ASK {}", client="10.0.2.3").status_code == 200
    with ThreadPoolExecutor(8) as pool:
        service.endpoint.budgets.end("10.0.2.2", 5.0, error=True)
        held = [pool.submit(ask, service, ENDLESS + f" #h{number}", timeout="2", client=f"10.0.2.{number}") for number in (1, 2)]
        time.sleep(0.4)
        answer = ask(service, "ASK { ?s ?p ?o }", client="10.0.2.3")
        assert answer.status_code == 200
        assert answer.elapsed.total_seconds() < 1
        assert sorted(each.result().status_code for each in held) == [504, 504]


def test_who_has_taken_least_is_next(service: Running) -> None:
    for number, seconds in ((1, 3.0), (2, 5.0), (3, 2.0)):
        service.endpoint.budgets.end(f"10.0.4.{number}", seconds, error=True)
    with ThreadPoolExecutor(8) as pool:
        held = []
        for number in (1, 2, 3):
            held.append(pool.submit(ask, service, ENDLESS + f" #l{number}", timeout="1", client=f"10.0.4.{number}"))
            time.sleep(0.2)
        assert ask(service, "ASK { ?s ?p ?o }", client="10.0.4.4").status_code == 200, "a stranger is behind the one at work only"
        assert [each.result().status_code for each in held] == [504, 503, 504], "the place in the full queue was taken from who had taken most"


def test_a_query_that_had_to_wait_for_the_processor_costs_no_trust(service: Running) -> None:
    assert ask(service, "ASK {}", client="10.0.5.1").status_code == 200
    for pid in children():
        os.kill(pid, signal.SIGSTOP)
    with ThreadPoolExecutor() as pool:
        asked = pool.submit(ask, service, "ASK { ?s ?p ?o }", client="10.0.5.1")
        time.sleep(1)
        for pid in children():
            os.kill(pid, signal.SIGCONT)
        assert asked.result().status_code == 200
    assert service.endpoint.budgets.standing("10.0.5.1").trusted


def held(pool: ThreadPoolExecutor, service: Running, clients: list[str], timeout: str = "3") -> list[Future[httpx.Response]]:
    """Endless queries of clients that are trusted, under way."""
    for client in clients:
        service.endpoint.budgets.end(client, 0.1, error=False)
    asked = [pool.submit(ask, service, f"{ENDLESS} #{client}", timeout=timeout, client=client) for client in clients]
    time.sleep(0.2)
    return asked


def test_where_trusted_clients_hold_all_workers_for_long_the_spare_steps_in(service: Running) -> None:
    """They are trusted no more once their queries have run for a while."""
    with ThreadPoolExecutor(8) as pool:
        asked = held(pool, service, ["10.0.8.1", "10.0.8.2"])
        service.endpoint.budgets.end("10.0.8.3", 0.1, error=False)
        answer = ask(service, "ASK { ?s ?p ?o }", client="10.0.8.3")
        assert answer.status_code == 200
        assert not any(each.done() for each in asked)
        assert [each.result().status_code for each in asked] == [504, 504]
    assert ask(service, "ASK {}").status_code == 200
    wait_until(lambda: len(children()) == 3)


def test_who_asks_for_longer_than_usual_is_not_trusted_with_it(workshop: Snapshot, workshop_store: Path) -> None:
    with running(workshop, workshop_store, Limits(seconds=0.4, spares=0)) as service, ThreadPoolExecutor(8) as pool:
        asked = held(pool, service, ["10.0.6.1", "10.0.6.2"], timeout="4")
        service.endpoint.budgets.end("10.0.6.3", 0.1, error=False)
        assert ask(service, "ASK { ?s ?p ?o }", client="10.0.6.3", timeout="0.4").status_code == 200
        assert not any(each.done() for each in asked)


def test_one_query_at_a_time_a_client(workshop: Snapshot, workshop_store: Path) -> None:
    with running(workshop, workshop_store, Limits(seconds=2), budgets=Budgets()) as service, ThreadPoolExecutor() as pool:
        first = pool.submit(ask, service, ENDLESS, client="10.0.3.1")
        time.sleep(0.5)
        second = ask(service, "ASK {}", client="10.0.3.1")
        assert (second.status_code, second.headers["retry-after"]) == (429, "1")
        assert first.result().status_code == 504
        assert ask(service, "ASK {}", client="10.0.3.1").status_code == 200


def test_killed_workers_leave_nothing_behind(service: Running) -> None:
    ask(service, "ASK {}")
    before = len(os.listdir("/proc/self/fd"))
    for number in range(12):
        assert ask(service, ENDLESS + f" #{number}", timeout="0.1").status_code == 504
    wait_until(lambda: len(children()) == 3 and not zombies())
    time.sleep(0.3)
    assert len(os.listdir("/proc/self/fd")) <= before + 2  # of connections of the client
    assert service.pool.figures.killed["time"] == 12


def test_a_new_dataset_is_taken_over_while_queries_run(service: Running, workshop_store: Path) -> None:
    stop = time.monotonic() + 3
    statuses: list[int] = []

    def loop(number: int) -> None:
        while time.monotonic() < stop:
            statuses.append(ask(service, f"SELECT * {{ ?s ?p ?o }} LIMIT {number + len(statuses) % 90}").status_code)

    with ThreadPoolExecutor() as pool:
        asking = [pool.submit(loop, number) for number in (1, 2)]
        for _ in range(2):
            time.sleep(0.7)
            old = service.pool
            new = Pool(workshop_store, old.prefixes, old.base, old.limits)
            service.within(new.start())
            service.endpoint.pool = new
            service.within(old.close(patience=5))
        for each in asking:
            each.result()
    assert set(statuses) == {200}
    assert len(statuses) > 10
    assert len(children()) == 3


def test_a_query_waits_a_while_for_workers_that_are_being_started(service: Running) -> None:
    """Else a process that follows another on the same socket would refuse whom the other would have answered."""
    pool, service.endpoint.pool = service.endpoint.pool, None
    assert ask(service, "ASK {}").json()["code"] == "query-not-ready"
    service.endpoint.patience = 5.0
    with ThreadPoolExecutor() as asking:
        asked = asking.submit(ask, service, "ASK {}")
        time.sleep(0.2)
        service.endpoint.pool = pool
        assert asked.result().status_code == 200


def test_a_worker_dies_with_its_parent(workshop_store: Path) -> None:
    code = (
        "import asyncio, os, sys; from pathlib import Path; from lenticel.process import Worker\n"
        f"async def main():\n worker = await Worker.start(Path({str(workshop_store)!r}), 1 << 28)\n"
        " print(worker.process.pid, flush=True)\n os.kill(os.getpid(), 9)\n"
        "asyncio.run(main())"
    )
    pid = int(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False).stdout)
    wait_until(lambda: not Path(f"/proc/{pid}").exists() or "Z" in Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1][:3])


def test_without_a_store_there_is_no_pool(tmp_path: Path) -> None:
    async def start() -> None:
        pool = Pool(tmp_path / "none", {}, "http://e/", Limits(workers=1, spares=0))
        with pytest.raises(Refused) as refused:
            await pool.start()
        assert refused.value.code == "query-not-ready"
        await pool.close()

    asyncio.run(start())


# --- budgets and what is kept


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def test_a_budget_comes_back_as_the_minute_passes() -> None:
    clock = Clock()
    budgets = Budgets(seconds=10, errors=2, clock=clock)
    assert budgets.standing("x") == STRANGER
    budgets.begin("x")
    budgets.end("x", 0.1, error=False)
    assert budgets.standing("x") == Standing(trusted=True, seconds=0.1)
    budgets.end("x", 11.0, error=False)
    assert not budgets.standing("x").trusted
    with pytest.raises(Refused) as refused:
        budgets.begin("x")
    assert refused.value.wait == 60
    clock.now = 61
    budgets.begin("x")
    assert budgets.standing("x") == STRANGER


@given(st.lists(st.tuples(st.sampled_from("abc"), st.floats(0, 30), st.booleans(), st.floats(0, 30))))
def test_no_client_takes_more_than_its_budget_and_one_query(steps: list[tuple[str, float, bool, float]]) -> None:
    clock = Clock()
    budgets = Budgets(seconds=20, errors=3, clock=clock)
    taken: dict[str, list[tuple[float, float, bool]]] = {}
    for client, seconds, error, pause in steps:
        clock.now += pause
        recent = [each for each in taken.get(client, []) if each[0] >= clock.now - 60]
        over = sum(each[1] for each in recent) >= 20 - 1e-6 or sum(each[2] for each in recent) >= 3
        try:
            budgets.begin(client)
        except Refused:
            assert over
            continue
        assert sum(each[1] for each in recent) < 20 + 1e-6
        budgets.end(client, seconds, error=error)
        taken.setdefault(client, []).append((clock.now, seconds, error))


def test_addresses_of_one_household_share_a_budget() -> None:
    assert client_of("2001:db8:1:2:3:4:5:6") == client_of("2001:db8:1:2:ffff::1") != client_of("2001:db8:1:3::1")
    assert client_of("::ffff:10.0.0.1") == client_of("10.0.0.1") != client_of("10.0.0.2")
    assert client_of("") == ""


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 40))))
def test_kept_answers_stay_within_their_room(steps: list[tuple[int, int]]) -> None:
    kept = Kept(200)
    for number, size in steps:
        query = Query(f"{number:02}")
        found = kept.get(query)
        assert found is None or found.kept
        kept.put(query, Result(b"x" * size, "solutions", "json", 1))
        assert sum(len(each.body) + 2 for each in kept._results.values()) <= 200
