"""The commands that publish a release and serve it."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from lenticel import load
from lenticel.cli.commands import Commands
from lenticel.cli.meant import folder_meant, tables_meant
from lenticel.errors import BadSetting
from lenticel.places import ontology_folder
from lenticel.retired import retired_in


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add("publish", _publish, "Write a release of the tables and put it in force.", "lenticel publish --releases releases/", as_json=False)
    sub.add_argument("--releases", required=True, metavar="FOLDER", help="the folder of releases; each gets a folder in it, named by its hash")
    sub = commands.add("serve", _serve, "Serve the API, the pages and SPARQL.", "lenticel serve --port 8000", as_json=False)
    sub.add_argument("--host", default="127.0.0.1")
    sub.add_argument("--port", type=_port, default=8000, metavar="0-65535")
    sub.add_argument("--fd", type=int, metavar="N", help="a listening socket that is open already, in place of host and port")
    sub.add_argument("--releases", metavar="FOLDER", help="serve the release in force there; SIGHUP takes over a new one")
    sub.add_argument("--settings", action="store_true", help="print the settings that the environment may hold, and end")


def _port(word: str) -> int:
    if not (word.isascii() and word.isdecimal() and int(word) < 1 << 16):
        raise argparse.ArgumentTypeError(f"{word[:20]!r} is no port")
    return int(word)


def _publish(options: argparse.Namespace) -> int:
    from lenticel.build import write_release
    from lenticel.releases import publish

    folder = tables_meant(options.knowledge)

    def write(out: Path) -> dict[str, str]:
        snapshot = write_release(folder, out)
        about = snapshot.knowledge.about
        return {"digest": snapshot.digest, "version": about.version, "issued": about.issued}

    release = publish(Path(options.releases), write)
    print(f"Release {release.id} of knowledge {release.digest[:16]} is in force.")
    return 0


def _serve(options: argparse.Namespace) -> int:
    # Else pydantic opens what is known of every installed package, to see whether one changes how it works; none shall.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    from lenticel.querying import Opened
    from lenticel.serving import serve
    from lenticel.settings import misspelt, settings_from_environment, settings_table

    if options.settings:
        print("\n".join(settings_table()))
        return 0
    if options.releases and options.knowledge:
        raise BadSetting("Both --releases and --knowledge are given.", "Give one of them.")
    settings = settings_from_environment()
    for hint in misspelt(os.environ):
        print(hint, file=sys.stderr)
    where = {"host": options.host, "port": options.port, "fd": options.fd}
    if options.releases:
        from lenticel.releases import in_force
        from lenticel.store import load as open_snapshot

        root = Path(options.releases)

        def released() -> Opened:
            release = in_force(root)
            return Opened(open_snapshot(release.snapshot_folder), release.folder)

        serve(released, settings, **where, retired=lambda: retired_in(in_force(root).folder), releases=root)
    else:
        folder = folder_meant(options.knowledge)
        serve(lambda: Opened(load(folder), folder), settings, **where, retired=lambda: retired_in(folder or ontology_folder()))
    return 0
