"""The commands of those who keep the tables."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from lenticel.cite import counts
from lenticel.cli.commands import Commands, show
from lenticel.cli.meant import tables_meant
from lenticel.snapshot import Snapshot


def add(commands: Commands) -> None:
    """Add the commands of this group."""
    sub = commands.add("check", _check, "Show every fault of the tables; ends with 1 if there is one.", "lenticel check --fix", as_json=False)
    sub.add_argument("--fix", action="store_true", help="first mend what is mechanical: style, order, spelling; shows what it changed")
    sub.add_argument("--full", action="store_true", help="also look into the ontology: its rules, and by HermiT its consistency and verdicts (about a minute)")
    sub.add_argument(
        "--format", choices=("text", "github", "sarif"), default="text", help="how to show faults: for people, or for a forge to show beside the line"
    )
    sub = commands.add("build", _build, "Check the tables and write the ontology and the snapshot.", "lenticel build --out release/", as_json=False)
    sub.add_argument("--out", required=True, metavar="FOLDER", help="where to write")
    told = "Write the bundle of a version: ontology, tables, notes, checksums, in a folder and an archive."
    sub = commands.add("release", _release, told, "lenticel release --out releases/ --since 2026-11-25", as_json=False)
    sub.add_argument("--out", required=True, metavar="FOLDER", help="where the bundle goes")
    sub.add_argument(
        "--since",
        default="",
        metavar="OLD",
        help="the version before: a folder of tables, such as that of its bundle, or a git revision (default: the tag named as `prior` in about.csv)",
    )
    sub = commands.add("changes", _changes, "What a change did to what can be told apart.", "lenticel changes main ontology/")
    sub.add_argument("old", metavar="OLD", help="the version before: a folder of tables, or a git revision")
    sub.add_argument(
        "new", metavar="NEW", nargs="?", help="the version after (default: the tables as they are); ends with 1 if a pair that can hurt lost a separator"
    )
    commands.add("guide", _guide, "Print the guide to the tables' columns and rules.", "lenticel guide > ontology/GUIDE.md", as_json=False)


def _check(options: argparse.Namespace) -> int:
    from lenticel.annotations import sarif, workflow_commands
    from lenticel.build import check
    from lenticel.mend import mend

    folder = tables_meant(options.knowledge)
    if options.fix:
        told = sys.stderr if options.format == "sarif" else sys.stdout
        mends = mend(folder)
        for each in mends:
            print(each, file=told)
        print(f"{len(mends)} changes made.", file=told)
    faults, snapshot = check(folder)
    if options.format == "sarif":
        print(sarif(folder, faults))
        return 1 if faults else 0
    for line in workflow_commands(folder, faults) if options.format == "github" else faults:
        print(line)
    if snapshot is None:
        print(f"{len(faults)} fault{'s' * (len(faults) != 1)}.", file=sys.stderr)
        return 1
    held = counts(snapshot.knowledge)
    print(f"No fault in {held['statements']} statements on {held['taxa']} taxa and {held['characters']} characters.")
    return _full(folder, snapshot) if options.full else 0


def _full(folder: Path, snapshot: Snapshot) -> int:
    from lenticel.thorough import thorough

    sound = True
    for each in thorough(folder, snapshot):
        print(each, flush=True)
        sound &= not (each.grave and each.wrong)
    return 0 if sound else 1


def _build(options: argparse.Namespace) -> int:
    from lenticel.build import write_release

    folder = tables_meant(options.knowledge)
    snapshot = write_release(folder, Path(options.out))
    print(f"Wrote ontology.ttl, ontology.rdf, identifiers.csv and snapshot/ of knowledge {snapshot.digest}.")
    return 0


def _release(options: argparse.Namespace) -> int:
    from lenticel.bundle import write_bundle

    written = write_bundle(tables_meant(options.knowledge), Path(options.out), options.since)
    print(f"Wrote {written.folder}/ and\n{written.sha256}  {written.archive}")
    return 0


def _changes(options: argparse.Namespace) -> int:
    from lenticel.change import change
    from lenticel.difference import RowChange
    from lenticel.text.change import change_markdown
    from lenticel.versions import added_acknowledgements, version

    folder = tables_meant(options.knowledge)
    old, new = version(options.old, folder, older=True), version(options.new or str(folder), folder)
    found = change(old.snapshot, new.snapshot, added_acknowledgements(old.loaded, new.loaded))

    def place(row: RowChange) -> str:
        origin = (old if row.how == "gone" else new).loaded.origins[row.table, row.key]
        return f"{origin.file}:{origin.number}"

    show(options, found, change_markdown(old.loaded.knowledge, new.loaded.knowledge, found, place))
    return 0 if found.sound else 1


def _guide(options: argparse.Namespace) -> int:
    from lenticel.guide import guide

    sys.stdout.write(guide())
    return 0
