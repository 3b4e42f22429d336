"""Snapshots on disk: a folder of arrays that are opened by memory map, and one file of records."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from dataclasses import asdict
from pathlib import Path

import numpy as np
from pydantic import TypeAdapter, ValidationError

from lenticel.errors import BadSnapshot
from lenticel.snapshot import Body, Layout, Snapshot

FORMAT = 1
ARRAYS = ("hard", "typical", "known", "ranges", "terminal")
_BUILD = "Build it anew with `lenticel build`."


def save(snapshot: Snapshot, folder: Path) -> None:
    """Write a snapshot: whole or not at all, by building it beside its place and renaming it there."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    beside = folder.with_name(f"{folder.name}.{os.getpid()}.part")
    shutil.rmtree(beside, ignore_errors=True)
    beside.mkdir()
    for name in ARRAYS:
        np.save(beside / f"{name}.npy", getattr(snapshot, name), allow_pickle=False)
    body = TypeAdapter(Body).dump_json(snapshot.body)
    (beside / "records.json").write_bytes(body)
    manifest = {
        "format": FORMAT,
        "digest": snapshot.digest,
        "taxa": snapshot.taxa_count,
        "records_sha256": hashlib.sha256(body).hexdigest(),
        "layout": {key: asdict(each) for key, each in snapshot.layout.items()},
    }
    (beside / "manifest.json").write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")
    shutil.rmtree(folder, ignore_errors=True)
    beside.rename(folder)


def load(folder: Path) -> Snapshot:
    """Open a snapshot; arrays are mapped, records are read when first asked for.

    Raises:
        BadSnapshot: the folder is missing, incomplete, damaged, or written by another version.
    """
    try:
        manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
        if manifest["format"] != FORMAT:
            raise BadSnapshot(f"The snapshot has format {manifest['format']}, this version reads {FORMAT}.", _BUILD)
        arrays = {name: np.load(folder / f"{name}.npy", mmap_mode="r", allow_pickle=False).view(np.ndarray) for name in ARRAYS}
        layout = {key: Layout(**each) for key, each in manifest["layout"].items()}
        if arrays["hard"].shape != arrays["typical"].shape or arrays["known"].shape[0] != len(layout) or arrays["ranges"].shape[2] != manifest["taxa"]:
            raise BadSnapshot("The arrays of the snapshot do not fit each other.", _BUILD)
    except FileNotFoundError as error:
        raise BadSnapshot(f"The snapshot lacks {Path(str(error.filename)).name}.", _BUILD) from None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BadSnapshot(f"The snapshot cannot be read: {error}.", _BUILD) from None

    def body() -> Body:
        try:
            data = (folder / "records.json").read_bytes()
            if hashlib.sha256(data).hexdigest() != manifest["records_sha256"]:
                raise BadSnapshot("The records of the snapshot are damaged.", _BUILD)
            return TypeAdapter(Body).validate_json(data)
        except FileNotFoundError:
            raise BadSnapshot("The snapshot lacks records.json.", _BUILD) from None
        except (OSError, ValidationError) as error:
            raise BadSnapshot(f"The records of the snapshot cannot be read: {type(error).__name__}.", _BUILD) from None

    return Snapshot(manifest["digest"], layout, manifest["taxa"], **arrays, load_body=body)
