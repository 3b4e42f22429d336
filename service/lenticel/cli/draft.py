"""The command that drafts new rows."""

from __future__ import annotations

import argparse
from pathlib import Path

from lenticel.cite import taxon_named
from lenticel.cli.commands import Commands
from lenticel.errors import BadQuestion


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add(
        "draft", _draft, "Add rows with blanks for a new taxon, character or source.",
        'lenticel draft taxon "Acer miyabei" --parent acer --like acer-campestre --knowledge ontology', as_json=False,
    )  # fmt: skip
    sub.add_argument("what", choices=("taxon", "character", "source"))
    sub.add_argument("name", help="scientific name, label, or identifier of the source")
    sub.add_argument("--parent", default="", metavar="TAXON", help="of a taxon: what it lies below")
    sub.add_argument("--like", action="append", default=[], metavar="TAXON", help="of a taxon: what it is taken for; repeat it for more")
    sub.add_argument("--states", default="", metavar="A|B", help="of a character: its states; without them it is a measure")


def _draft(options: argparse.Namespace) -> int:
    from lenticel.draft import new_character, new_source, new_taxon, put
    from lenticel.versions import opened

    if not options.knowledge:
        raise BadQuestion("No folder of tables is named.", "Add --knowledge FOLDER.")
    folder = Path(options.knowledge)
    snapshot = opened(folder).snapshot
    if options.what == "taxon":
        if not options.parent:
            raise BadQuestion("A taxon lies below another.", "Add --parent, such as --parent acer.")
        known = snapshot.knowledge
        drafted = new_taxon(snapshot, options.name, taxon_named(known, options.parent), [taxon_named(known, each) for each in options.like])
    elif options.what == "character":
        drafted = new_character(snapshot, options.name, [each.strip() for each in options.states.split("|") if each.strip()])
    else:
        drafted = new_source(snapshot, options.name)
    for line in put(folder, drafted):
        print(line)
    print(f"Fill the blanks, take out the rows that you cannot fill; `lenticel check --knowledge {folder}` walks you through them.")
    return 0
