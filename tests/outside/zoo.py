"""The zoo animals as a body of knowledge: `python -m tests.outside.zoo FOLDER` writes its tables from the package orange3.

Source: Forsyth 1990, Zoo, UCI Machine Learning Repository, as the file zoo.tab of orange3 3.40.0 (101 animals, 16 traits, type).
"""

from __future__ import annotations

import csv
import sys
from importlib import metadata
from pathlib import Path

from lenticel.model import NO_SLACK, SEASONS, About, Character, Knowledge, Name, Source, State, Statement, Taxon
from lenticel.rows import write_tables

BASE = "https://example.org/zoo/"
SOURCE = Source("forsyth-1990", "dataset", "Forsyth, Richard S.", "1990", "Zoo", "UCI Machine Learning Repository", "", "Read from the package orange3.")
ABOUT = About(
    "zoo",
    "Zoo animals",
    "Sixteen traits of 101 animals of seven types.",
    BASE,
    "https://creativecommons.org/licenses/by/4.0/",
    "Lenticel developers",
    *["2026-11-29"] * 3,
)


def animals() -> list[dict[str, str]]:
    """The rows of the data set; the second frog is called frog-2.

    Raises:
        LookupError: the package orange3 is not installed.
    """
    try:
        listed_files = metadata.files("orange3") or []
    except metadata.PackageNotFoundError:
        listed_files = []
    found = next((each for each in listed_files if each.name == "zoo.tab"), None)
    if found is None:
        raise LookupError("orange3 has no zoo.tab; install it with `pip install --no-deps orange3`")
    head, _, _, *rows = csv.reader(Path(str(found.locate())).read_text(encoding="utf-8").splitlines(), delimiter="\t")
    listed = [dict(zip(head, row, strict=True)) for row in rows if any(row)]
    seen: dict[str, int] = {}
    for each in listed:
        seen[each["name"]] = seen.get(each["name"], 0) + 1
        if seen[each["name"]] > 1:
            each["name"] += f"-{seen[each['name']]}"
    return listed


def zoo() -> Knowledge:
    """The records: animals that no trait tells apart are one taxon, with the others as its names."""
    rows = animals()
    known = Knowledge(ABOUT, sources={SOURCE.id: SOURCE})
    traits = [each for each in rows[0] if each not in ("name", "type")]
    for trait in traits:
        _character(known, trait, sorted({row[trait] for row in rows}))
    for kind in dict.fromkeys(row["type"] for row in rows):
        known.taxa[kind] = Taxon(kind, "class", "", kind, "", "", (), "", "")
    first: dict[tuple[str, ...], str] = {}
    for row in rows:
        key = first.setdefault(tuple(row[each] for each in traits), row["name"])
        if key != row["name"]:
            known.names.append(Name(key, row["name"], "common", "en", SOURCE.id, f"row {row['name']}"))
            continue
        known.taxa[key] = Taxon(key, "species", row["type"], key, "", "", (), "", "")
        for trait in traits:
            statement = Statement(key, trait, _value(trait, row[trait]), "", None, SOURCE.id, f"row {key}", "", "")
            known.statements[statement.id] = statement
    return known


def _character(known: Knowledge, trait: str, values: list[str]) -> None:
    count = trait == "legs"
    told = f"{'How many legs there are' if count else 'Whether the data set calls it'}: {trait}."
    known.characters[trait] = Character(
        trait, trait, "count" if count else "states", "", "body", "", "", SEASONS, "eye", "diagnostic", None, None,
        "1" if count else "", None, None, False, not count, True, NO_SLACK, NO_SLACK, NO_SLACK, "", (), told,
    )  # fmt: skip
    for value in () if count else values:
        known.states[f"{trait}.{_value(trait, value)}"] = State(
            trait, _value(trait, value), _value(trait, value), "", False, (), (), f"The data set has {value} under {trait}."
        )


def _value(trait: str, value: str) -> str:
    return value if trait == "legs" else {"0": "absent", "1": "present"}[value]


if __name__ == "__main__":
    write_tables(zoo(), Path(sys.argv[1]))
