"""The command that serves the API."""

from __future__ import annotations

import argparse

from lenticel import load
from lenticel.cli.commands import Commands


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add("serve", _serve, "Serve the JSON API.", "lenticel serve --port 8000", as_json=False)
    sub.add_argument("--host", default="127.0.0.1")
    sub.add_argument("--port", type=int, default=8000)


def _serve(options: argparse.Namespace) -> int:
    import uvicorn

    from lenticel.api import create_app

    uvicorn.run(create_app(load(options.knowledge)), host=options.host, port=options.port, server_header=False)
    return 0
