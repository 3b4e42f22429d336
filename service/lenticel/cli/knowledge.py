"""The commands that read the knowledge out."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from lenticel import load
from lenticel.account import account, all_disagreements
from lenticel.cite import counts, taxon_named
from lenticel.cli.commands import Commands, show
from lenticel.cli.meant import folder_meant, knowledge_read
from lenticel.compare import compare
from lenticel.coverage import coverage
from lenticel.disputes import disputes
from lenticel.finding import characters_found, taxa_found
from lenticel.model import SEASONS, Knowledge
from lenticel.picture import coverage_picture
from lenticel.tables import terms_in
from lenticel.text import account_text, compare_text, coverage_text, disagreements_text, terms_text


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add("compare", _compare, "What separates these?", 'lenticel compare "sugar maple" "Norway maple" --season winter')
    sub.add_argument("taxa", nargs="+", metavar="TAXON", help="identifiers or names")
    sub.add_argument("--season", choices=SEASONS, default="", help="only what can be seen then")
    sub = commands.add("account", _account, "What is known of a taxon, and on whose word?", 'lenticel account "striped maple"')
    sub.add_argument("taxon", metavar="TAXON", help="identifier or name")
    sub = commands.add("terms", _terms, "The characters and states that observations are made of.", "lenticel terms bud")
    sub.add_argument("word", nargs="?", default="", help="only terms that hold this word, in their names, other words for them or their states")
    sub.add_argument("--taxa", action="store_true", help="list the taxa instead")
    sub = commands.add("disagreements", _disagreements, "Where sources have nothing in common.", "lenticel disagreements --open")
    which = sub.add_mutually_exclusive_group()
    which.add_argument("--open", action="store_true", help="only those of which nobody has said how they are understood")
    which.add_argument("--settled", action="store_true", help="only those of which somebody has")
    sub = commands.add("coverage", _coverage, "How much is known, and where it is thin.", "lenticel coverage --season winter --picture coverage.svg")
    sub.add_argument("--season", choices=SEASONS, default="winter", help="which season's pairs to list (default winter)")
    sub.add_argument("--picture", type=_svg, metavar="FILE.svg", help="also write the picture of taxa against characters, as SVG")
    commands.add("stats", _stats, "How much the knowledge holds.", "lenticel stats --json")


def _compare(options: argparse.Namespace) -> int:
    snapshot = knowledge_read(options.knowledge)
    answer = compare(snapshot, [taxon_named(snapshot.knowledge, word) for word in options.taxa], season=options.season)
    return show(options, answer, compare_text(snapshot.knowledge, answer))


def _account(options: argparse.Namespace) -> int:
    snapshot = knowledge_read(options.knowledge)
    answer = account(snapshot, taxon_named(snapshot.knowledge, options.taxon))
    return show(options, answer, account_text(snapshot.knowledge, answer))


def _terms(options: argparse.Namespace) -> int:
    known = _terms_of(folder_meant(options.knowledge))
    find = taxa_found if options.taxa else characters_found
    found = find(known, options.word)
    if found.note:
        print(found.note, file=sys.stderr)
    if options.taxa:
        taxa = [known.taxa[key] for key in found.keys]
        return show(options, taxa, (f"{each.id}  {each.label}" for each in taxa))
    chosen = [known.characters[key] for key in found.keys]
    return show(options, [{"character": each, "states": known.states_of(each.id)} for each in chosen], terms_text(known, chosen, found.by))


def _terms_of(folder: Path | None) -> Knowledge:
    """The knowledge in a folder, of which the terms are wanted: those of tables are had although statements have faults."""
    if folder is None or (folder / "manifest.json").is_file():
        return load(folder).knowledge
    known, unsound = terms_in(folder)
    if unsound:
        print(f"{unsound} rows of taxa, characters and states have faults and are left out; `lenticel check` names them.", file=sys.stderr)
    return known


def _disagreements(options: argparse.Namespace) -> int:
    snapshot = knowledge_read(options.knowledge)
    found = [each for each in all_disagreements(snapshot) if not (options.open and each.resolution) and not (options.settled and not each.resolution)]
    answer = disputes(snapshot, found)
    return show(options, answer, disagreements_text(snapshot.knowledge, answer))


def _svg(file: str) -> str:
    if not file.lower().endswith(".svg"):
        raise argparse.ArgumentTypeError(f"{file[-60:]!r} does not end in .svg, and SVG is the only form; write it so, and print it from a browser for another")
    return file


def _coverage(options: argparse.Namespace) -> int:
    snapshot = knowledge_read(options.knowledge)
    if options.picture:
        Path(options.picture).write_text(coverage_picture(snapshot), encoding="utf-8")
    answer = coverage(snapshot)
    return show(options, answer, coverage_text(snapshot.knowledge, answer, options.season))


def _stats(options: argparse.Namespace) -> int:
    found = counts(knowledge_read(options.knowledge).knowledge)
    return show(options, found, (f"{name.replace('_', ' ')}: {value}" for name, value in found.items()))
