"""Calls that nobody thought of: `python -m tests.clients.fuzz` lets Schemathesis make them from the document, and hold every answer against it."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.served import served

ROOT = Path(__file__).parents[2]
# A schema cannot say which words are known, nor that an observation says what was seen in exactly one way: such calls fit it and get 422, or 406 for a form.
ACCEPTED = """
[checks.positive_data_acceptance]
expected-statuses = ["2xx", 304, 404, 406, 410, 414, 422]

[checks.negative_data_rejection]  # an address that is too long is refused as such, whatever is wrong in it
expected-statuses = ["400", "401", "403", "404", "405", "406", "409", "413", "414", "415", "422", "428", "429", "5xx"]

[[operations]]
include-path = ["/v1/claims/batch", "/v1/identify/batch"]
checks = { negative_data_rejection = { enabled = false } }  # any body is a text, and each of its lines is answered or refused by itself

[[operations]]
include-operation-id = ["doubtByLink", "whyByLink", "nextByLink", "keyByLink", "claimsByLink"]
checks = { positive_data_acceptance = { expected-statuses = ["2xx", 304, 400, 404, 410, 414, 422] } }  # a text need not be JSON

[[operations]]
include-path = ["/sparql", "/v1/questions/{key}"]

[operations.checks]  # that a text is a query, or a word a parameter of a question, no schema can say; what the protocol does not know is left unread
negative_data_rejection = { enabled = false }
positive_data_acceptance = { expected-statuses = ["2xx", 304, 400, 403, 404, 406, 413, 414, 422, 504, 507] }
not_a_server_error = { expected-statuses = ["2xx", "3xx", "4xx", 504, 507] }  # a query that is stopped at its limits is answered as it should be
"""
# Budgets as wide as they go: what is asked here is no client's doing.
SETTINGS = {"client_seconds": 60000, "client_errors": 1000000, "log_requests": "false"}


def run(examples: int, seed: int, more: list[str]) -> int:
    """Make so many generated calls of each operation, in each of the ways there are, and print what came of them.

    Returns:
        0 if no check of any answer failed.
    """
    script = Path(sys.executable).with_name("schemathesis")
    wanted = [f"--max-examples={examples}", f"--seed={seed}", "--continue-on-failure", "--no-color", "--generation-database=none", *more]
    with served(**SETTINGS) as service, tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "schemathesis.toml").write_text(ACCEPTED)
        surroundings = {**os.environ, "SCHEMATHESIS_HOOKS": "tests.clients.lines", "PYTHONPATH": os.pathsep.join((str(ROOT), os.environ.get("PYTHONPATH", "")))}
        return subprocess.run([str(script), "run", f"{service.url}/openapi.json", *wanted], cwd=folder, env=surroundings, check=False).returncode


if __name__ == "__main__":
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--examples", type=int, default=200, help="generated calls of each operation, in each way")
    reader.add_argument("--seed", type=int, default=1)
    told, rest = reader.parse_known_args()
    sys.exit(run(told.examples, told.seed, rest))
