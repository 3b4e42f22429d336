"""Calls that nobody thought of: `python -m tests.clients.fuzz` lets Schemathesis make them from the document, and hold every answer against it."""

from __future__ import annotations

import argparse
import os
import socket
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import uvicorn

import lenticel
from lenticel.api import create_app

ROOT = Path(__file__).parents[2]
# A schema cannot say which words are known, nor that an observation says what was seen in exactly one way: such calls fit it and get 422, or 406 for a form.
ACCEPTED = """
[checks.positive_data_acceptance]
expected-statuses = ["2xx", 304, 404, 406, 410, 414, 422]

[[operations]]
include-path = ["/v1/claims/batch", "/v1/identify/batch"]
checks = { negative_data_rejection = { enabled = false } }  # any body is a text, and each of its lines is answered or refused by itself
"""


def run(examples: int, seed: int, more: list[str]) -> int:
    """Make so many generated calls of each operation, in each of the ways there are, and print what came of them.

    Returns:
        0 if no check of any answer failed.
    """
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen(64)
    server = uvicorn.Server(uvicorn.Config(create_app(lenticel.load()), log_level="error", lifespan="off"))
    threading.Thread(target=lambda: server.run([listening]), daemon=True).start()
    address = f"http://127.0.0.1:{listening.getsockname()[1]}/openapi.json"
    script = Path(sys.executable).with_name("schemathesis")
    wanted = [f"--max-examples={examples}", f"--seed={seed}", "--continue-on-failure", "--no-color", "--generation-database=none", *more]
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "schemathesis.toml").write_text(ACCEPTED)
        surroundings = {**os.environ, "SCHEMATHESIS_HOOKS": "tests.clients.lines", "PYTHONPATH": os.pathsep.join((str(ROOT), os.environ.get("PYTHONPATH", "")))}
        return subprocess.run([str(script), "run", address, *wanted], cwd=folder, env=surroundings, check=False).returncode


if __name__ == "__main__":
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--examples", type=int, default=200, help="generated calls of each operation, in each way")
    reader.add_argument("--seed", type=int, default=1)
    told, rest = reader.parse_known_args()
    sys.exit(run(told.examples, told.seed, rest))
