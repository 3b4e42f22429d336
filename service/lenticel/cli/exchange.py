"""The commands that bring knowledge in from other forms and give it out in them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from lenticel.cli.commands import Commands, show
from lenticel.difference import RowChange
from lenticel.places import ontology_folder


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add("adopt", _adopt, "Take an ontology that was edited back into its tables.", "lenticel adopt edited.ttl --against ontology/")
    sub.add_argument("file", metavar="FILE", help="the edited ontology: Turtle (.ttl) or RDF/XML (.rdf, .owl)")
    sub.add_argument("--against", metavar="FOLDER", help="the tables it was made from (default: ontology/)")
    sub.add_argument("--rest", action="store_true", help="write the rows although some axioms are refused")


def _folder(named: str | None) -> Path:
    return Path(named) if named else Path("ontology") if Path("ontology").is_dir() else ontology_folder()


def _rows(changes: tuple[RowChange, ...]) -> list[str]:
    return [f"{each.how}: {each.table}: {each.key}" + (f" ({', '.join(each.columns)})" if each.columns else "") for each in changes]


def _adopt(options: argparse.Namespace) -> int:
    from lenticel.taking import adopt, read_graph

    taken = adopt(_folder(options.against), read_graph(Path(options.file)), rest=options.rest)
    told = [*_rows(taken.changes), *(f"refused, {each}" for each in taken.refused)]
    status = f"{len(taken.changes)} rows differ, {len(taken.refused)} axioms refused; {len(taken.files)} files written."
    show(options, taken, told)
    print(status, file=sys.stderr)
    return 1 if taken.refused else 0
