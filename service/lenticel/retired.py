"""Identifiers that were released and had to go, with what took their place."""

from __future__ import annotations

import csv
from pathlib import Path

FILE = "released.csv"


def retired_in(folder: Path) -> dict[str, str]:
    """The retired identifiers that a folder of tables, or a release, tells of; each with its successor."""
    path = folder / FILE
    if not path.is_file():
        return {}
    with path.open(encoding="utf-8", newline="") as file:
        return {row["iri"]: row["successor"] for row in csv.DictReader(file) if row["successor"]}
