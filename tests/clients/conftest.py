"""What the tests of clients share: the service on loopback, and what it is asked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from lenticel.api import create_app
from lenticel.snapshot import Snapshot
from tests.clients.release import document_of
from tests.served import in_thread


@pytest.fixture(scope="session")
def present() -> dict[str, Any]:
    """The present document of the knowledge that Lenticel comes with."""
    return document_of()


@pytest.fixture(scope="session")
def service(trees: Snapshot) -> Iterator[str]:
    """The address of the service on loopback."""
    with in_thread(create_app(trees)) as address:
        yield address
