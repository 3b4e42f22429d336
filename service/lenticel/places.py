"""Where the files lie that Lenticel comes with: the checkout's, when it runs from one, else the installed ones."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).parent
_CHECKOUT = _PACKAGE.parents[1] / "ontology"


def ontology_folder() -> Path:
    """The folder of the vocabulary, shapes, checks and tables."""
    return _CHECKOUT if (_CHECKOUT / "vocabulary.ttl").is_file() else embedded_tables()


def embedded_tables() -> Path:
    """The folder of the tables from which the embedded snapshot was compiled; it is there only once the package has been built."""
    return _PACKAGE / "embedded" / "ontology"


def snapshot_folder() -> Path:
    """The folder of the compiled snapshot of the embedded knowledge."""
    return _PACKAGE / "embedded" / "snapshot"


def dataset_file() -> Path:
    """The dataset of the embedded knowledge; it is there only once the package has been built."""
    return _PACKAGE / "embedded" / "dataset.nq.gz"
