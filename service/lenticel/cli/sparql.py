"""The commands that ask the dataset: a saved question by name, or a query from a file."""

from __future__ import annotations

import argparse
import asyncio
import json
import sys
from collections.abc import Iterable
from functools import partial
from pathlib import Path

from lenticel import load
from lenticel.cli.commands import Commands
from lenticel.cli.files import text_of
from lenticel.cli.meant import folder_meant
from lenticel.derived import store_of
from lenticel.errors import BadFile
from lenticel.places import ontology_folder
from lenticel.pool import Pool
from lenticel.prefixes import prefixes_of
from lenticel.quadstore import default_cache
from lenticel.queries import Limits, Query, Result
from lenticel.refused import Refused
from lenticel.saved import Binder, Saved, question_named, saved_in
from lenticel.snapshot import Snapshot
from lenticel.sparql import GRAPHS, SOLUTIONS, Request, explained, query_of

FORMATS = [form.name for form in (*SOLUTIONS, *GRAPHS)]


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add("ask", _ask, "Ask a saved question.", "lenticel ask parts-two one='red maple' other='silver maple'", as_json=False)
    sub.add_argument("name", nargs="?", metavar="NAME", help="the question")
    sub.add_argument("given", nargs="*", metavar="PARAMETER=VALUE", help="values; those not given have their defaults")
    sub.add_argument("--list", action="store_true", help="list the questions, with their parameters")
    _how(sub)
    sub = commands.add("sparql", _sparql, "Ask a query in SPARQL 1.1.", "lenticel sparql query.rq --format csv", as_json=False)
    sub.add_argument("file", metavar="FILE", help="the query; - for standard input")
    _how(sub)


def _how(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--format", choices=["table", *FORMATS], default="table", help="the form of the answer (default %(default)s)")
    sub.add_argument("--seconds", type=float, default=30.0, metavar="S", help="the deadline (default %(default)s)")


def _ask(options: argparse.Namespace) -> int:
    folder = folder_meant(options.knowledge)
    questions = saved_in((folder or ontology_folder()) / "questions")
    if options.list or not options.name:
        for line in _listed(questions.values()):
            print(line)
        return 0
    question = question_named(questions, options.name)
    given = dict(each.partition("=")[::2] for each in options.given)
    snapshot = load(folder)
    return _answer(options, snapshot, folder, Binder(snapshot).text(question, given), question.title)


def _listed(questions: Iterable[Saved]) -> Iterable[str]:
    for each in questions:
        yield f"{each.name}: {each.title}"
        yield from (f"    {one.name}={one.default}  ({one.type}) {one.meaning}" for one in each.parameters)


def _sparql(options: argparse.Namespace) -> int:
    text = text_of(options.file, BadFile, "Ask in fewer words.")
    folder = folder_meant(options.knowledge)
    return _answer(options, load(folder), folder, text)


def _answer(options: argparse.Namespace, snapshot: Snapshot, folder: Path | None, text: str, title: str = "") -> int:
    table = options.format == "table"
    about, word = snapshot.knowledge.about, "" if table else options.format
    query = query_of(Request(text, None, None, None, word), "application/sparql-results+json, text/turtle", about.iri)
    limits = Limits(seconds=options.seconds, ceiling=options.seconds, workers=1, spares=0)
    store = store_of(snapshot, folder, default_cache(), partial(print, file=sys.stderr, flush=True))
    pool = Pool(store, prefixes_of(about), about.iri, limits)
    try:
        result = asyncio.run(_asked(pool, query))
    except Refused as error:
        raise explained(error, text, pool.prefixes) from None
    if not (table and result.kind == "solutions"):
        sys.stdout.write(result.body.decode())
        return 0
    if title:
        print(title)
    for line in _table(result, about.iri):
        print(line)
    return 0


async def _asked(pool: Pool, query: Query) -> Result:
    await pool.start()
    try:
        return await pool.ask(query)
    finally:
        await pool.close()


def _table(result: Result, base: str) -> Iterable[str]:
    """Rows in columns; IRIs of ours without what all of them begin with."""
    told = json.loads(result.body)
    if "boolean" in told:
        yield "yes" if told["boolean"] else "no"
        return
    names = told["head"]["vars"]
    rows = [names, *([_shown(row.get(name, {}).get("value", ""), base) for name in names] for row in told["results"]["bindings"])]
    widths = [max(len(row[place]) for row in rows) for place in range(len(names))]
    for row in rows:
        yield "  ".join(each.ljust(width) for each, width in zip(row, widths, strict=True)).rstrip()
    yield f"{len(rows) - 1} rows"
    for each in result.unknown:
        yield f"nothing is known of {each['iri']}; near: {', '.join(each['nearest']) or 'nothing'}"


def _shown(value: str, base: str) -> str:
    return " ".join(value.removeprefix(base).split())
