"""The command that says why."""

from __future__ import annotations

import argparse
import sys

from lenticel.cite import taxon_named
from lenticel.cli.commands import Commands, show
from lenticel.cli.meant import knowledge_meant
from lenticel.cli.seen import observed
from lenticel.errors import BadQuestion
from lenticel.justify import Why, why_apart, why_out
from lenticel.observation import Observation, Reader, read_observations
from lenticel.snapshot import Snapshot
from lenticel.text import why_text


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add(
        "why", _why, "Why is a taxon out, or why are two apart? Down to the axioms, and no more of them than it takes.",
        'lenticel why "sugar maple" -o petiole-sap=milky',
    )  # fmt: skip
    sub.add_argument("taxa", nargs="+", metavar="TAXON", help="the taxon that is out, or two that a character separates")
    sub.add_argument("-o", "--observe", action="append", default=[], metavar="CHARACTER=VALUE", help="what was seen; repeat it for more")
    sub.add_argument("--seen", dest="file", metavar="FILE", help="observations in a file, as identify takes them")
    sub.set_defaults(month=0, region="")
    sub.add_argument("--character", default="", help="the character that separates two taxa")
    sub.add_argument("--wild", action="store_true", help="nobody planted it, so that habitat excludes too")
    sub.set_defaults(month=None, region="")  # `observed` reads them; neither can exclude
    sub.add_argument("--axioms", action="store_true", help="list the axioms too, in OWL and in words")
    sub.add_argument("--prove", action="store_true", help="ask HermiT whether they are enough and none can go (needs the extra `proof`)")


def _why(options: argparse.Namespace) -> int:
    snapshot = knowledge_meant(options.knowledge)
    rows, context = observed(options)
    seen: list[Observation] = []
    taxa = [taxon_named(snapshot.knowledge, word) for word in options.taxa]
    reader = Reader(snapshot)
    if len(taxa) == 2 and options.character and not rows:
        answer = why_apart(snapshot, taxa[0], taxa[1], reader.character(options.character).id)
    elif len(taxa) == 1 and not options.character:
        seen = read_observations(reader, rows)
        answer = why_out(snapshot, taxa[0], seen, wild=context.wild)
    else:
        raise BadQuestion(
            f"{len(taxa)} taxa were given.", "Name one taxon and what was seen (-o), or two taxa and the --character that separates them.", "/taxa"
        )
    show(options, answer, why_text(snapshot.knowledge, answer, axioms=options.axioms))
    return _prove(snapshot, answer, seen, to_stderr=options.json) if options.prove else 0


def _prove(snapshot: Snapshot, answer: Why, seen: list[Observation], *, to_stderr: bool) -> int:
    from lenticel.confirm import confirm

    said = [confirm(snapshot.body, each, seen) for each in answer.justifications]
    good = all(each.sufficient and not each.idle for each in said)
    count = sum(len(each.axioms) for each in answer.justifications)
    print(
        f"HermiT {'agrees' if good else 'DISAGREES'}: {sum(each.sufficient for each in said)} of {len(said)} justifications are enough,"
        f" and {sum(len(each.idle) for each in said)} of their {count} axioms could go.",
        file=sys.stderr if to_stderr else sys.stdout,
    )
    return 0 if good else 1
