"""What the tests of clients share: the service on loopback, and what it is asked."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from typing import Any

import pytest
import uvicorn

from lenticel.api import create_app
from lenticel.snapshot import Snapshot
from tests.clients.release import document_of


@pytest.fixture(scope="session")
def present() -> dict[str, Any]:
    """The present document of the knowledge that Lenticel comes with."""
    return document_of()


@pytest.fixture(scope="session")
def service(trees: Snapshot) -> Iterator[str]:
    """The address of the service on loopback."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen(64)  # from here on a client waits until the server is up
    server = uvicorn.Server(uvicorn.Config(create_app(trees), log_level="error", lifespan="off"))
    thread = threading.Thread(target=lambda: server.run([listening]), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    server.should_exit = server.force_exit = True
    thread.join(10)
