"""The command `lenticel`."""

from __future__ import annotations

import argparse
import csv
import io
import json
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from lenticel import load
from lenticel.account import account, all_disagreements
from lenticel.answers import as_json
from lenticel.cite import citations, counts, taxon_named
from lenticel.compare import compare
from lenticel.coverage import coverage
from lenticel.errors import BadObservation, FaultyTables, LenticelError, OutsideFragment
from lenticel.identify import Context, identify
from lenticel.model import SEASONS
from lenticel.observation import Observation, Reader, read_observations
from lenticel.picture import coverage_picture
from lenticel.places import ontology_folder
from lenticel.snapshot import Snapshot
from lenticel.text import account_text, compare_text, coverage_text, identify_text
from lenticel.version import __version__

EXAMPLES = """\
examples:
  lenticel identify -o leaf-arrangement=opposite -o bud-colour=green -o "terminal-bud-length=9 mm"
  lenticel identify seen.csv --wild --prove     # seen.csv has the columns character,value
  lenticel compare "sugar maple" "Norway maple" --season winter
  lenticel account "red maple"
  lenticel terms bud
  lenticel check --knowledge my-tables/

values:
  serrate   serrate|crenate (one of them)   "not milky"   "7.5 cm"   "7.5±0.5 cm"   5-8   ">=12 m"   absent
"""
MAX_FILE = 1 << 20


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns 0, or 1 for faults and bad input, 2 for a wrong command line."""
    options = _parser().parse_args(argv)
    try:
        return int(options.run(options))
    except (FaultyTables, OutsideFragment) as error:
        print(str(error), file=sys.stderr)
    except LenticelError as error:
        where = f" (at {error.where})" if error.where else ""
        print(f"{error.code}: {error.message}{where}\nfix: {error.fix}", file=sys.stderr)
    except BrokenPipeError:
        sys.stderr.close()
    return 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="lenticel",
        description="Ask sourced trait knowledge what a plant is, why, and on whose word.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"lenticel {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[argparse.Namespace], int], help_text: str, example: str, *, as_json: bool = True) -> argparse.ArgumentParser:
        sub = commands.add_parser(
            name, help=help_text, description=help_text, epilog=f"example:\n  {example}", formatter_class=argparse.RawDescriptionHelpFormatter
        )
        sub.set_defaults(run=run)
        sub.add_argument("--knowledge", metavar="FOLDER", help="a folder of tables or a snapshot, in place of the embedded knowledge")
        if as_json:
            sub.add_argument("--json", action="store_true", help="answer as JSON, the same as the API's")
        return sub

    sub = command(
        "identify",
        _identify,
        "What is it, given what was seen?",
        'lenticel identify -o leaf-arrangement=opposite -o petiole-sap=milky -o "samara-angle=in-one-line"',
    )
    sub.add_argument("file", nargs="?", help="observations: CSV with the columns character,value, or JSON as the API takes it; - for standard input")
    sub.add_argument("-o", "--observe", action="append", default=[], metavar="CHARACTER=VALUE", help="one observation; repeat it for more")
    sub.add_argument("--wild", action="store_true", help="nobody planted it, so that habitat excludes too")
    sub.add_argument(
        "--month", type=int, choices=range(1, 13), default=0, metavar="1-12", help="when it was seen: doubts what cannot be seen then, tells what is due"
    )
    sub.add_argument("--explain", type=int, default=3, metavar="N", help="how many taxa to explain, of those that remain and of those that are out (default 3)")
    sub.add_argument("--prove", action="store_true", help="derive the answer once more with HermiT and compare (needs the extra `proof`)")

    sub = command("compare", _compare, "What separates these?", 'lenticel compare "sugar maple" "Norway maple" --season winter')
    sub.add_argument("taxa", nargs="+", metavar="TAXON", help="identifiers or names")
    sub.add_argument("--season", choices=SEASONS, default="", help="only what can be seen then")

    sub = command("account", _account, "What is known of a taxon, and on whose word?", 'lenticel account "striped maple"')
    sub.add_argument("taxon", metavar="TAXON", help="identifier or name")

    sub = command("terms", _terms, "The characters and states that observations are made of.", "lenticel terms bud")
    sub.add_argument("word", nargs="?", default="", help="only terms that hold this word")
    sub.add_argument("--taxa", action="store_true", help="list the taxa instead")

    command("disagreements", _disagreements, "Where sources have nothing in common.", "lenticel disagreements")
    sub = command("coverage", _coverage, "How much is known, and where it is thin.", "lenticel coverage --season winter --picture coverage.svg")
    sub.add_argument("--season", choices=SEASONS, default="winter", help="which season's pairs to list (default winter)")
    sub.add_argument("--picture", metavar="FILE", help="also write the picture of taxa against characters, as SVG")

    command("stats", _stats, "How much the knowledge holds.", "lenticel stats --json")
    command("check", _check, "Show every fault of the tables; ends with 1 if there is one.", "lenticel check --knowledge ontology/", as_json=False)
    sub = command("build", _build, "Check the tables and write the ontology and the snapshot.", "lenticel build --out release/", as_json=False)
    sub.add_argument("--out", required=True, metavar="FOLDER", help="where to write")
    command("guide", _guide, "Print the guide to the tables' columns and rules.", "lenticel guide > ontology/GUIDE.md", as_json=False)
    sub = command("serve", _serve, "Serve the JSON API.", "lenticel serve --port 8000", as_json=False)
    sub.add_argument("--host", default="127.0.0.1")
    sub.add_argument("--port", type=int, default=8000)
    return parser


def _print(lines: Iterable[str]) -> int:
    for line in lines:
        print(line)
    return 0


def _identify(options: argparse.Namespace) -> int:
    rows, wild, month = _observations(options)
    snapshot = load(options.knowledge)
    observations = read_observations(Reader(snapshot), rows)
    context = Context(options.wild or wild, options.month or month)
    answer = identify(snapshot, observations, context)
    print(as_json(answer).decode()) if options.json else _print(identify_text(snapshot.knowledge, answer, out=options.explain))
    return _prove(snapshot, observations, context, to_stderr=options.json) if options.prove else 0


def _observations(options: argparse.Namespace) -> tuple[list[tuple[str, str]], bool, int]:
    rows: list[tuple[str, str]] = []
    wild, month = False, 0
    if options.file:
        try:
            data = sys.stdin.buffer.read(MAX_FILE + 1) if options.file == "-" else Path(options.file).read_bytes()
            text = data.decode("utf-8-sig")
        except OSError as error:
            raise BadObservation(f"The file {options.file!r} cannot be read: {error.strerror}.", "Check its name.") from None
        except UnicodeDecodeError:
            raise BadObservation(f"The file {options.file!r} is not UTF-8.", "Save it as UTF-8.") from None
        if len(data) > MAX_FILE:
            raise BadObservation(f"The file {options.file!r} is larger than {MAX_FILE} bytes.", "Give the observations of one plant.")
        if text.lstrip().startswith("{"):
            from lenticel.requests import parse_request

            request = parse_request(text)
            rows, wild, month = request.rows(), request.wild, request.month or 0
        else:
            rows = _csv_rows(text)
    for word in options.observe:
        character, equals, value = word.partition("=")
        if not equals:
            raise BadObservation(f"{word[:60]!r} is no observation.", "Write CHARACTER=VALUE.")
        rows.append((character, value))
    return rows, wild, month


def _csv_rows(text: str) -> list[tuple[str, str]]:
    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as error:
        raise BadObservation(f"The file is not sound CSV: {error}.", "Close every quote.") from None
    if not lines or [cell.strip() for cell in lines[0][:2]] != ["character", "value"]:
        raise BadObservation("The file does not begin with the header character,value.", "Add that line at its top.")
    rows = [line for line in lines[1:] if any(line)]
    if any(len(row) < 2 for row in rows):
        raise BadObservation("A row has no value.", "Write character,value in each row.")
    return [(row[0], row[1]) for row in rows]


def _prove(snapshot: Snapshot, observations: list[Observation], context: Context, *, to_stderr: bool) -> int:
    from lenticel.owl import write
    from lenticel.proof import Hermit

    knowledge = snapshot.knowledge
    answer = identify(snapshot, observations, context, every_rank=True)
    hermit = Hermit(write(knowledge), knowledge, [observations])
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


def _compare(options: argparse.Namespace) -> int:
    snapshot = load(options.knowledge)
    answer = compare(snapshot, [taxon_named(snapshot.knowledge, word) for word in options.taxa], season=options.season)
    return print(as_json(answer).decode()) or 0 if options.json else _print(compare_text(snapshot.knowledge, answer))


def _account(options: argparse.Namespace) -> int:
    snapshot = load(options.knowledge)
    answer = account(snapshot, taxon_named(snapshot.knowledge, options.taxon))
    return print(as_json(answer).decode()) or 0 if options.json else _print(account_text(snapshot.knowledge, answer))


def _terms(options: argparse.Namespace) -> int:
    known = load(options.knowledge).knowledge
    wanted = options.word.casefold()
    if options.taxa:
        taxa = [each for each in known.taxa.values() if wanted in f"{each.id} {each.label}".casefold()]
        return print(as_json(taxa).decode()) or 0 if options.json else _print(f"{each.id}  {each.label}" for each in taxa)
    chosen = [each for each in known.characters.values() if wanted in f"{each.id} {each.label} {each.organ} {' '.join(each.synonyms)}".casefold()]
    if options.json:
        print(as_json([{"character": each, "states": known.states_of(each.id)} for each in chosen]).decode())
        return 0
    for each in chosen:
        value = ", ".join(state.id for state in known.states_of(each.id)) or {"count": "a number", "month": "months, such as 4-5"}.get(
            each.kind, f"a value in {each.unit}"
        )
        print(f"{each.id}  ({each.label}; {', '.join(each.seasons)}; {each.needs})\n    {value}")
    return 0


def _disagreements(options: argparse.Namespace) -> int:
    snapshot = load(options.knowledge)
    known = snapshot.knowledge
    found = all_disagreements(snapshot)
    if options.json:
        print(as_json(found).decode())
        return 0
    for each in found:
        print(f"{known.taxa[each.taxon].label}, {known.characters[each.character].label}:")
        for citation in citations(known, (each.one, each.other)).values():
            print(f"    {citation.short}, {citation.locator}: {citation.value}")
        if each.resolution:
            print(f"    {each.resolution.reason}: {each.resolution.text} ({each.resolution.by}, {each.resolution.date})")
    print(f"{len(found)} pairs of statements disagree.")
    return 0


def _coverage(options: argparse.Namespace) -> int:
    snapshot = load(options.knowledge)
    if options.picture:
        Path(options.picture).write_text(coverage_picture(snapshot), encoding="utf-8")
    answer = coverage(snapshot)
    if options.json:
        print(as_json(answer).decode())
        return 0
    return _print(coverage_text(snapshot.knowledge, answer, options.season))


def _stats(options: argparse.Namespace) -> int:
    found = counts(load(options.knowledge).knowledge)
    return print(json.dumps(found)) or 0 if options.json else _print(f"{name.replace('_', ' ')}: {value}" for name, value in found.items())


def _check(options: argparse.Namespace) -> int:
    from lenticel.build import check

    folder = Path(options.knowledge) if options.knowledge else ontology_folder()
    faults, snapshot = check(folder)
    for fault in faults:
        print(fault)
    if snapshot is None:
        print(f"{len(faults)} faults.", file=sys.stderr)
        return 1
    held = counts(snapshot.knowledge)
    print(f"No fault in {held['statements']} statements on {held['taxa']} taxa and {held['characters']} characters.")
    return 0


def _build(options: argparse.Namespace) -> int:
    from lenticel.build import write_release

    folder = Path(options.knowledge) if options.knowledge else ontology_folder()
    snapshot = write_release(folder, Path(options.out))
    print(f"Wrote ontology.ttl, ontology.rdf, identifiers.csv and snapshot/ of knowledge {snapshot.digest}.")
    return 0


def _guide(options: argparse.Namespace) -> int:
    from lenticel.guide import guide

    sys.stdout.write(guide())
    return 0


def _serve(options: argparse.Namespace) -> int:
    import uvicorn

    from lenticel.api import create_app

    uvicorn.run(create_app(load(options.knowledge)), host=options.host, port=options.port, server_header=False)
    return 0


if __name__ == "__main__":
    sys.exit(main())
