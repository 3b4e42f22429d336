"""Compiles the tables when the package is built, so that what is installed answers at once."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class CustomBuildHook(BuildHookInterface):
    """Puts the tables and their compiled snapshot into `lenticel/embedded/` before files are collected."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Run before each build; faults in the tables stop it."""
        if self.target_name != "wheel":
            return
        root = Path(self.root)
        sys.path.insert(0, str(root / "service"))
        from lenticel.build import ontology_of, snapshot_of
        from lenticel.dataset import write_dataset
        from lenticel.store import save

        embedded = root / "service" / "lenticel" / "embedded"
        shutil.rmtree(embedded, ignore_errors=True)
        shutil.copytree(root / "ontology", embedded / "ontology")
        snapshot = snapshot_of(root / "ontology")
        save(snapshot, embedded / "snapshot")
        write_dataset(snapshot, embedded / "dataset.nq.gz", ontology_of(root / "ontology")[0])
