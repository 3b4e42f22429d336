"""The commands for reading statements back against their sources."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

from lenticel import load
from lenticel.answers import as_json
from lenticel.cli.commands import Commands
from lenticel.cli.meant import RULE, tables_meant
from lenticel.drawing import drawn
from lenticel.errors import BadQuestion
from lenticel.review import reviews
from lenticel.text.review import reviews_text, sheet_markdown, sheet_rows

MOST = 10_000


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add(
        "review", _report, "Read statements back against their sources, and tell how many were wrong.",
        "lenticel review sheet --sample 40 --seed 7 > sheet.csv", as_json=False,
    )  # fmt: skip
    told = commands.add(
        "recorded", _recorded, "Say who recorded the statements of which nobody says so, or that are new since a version.",
        'lenticel recorded --by "A. Curator" --date 2026-11-29 --since main', as_json=False,
    )  # fmt: skip
    told.add_argument("--by", required=True, metavar="NAME", help="who wrote them into the tables")
    told.add_argument("--date", type=_day, required=True, metavar="DAY", help="when, such as 2026-11-29")
    told.add_argument("--since", default="", metavar="OLD", help="also statements that this version, a folder or a git revision, did not have")
    acts = sub.add_subparsers(required=True, metavar="ACT")
    act = _act(acts, "sheet", _sheet, "Print a random sheet of statements that nobody has read as they stand, with blanks for the verdicts.")
    how_many = act.add_mutually_exclusive_group()
    how_many.add_argument("--sample", type=int, default=40, metavar="N", help="how many (default %(default)s)")
    how_many.add_argument("--each-genus", type=int, default=0, metavar="N", help="so many of each genus")
    act.add_argument("--genus", default="", metavar="ID", help="only statements on this genus and what lies below it")
    act.add_argument("--source", default="", metavar="ID", help="only statements from this source")
    act.add_argument("--seed", type=int, default=0, help="another seed draws another sample (default %(default)s)")
    act.add_argument("--format", choices=("csv", "markdown"), default="csv", help="to fill in as a table, or to print (default %(default)s)")
    act = _act(acts, "take", _take, "Take the verdicts of a sheet into the tables; ends with 1 if a line could not be taken. It can be run again.")
    act.add_argument("sheet", metavar="SHEET", help="the sheet as CSV, filled in")
    act.add_argument("--by", default="", metavar="NAME", help="who read, for lines that do not say")
    act.add_argument("--date", type=_day, metavar="DAY", help="when, such as 2026-11-25, for lines that do not say")
    act.add_argument("--gone", action="store_true", help="also take verdicts on statements that are not in the tables any more")
    act = _act(acts, "report", _report, "The share of statements that were wrong, by genus and by source, and what is still unread.")
    act.add_argument("--format", choices=("text", "json"), default="text", help="json: the same as the API's")


def _day(word: str) -> str:
    try:
        return date.fromisoformat(word).isoformat()
    except ValueError:
        raise argparse.ArgumentTypeError(f"{word[:20]!r} is no day; write it as 2026-11-25") from None


def _recorded(options: argparse.Namespace) -> int:
    from lenticel.recording import recorded_rows, unrecorded
    from lenticel.taking import sound, take
    from lenticel.versions import version

    folder = tables_meant(options.knowledge)
    loaded = sound(folder)
    known = loaded.knowledge
    new = unrecorded(known, version(options.since, folder).loaded.knowledge if options.since else None)
    rows = {each.id: each for each in recorded_rows(known, new, options.by, options.date)}
    if rows:
        take(folder, loaded, replace(known, recorded={**known.recorded, **rows}))
    print(f"{len(rows)} rows say now who recorded {len(new)} statements.")
    return 0


def _act(acts: argparse._SubParsersAction[argparse.ArgumentParser], name: str, run: object, help_text: str) -> argparse.ArgumentParser:
    act = acts.add_parser(name, help=help_text, description=help_text)
    act.set_defaults(run=run)
    act.add_argument("--knowledge", metavar="FOLDER", default=argparse.SUPPRESS, help=f"the folder of tables (default: {RULE})")
    return act


def _sheet(options: argparse.Namespace) -> int:
    from lenticel.sheets import csv_bytes

    for name in ("sample", "each_genus"):
        if not 0 <= getattr(options, name) <= MOST:
            raise BadQuestion(f"{getattr(options, name)} statements cannot be drawn.", f"Draw between 1 and {MOST}.")
    known = load(tables_meant(options.knowledge)).knowledge
    chosen = drawn(known, options.seed, sample=options.sample, each_genus=options.each_genus, genus=options.genus, source=options.source)
    if options.format == "markdown":
        print("\n".join(sheet_markdown(known, chosen, options.seed)))
    else:
        sys.stdout.write(csv_bytes(sheet_rows(known, chosen)).decode())
    print(f"{len(chosen)} statements drawn with seed {options.seed}.", file=sys.stderr)
    return 0


def _take(options: argparse.Namespace) -> int:
    from lenticel.readback import take_back

    found = take_back(tables_meant(options.knowledge), Path(options.sheet), by=options.by, date=options.date or "", gone=options.gone)
    for fault in found.faults:
        print(fault)
    for each in found.outdated:
        print(f"{each} changed or went since the sheet was printed; the verdict is kept for the wording that was read.")
    told = f"{len(found.taken)} verdicts taken, {found.already} there already, {found.blank} lines left blank, {len(found.faults)} faults."
    print(told, file=sys.stderr)
    return 1 if found.faults else 0


def _report(options: argparse.Namespace) -> int:
    answer = reviews(load(tables_meant(options.knowledge)))
    if options.format == "json":
        print(as_json(answer).decode())
    else:
        print("\n".join(reviews_text(answer)))
    return 0
