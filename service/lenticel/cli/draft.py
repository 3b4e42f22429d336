"""The command that drafts new rows."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from lenticel.cite import taxon_named
from lenticel.cli.commands import Commands
from lenticel.cli.meant import tables_meant
from lenticel.draft import Drafted, new_character, new_source, new_taxon, put
from lenticel.errors import BadQuestion


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add(
        "draft", _draft, "Add rows with blanks for a new taxon, character or source.",
        'lenticel draft taxon "Acer miyabei" --parent acer --like acer-campestre --source sargent-1894 --locator "p. 29"', as_json=False,
    )  # fmt: skip
    sub.add_argument("what", choices=("taxon", "character", "source"))
    sub.add_argument("name", help="scientific name, label, or identifier of the source")
    sub.add_argument("--parent", default="", metavar="TAXON", help="of a taxon: what it lies below")
    sub.add_argument("--like", action="append", default=[], metavar="TAXON", help="of a taxon: what it is taken for; repeat it for more")
    sub.add_argument("--source", default="", metavar="ID", help="of a taxon: the source that its rows are to cite")
    sub.add_argument("--locator", default="", metavar="TEXT", help="of a taxon: where in that source")
    sub.add_argument("--states", action="append", default=[], metavar="A|B", help="of a character: its states; without them it is a measure")


def _draft(options: argparse.Namespace) -> int:
    folder = tables_meant(options.knowledge)
    drafted = _drafted(options, folder)
    for line in (*put(folder, drafted.rows), *_left_out(drafted)):
        print(line)
    print(f"Fill the blanks, take out the rows that you cannot fill; `lenticel check --knowledge {folder}` walks you through them.")
    return 0


def _drafted(options: argparse.Namespace, folder: Path) -> Drafted:
    from lenticel.sound import sound_part
    from lenticel.tables import read

    if options.what == "taxon":
        if not options.parent:
            raise BadQuestion("A taxon lies below another.", "Add --parent, such as --parent acer.")
        found = sound_part(folder)  # another draft may lie open
        if found.left_out:
            print(found, file=sys.stderr)
        snapshot = found.snapshot
        known = snapshot.knowledge
        parent, like = taxon_named(known, options.parent), [taxon_named(known, each) for each in options.like]
        drafted = {row.cells["id"] for row in found.left_out if row.table.name == "sources"}
        return new_taxon(snapshot, options.name, parent, like, source=options.source, locator=options.locator, drafted=drafted)
    if options.source or options.locator:
        raise BadQuestion(f"A {options.what} takes no --source and --locator.", "Leave them out; they are for the statements on a taxon.")
    known = read(folder).knowledge  # blanks that are still open elsewhere do not matter to these
    if options.what == "character":
        return new_character(known, options.name, [each.strip() for each in "|".join(options.states).split("|") if each.strip()])
    return new_source(known, options.name)


def _left_out(drafted: Drafted) -> Iterator[str]:
    """Which characters are inherited, rank by rank."""
    for rank, characters in drafted.inherited.items():
        yield f"left out, since the new taxon inherits what {rank} states of {len(characters)} characters: {', '.join(characters)}"
