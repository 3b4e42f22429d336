"""The command that names a plant."""

from __future__ import annotations

import argparse
import sys

from lenticel.cli.commands import Commands, show
from lenticel.cli.meant import knowledge_meant
from lenticel.cli.seen import observed, take_observations
from lenticel.doubt import doubt
from lenticel.identify import Context, identify
from lenticel.observation import Observation, Reader, read_observations
from lenticel.snapshot import Snapshot
from lenticel.text import identify_text


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add(
        "identify",
        _identify,
        "What is it, given what was seen?",
        'lenticel identify -o leaf-arrangement=opposite -o petiole-sap=milky -o "samara-angle=in-one-line"',
    )
    take_observations(sub)
    sub.add_argument("--explain", type=int, default=3, metavar="N", help="how many taxa to explain, of those that remain and of those that are out (default 3)")
    sub.add_argument("--prove", action="store_true", help="derive the answer once more with HermiT and compare (needs the extra `proof`)")


def _identify(options: argparse.Namespace) -> int:
    rows, context = observed(options)
    snapshot = knowledge_meant(options.knowledge)
    observations = read_observations(Reader(snapshot), rows)
    answer = identify(snapshot, observations, context)
    doubts = None if answer.consistent or options.json else doubt(snapshot, observations, context)
    show(options, answer, identify_text(snapshot.knowledge, answer, out=options.explain, doubts=doubts))
    return _prove(snapshot, observations, context, to_stderr=options.json) if options.prove else 0


def _prove(snapshot: Snapshot, observations: list[Observation], context: Context, *, to_stderr: bool) -> int:
    from lenticel.owl import write
    from lenticel.proof import Hermit

    knowledge = snapshot.knowledge
    answer = identify(snapshot, observations, context, every_rank=True)
    hermit = Hermit(write(knowledge, records=False), knowledge, [observations])
    said = hermit.answer(0, wild=context.wild)
    excluded = {each.taxon for each in answer.excluded}
    atypical = {each.taxon for each in answer.consistent if each.atypical}
    same = said.excluded == excluded and said.atypical == atypical
    print(
        f"HermiT {'agrees' if same else 'DISAGREES'}: it excludes {len(said.excluded)} of {len(knowledge.taxa)} taxa of every rank"
        f" and finds {len(said.atypical)} atypical; the engine {len(excluded)} and {len(atypical)}.",
        file=sys.stderr if to_stderr else sys.stdout,
    )
    return 0 if same else 1
