"""The commands for whoever teaches or writes: the table, the claims, the practice."""

from __future__ import annotations

import argparse
import sys

from lenticel.cite import taxon_named
from lenticel.claims import MAX_CLAIMS, claims
from lenticel.cli.commands import Commands, show
from lenticel.cli.files import csv_rows, text_of
from lenticel.cli.meant import knowledge_meant
from lenticel.errors import BadQuestion
from lenticel.lesson import MOST_ROWS, ROWS, lesson
from lenticel.model import SEASONS
from lenticel.practice import COUNT, LEVELS, MOST, practice
from lenticel.text import claims_text, lesson_csv, lesson_html, lesson_markdown, practice_html, practice_markdown, practice_text

COLUMNS = ["taxon", "character", "value"]


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add(
        "table", _table, "A table for a lesson: characters against taxa, telling cells marked.", 'lenticel table "sugar maple" "Norway maple" --form html'
    )
    sub.add_argument("taxa", nargs="+", metavar="TAXON", help="identifiers or names")
    sub.add_argument("--season", choices=SEASONS, default="", help="only what can be seen then")
    sub.add_argument("--rows", type=int, default=ROWS, metavar=f"1-{MOST_ROWS}", help="how many characters (default %(default)s)")
    sub.add_argument("--form", choices=("markdown", "html", "csv"), default="markdown", help="as what (default %(default)s)")
    sub = commands.add("claims", _claims, "Is this description right?", "lenticel claims leaflet.csv     # the columns taxon,character,value")
    sub.add_argument("file", help="claims: CSV with the columns taxon,character,value, or JSON as the API takes it; - for standard input")
    sub.add_argument("--explain", type=int, default=2, metavar="N", help="how many sources to give on either side (default %(default)s)")
    sub = commands.add(
        "practice", _practice, "Questions for learners, from the look-alikes of a group.", "lenticel practice maples --season winter --seed 3 --form html"
    )
    sub.add_argument("group", nargs="*", metavar="TAXON", help="one taxon of any rank: its look-alikes; several: those among them; none: all")
    sub.add_argument("--season", choices=SEASONS, default="", help="only traps that are set then, and what can be seen then")
    sub.add_argument("--seed", type=int, default=0, help="the same seed gives the same questions (default %(default)s)")
    sub.add_argument("--count", type=int, default=COUNT, metavar=f"1-{MOST}", help="how many questions (default %(default)s)")
    sub.add_argument("--level", choices=LEVELS, default="", help="only questions of this level")
    sub.add_argument("--form", choices=("text", "markdown", "html"), default="text", help="as what (default %(default)s)")


def _table(options: argparse.Namespace) -> int:
    snapshot = knowledge_meant(options.knowledge)
    known = snapshot.knowledge
    answer = lesson(snapshot, [taxon_named(known, word) for word in options.taxa], season=options.season, rows=options.rows)
    if options.form == "csv" and not options.json:
        sys.stdout.write(lesson_csv(known, answer).replace("\r\n", "\n"))
        return 0
    return show(options, answer, [lesson_html(known, answer)] if options.form == "html" else lesson_markdown(known, answer))


def _claims(options: argparse.Namespace) -> int:
    snapshot = knowledge_meant(options.knowledge)
    answer = claims(snapshot, claimed(options.file))
    show(options, answer, claims_text(snapshot.knowledge, answer, because=max(options.explain, 0)))
    return 1 if answer.bad else 0


def _practice(options: argparse.Namespace) -> int:
    snapshot = knowledge_meant(options.knowledge)
    known = snapshot.knowledge
    group = [taxon_named(known, word) for word in options.group]
    answer = practice(snapshot, group, season=options.season, seed=options.seed, count=options.count, level=options.level)
    if options.form == "html":
        return show(options, answer, [practice_html(known, answer)])
    return show(options, answer, practice_text(known, answer) if options.form == "text" else practice_markdown(known, answer))


def claimed(file: str) -> list[tuple[str, str, str]]:
    """The claims that a file holds, or standard input for "-".

    Raises:
        BadQuestion: it cannot be read, or is neither sound CSV with the three columns nor JSON as the API takes it.
    """
    text = text_of(file, BadQuestion, "Split it.")
    if text.lstrip().startswith("{"):
        from lenticel.requests import ClaimsRequest, parse_request

        return parse_request(text, ClaimsRequest).rows()
    return _csv_claims(text)


def _csv_claims(text: str) -> list[tuple[str, str, str]]:
    rows = csv_rows(text, COLUMNS, BadQuestion)
    if len(rows) > MAX_CLAIMS:
        raise BadQuestion(f"{len(rows)} claims were given.", f"Give at most {MAX_CLAIMS} at a time.")
    return [(taxon, character, value) for taxon, character, value, *_ in ([*row, "", "", ""] for row in rows)]
