"""The commands that bring knowledge in from other forms and give it out in them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from lenticel.cli.commands import Commands, show
from lenticel.cli.meant import RULE, knowledge_meant, tables_meant
from lenticel.difference import RowChange


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    told = "Write the statements to a file of an open format, and list what it cannot hold."
    sub = commands.add("export", _export, told, "lenticel export --to sheet.xlsx", as_json=False)
    forms = "sheet.csv or sheet.xlsx (taxa by characters), measurements.csv or archive.zip (Darwin Core) or matrix.nex (NEXUS)"
    sub.add_argument("--to", required=True, metavar="FILE", help=forms)
    sub.add_argument("--report", metavar="FILE", help="also write each item that the format cannot hold, as CSV")
    sub = commands.add("import", _import, "Merge the statements of such a file into tables.", "lenticel import sheet.csv --into ontology/ --source otis-1915")
    sub.add_argument("file", metavar="FILE", help="what `export` writes, or a file of that form")
    sub.add_argument("--into", metavar="FOLDER", help=f"the tables (default: {RULE})")
    sub.add_argument("--source", default="", metavar="ID", help="the source of statements that name none")
    sub.add_argument("--locator", default="", metavar="TEXT", help="where in that source")
    sub = commands.add("adopt", _adopt, "Take an ontology that was edited back into its tables.", "lenticel adopt edited.ttl --against ontology/")
    sub.add_argument("file", metavar="FILE", help="the edited ontology: Turtle (.ttl), RDF/XML or OWL/XML (.rdf, .owl, .owx)")
    sub.add_argument("--against", metavar="FOLDER", help=f"the tables it was made from (default: {RULE})")
    sub.add_argument("--rest", action="store_true", help="write the rows although some axioms are refused")


def _rows(changes: tuple[RowChange, ...]) -> list[str]:
    return [f"{each.how}: {each.table}: {each.key}" + (f" ({', '.join(each.columns)})" if each.columns else "") for each in changes]


def _export(options: argparse.Namespace) -> int:
    from lenticel.exchange import export
    from lenticel.formats import counted
    from lenticel.sheets import csv_bytes

    left_out = export(knowledge_meant(options.knowledge), Path(options.to))
    if options.report:
        rows = [(each.table, each.key, each.part, each.reason) for each in left_out]
        Path(options.report).write_bytes(csv_bytes([("table", "key", "part", "reason"), *rows]))
    for line in (f"Not held, {len(left_out)} items:", *(f"  {each}" for each in counted(left_out))):
        print(line)
    return 0


def _import(options: argparse.Namespace) -> int:
    from lenticel.exchange import imported
    from lenticel.formats import Cited

    taken = imported(Path(options.file), tables_meant(options.into), Cited(options.source, options.locator))
    show(options, taken, _rows(taken.changes))
    print(f"{len(taken.changes)} rows differ; {len(taken.files)} files written.", file=sys.stderr)
    return 0


def _adopt(options: argparse.Namespace) -> int:
    from lenticel.editions import read_graph
    from lenticel.taking import adopt

    taken = adopt(tables_meant(options.against), read_graph(Path(options.file)), rest=options.rest)
    told = [*_rows(taken.changes), *(f"refused, {each}" for each in taken.refused)]
    status = f"{len(taken.changes)} rows differ, {len(taken.refused)} axioms refused; {len(taken.files)} files written."
    show(options, taken, told)
    print(status, file=sys.stderr)
    return 1 if taken.refused else 0
