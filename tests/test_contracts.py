"""The direction of imports, as written down in pyproject.toml, holds; and serving loads nothing that it must not need."""

from __future__ import annotations

import subprocess
import sys

from tests.conftest import ROOT


def _run(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=120)


def test_imports_run_in_one_direction() -> None:
    found = _run(sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()")
    assert "Contracts: 3 kept, 0 broken." in found.stdout, found.stdout + found.stderr


def test_identifying_serving_and_finding_nothing_load_no_rdf_no_java_and_no_compiler() -> None:
    code = (
        "import sys, lenticel; from fastapi.testclient import TestClient; from lenticel.api import create_app;"
        "trees = lenticel.load(); client = TestClient(create_app(trees));"
        "assert client.get('/lenticel/trees/taxon/nothing').status_code == 404;"
        "lenticel.identify(trees, lenticel.observe(trees, {'leaf-arrangement': 'opposite'}));"
        "print([name for name in ('rdflib', 'jpype', 'owlready2', 'pyoxigraph', 'numba', 'lenticel.tables', 'lenticel.owl') if name in sys.modules])"
    )
    found = _run(sys.executable, "-c", code)
    assert found.stdout.strip() == "[]", found.stdout + found.stderr
