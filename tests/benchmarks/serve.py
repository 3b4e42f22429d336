"""Requests a second over HTTP on one core: `python -m tests.benchmarks.serve`.

The same service answers an empty handler (a POST of the same body that is thrown away, behind the same middleware) and identify, in
turn, on one core, asked by `wrk` on another; without `wrk` there is no figure. The empty handler stands there twice: as the framework calls a handler,
and at once, as identify is called. The shares are of the first. The questions are many different ones, made of what
the tables say is usual. Each was asked once before, as in a service that runs for a while: what single observations say is kept. Whole answers
are kept of the last few questions alone, so that only the last two kinds, which ask one question over and over, come upon any. All traffic stays on
loopback and each run ends by itself. The second share is of the processor time that the service took a request, which others that use the machine
disturb less than they do requests a second.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from statistics import median

import lenticel
from lenticel.probing import probe_sets

SERVER = """
from __future__ import annotations
import os, sys
import uvicorn
import lenticel
from fastapi import Request, Response
from lenticel.api import create_app
from lenticel.api.bare import lay_bare
from lenticel.api.watch import Figures, Watch
from lenticel.examples import body_of
from lenticel.requests import IdentifyRequest
os.sched_setaffinity(0, {int(sys.argv[2])})
app = create_app(lenticel.load())
@app.post("/empty", tags=["service"], operation_id="empty", openapi_extra=body_of(IdentifyRequest))
async def empty(request: Request) -> Response:
    await request.body()
    return Response(b"{}", media_type="application/json")
plain = app.router.routes[-1].app
lay_bare(app)
assert app.router.routes[-1].app is not plain
app.post("/framework", tags=["service"], operation_id="framework", openapi_extra=body_of(IdentifyRequest))(empty)
for _ in range(2):
    app.router.routes.insert(0, app.router.routes.pop())  # no route is found sooner
uvicorn.run(Watch(app, Figures(), 16384, write=False), host="127.0.0.1", port=int(sys.argv[1]), log_level="warning", access_log=False)
"""
SCRIPT = """
local bodies = {%s}
local at = 0
request = function()
  at = at %% #bodies + 1
  return wrk.format("POST", nil, {["content-type"] = "application/json"}, bodies[at])
end
"""
RATE = re.compile(r"Requests/sec:\s+([\d.]+)")
ANSWERED = re.compile(r"(\d+) requests in")


def bodies(**more: int) -> list[str]:
    """Some fourteen hundred different questions of up to five observations each, with further fields."""
    found = []
    for _, rows in probe_sets(lenticel.load()):
        question = {"observations": [{"character": key, "value": value} for key, value in rows]}
        found.append(json.dumps({**question, **more}))
    return found


def asked(port: int, path: str, script: Path, seconds: int, core: int) -> tuple[float, int]:
    """Requests a second that `wrk` got answered, and how many in all."""
    command = ["taskset", "-c", str(core), "wrk", "-t1", "-c8", f"-d{seconds}s", "-s", str(script), f"http://127.0.0.1:{port}{path}"]
    told = subprocess.run(command, capture_output=True, text=True, check=True, timeout=seconds + 30).stdout
    assert "Non-2xx" not in told, told
    rate, answered = RATE.search(told), ANSWERED.search(told)
    assert rate, told
    assert answered, told
    return float(rate[1]), int(answered[1])


def spent(pid: int) -> float:
    """The processor time of a process so far, in microseconds (the kernel's Documentation/scheduler/sched-stats)."""
    return int(Path(f"/proc/{pid}/schedstat").read_text(encoding="ascii").split()[0]) / 1000


def warm(port: int, path: str, questions: list[str]) -> None:
    """Ask each question once."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    for each in questions:
        connection.request("POST", path, each, {"content-type": "application/json"})
        assert connection.getresponse().read()
    connection.close()


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=4, help="of each run (default 4)")
    parser.add_argument("--rounds", type=int, default=3, help="runs of each kind, in turn (default 3)")
    options = parser.parse_args()
    if not shutil.which("wrk") or not shutil.which("taskset"):
        sys.exit("This needs `wrk` and `taskset`, both Debian packages (wrk, util-linux).")
    cores = sorted(os.sched_getaffinity(0))
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    server = subprocess.Popen([sys.executable, "-c", SERVER, str(port), str(cores[0])])
    kinds: dict[str, tuple[str, list[str]]] = {
        "empty handler": ("/framework", bodies(explain=0)),
        "empty, called at once": ("/empty", bodies(explain=0)),
        "identify, what remains": ("/v1/identify", bodies(explain=0, excluded=0)),
        "identify, names only": ("/v1/identify", bodies(explain=0)),
        "identify, 3 explained": ("/v1/identify", bodies(explain=3)),
        "identify, whole": ("/v1/identify", bodies()),
        "3 explained, asked again": ("/v1/identify", bodies(explain=3)[-1:]),
        "whole, asked again": ("/v1/identify", bodies()[-1:]),
    }
    rates: dict[str, list[float]] = {kind: [] for kind in kinds}
    costs: dict[str, list[float]] = {kind: [] for kind in kinds}
    try:
        with tempfile.TemporaryDirectory() as folder:
            for _ in range(200):
                try:
                    urllib.request.urlopen(f"http://127.0.0.1:{port}/readyz", timeout=1).close()
                    break
                except OSError:
                    time.sleep(0.1)
            for path, questions in kinds.values():
                warm(port, path, questions)
            for _ in range(options.rounds):
                for kind, (path, questions) in kinds.items():
                    script = Path(folder) / "questions.lua"
                    script.write_text(SCRIPT % ",".join(f"[=[{each}]=]" for each in questions))
                    before = spent(server.pid)
                    rate, answered = asked(port, path, script, options.seconds, cores[-1])
                    rates[kind].append(rate)
                    costs[kind].append((spent(server.pid) - before) / answered)
    finally:
        server.terminate()
        server.wait(20)
    empty, cost = median(rates["empty handler"]), median(costs["empty handler"])
    for kind, each in rates.items():
        took = median(costs[kind])
        sys.stdout.write(f"{kind:24} {median(each):8.0f} requests/s {median(each) / empty:6.0%} of the empty handler {took:8.0f} us {cost / took:6.0%}\n")


if __name__ == "__main__":
    main()
