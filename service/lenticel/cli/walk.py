"""The commands for a walk: what to look at next, and a key."""

from __future__ import annotations

import argparse

from lenticel.cite import taxa_named
from lenticel.cli.commands import Commands, show
from lenticel.cli.meant import knowledge_meant
from lenticel.cli.seen import observed, take_observations
from lenticel.following import MOST, following
from lenticel.identify import Context
from lenticel.keys import key
from lenticel.model import SEASONS
from lenticel.observation import Reader, read_observations
from lenticel.sight import Sight
from lenticel.text import following_text, key_html, key_markdown, key_text

FORMS = {"text": key_text, "markdown": key_markdown, "html": key_html}


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add(
        "next", _next, "What to look at next, given what was seen and what can be seen?",
        "lenticel next -o leaf-arrangement=opposite --month 2 --kit ruler --only maple",
    )  # fmt: skip
    take_observations(sub)
    _take_sight(sub)
    sub.add_argument("--only", action="append", default=[], metavar="TAXON", help="the plant is of this taxon; repeat it for more")
    sub.add_argument("--most", type=int, default=MOST, metavar="N", help="how many characters to give with their outcomes (default %(default)s)")
    sub.add_argument("--slips", action="store_true", help="any observation may be a slip: choose looks that tell most of all taxa, those that are out too")
    sub = commands.add("key", _key, "A key to a group, for a season and the tools at hand.", "lenticel key Acer --season summer --kit ruler --form html")
    sub.add_argument("taxa", nargs="+", metavar="TAXON", help="a taxon; of a genus or family, all that lie in it")
    sub.add_argument("--month", type=int, choices=range(1, 13), default=0, metavar="1-12", help="the month, which gives the season")
    sub.add_argument("--wild", action="store_true", help="the plants grow wild, so that habitat decides too")
    _take_sight(sub)
    sub.add_argument("--form", choices=FORMS, default="text", help="plain text, or a page as Markdown or HTML (default %(default)s)")


def _take_sight(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--season", choices=SEASONS, default="", help="only what can be seen then")
    sub.add_argument(
        "--kit", action="append", default=[], metavar="TOOL", help="what is at hand besides the eye, such as ruler; repeat it for more (default: anything)"
    )
    sub.add_argument(
        "--part", action="append", default=[], metavar="PART", help="a part of the plant within reach, such as leaf; repeat it for more (default: any)"
    )


def _sight(options: argparse.Namespace) -> Sight:
    return Sight(options.season, tuple(options.kit), tuple(options.part))


def _next(options: argparse.Namespace) -> int:
    rows, context = observed(options)
    snapshot = knowledge_meant(options.knowledge)
    observations = read_observations(Reader(snapshot), rows)
    group = taxa_named(snapshot.knowledge, options.only)
    answer = following(snapshot, observations, context, _sight(options), group=group, most=max(1, options.most), slips=options.slips)
    return show(options, answer, following_text(snapshot.knowledge, answer))


def _key(options: argparse.Namespace) -> int:
    snapshot = knowledge_meant(options.knowledge)
    answer = key(snapshot, taxa_named(snapshot.knowledge, options.taxa), _sight(options), Context(options.wild, options.month))
    return show(options, answer, FORMS[options.form](snapshot.knowledge, answer))
