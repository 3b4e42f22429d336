"""Starting points: rows for a new taxon, character or source, with blanks that the check then walks through one by one."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from lenticel.compare import disjoint_pairs
from lenticel.errors import BadQuestion, UnknownTerm, suggest
from lenticel.model import Knowledge
from lenticel.schema import TABLES
from lenticel.snapshot import Snapshot
from lenticel.spelling import one_slip
from lenticel.tables import ID

Row = Mapping[str, str]
BELOW = re.compile(r"\b(var|subsp|ssp|f)\. ")  # in the name of what is less than a species


@dataclass(frozen=True, slots=True)
class Drafted:
    """New rows, by table; and the characters that were left out since a rank above states them, by rank, nearest first."""

    rows: Mapping[str, Sequence[Row]]
    inherited: Mapping[str, Sequence[str]] = field(default_factory=dict)


def characters_to_fill(snapshot: Snapshot, parent: str, like: Sequence[str] = ()) -> list[str]:
    """The characters by which the relatives are known, best first.

    Those that the parent or a rank above it already states for all are left out. First come those that tell most pairs of
    the relatives and of the taxa that it is like apart, then those that are stated of most.

    Args:
        snapshot: the knowledge.
        parent: the taxon that the new one will lie below.
        like: taxa that it is taken for.
    """
    known = snapshot.knowledge
    kin = [taxon for taxon in known.terminal if parent in known.lineage(taxon)]
    group = list(dict.fromkeys((*kin, *like)))
    inherited = {key for characters in inherited_characters(known, parent).values() for key in characters}
    stated = {key: sum(bool(known.statements_on(taxon, key)) for taxon in group) for key in known.characters}
    wanted = [key for key, count in stated.items() if count and key not in inherited]
    rows = np.array([snapshot.place_of[taxon] for taxon in group], np.intp)
    apart = {key: int(disjoint_pairs(snapshot, rows, key, 1).sum()) for key in wanted} if len(group) > 1 else dict.fromkeys(wanted, 0)
    return sorted(wanted, key=lambda key: (-apart[key], -stated[key], key))


def inherited_characters(knowledge: Knowledge, parent: str) -> dict[str, list[str]]:
    """The characters that a taxon below `parent` inherits, each with the nearest rank that states it; ranks without any are left out."""
    found: dict[str, list[str]] = {}
    seen: set[str] = set()
    for rank in knowledge.lineage(parent):
        new = [key for key in knowledge.characters if key in knowledge.characters_of(rank) and key not in seen]
        seen.update(new)
        if new:
            found[rank] = new
    return found


def new_taxon(
    snapshot: Snapshot, name: str, parent: str, like: Sequence[str] = (), *, source: str = "", locator: str = "", drafted: Collection[str] = ()
) -> Drafted:
    """The rows of a new species: one of the taxa, and one a character of its statements, which cite a source if one is given.

    Args:
        snapshot: the knowledge.
        name: the scientific name.
        parent: the taxon that it will lie below.
        like: taxa that it is taken for.
        source: what the statements are to cite.
        locator: where in it.
        drafted: sources whose rows still have blanks, and which the snapshot does not hold for that.

    Raises:
        BadQuestion: the name makes no identifier, or is taken.
        UnknownTerm: the source is not in the tables.
    """
    known = snapshot.knowledge
    key = _identifier(name, known.taxa)
    _not_known(known, name)
    if source and source not in known.sources and source not in drafted:
        hint = suggest(source, known.sources)
        raise UnknownTerm(f"There is no source {source[:60]!r}.", f"{hint} Else add it first, with `lenticel draft source {source[:60]}`.".strip())
    taxon = {"id": key, "rank": "species", "parent": parent, "scientific_name": name}
    cited = {"source": source, "locator": locator}
    statements = [{"taxon": key, "character": each, **cited} for each in characters_to_fill(snapshot, parent, like)]
    return Drafted({"taxa": [taxon], "statements": statements}, inherited_characters(known, parent))


def _not_known(knowledge: Knowledge, name: str) -> None:
    """See that no taxon goes by a name already, but for a letter or what authors add to it.

    Raises:
        BadQuestion: one does.
    """
    wanted = _without_author(name)
    names = [(each.scientific_name, key) for key, each in knowledge.taxa.items()] + [
        (each.name, each.taxon) for each in knowledge.names if each.kind == "synonym" and not BELOW.search(each.name)
    ]
    for known, taxon in names:
        here = _without_author(known)
        if wanted == here or (wanted.split()[:1] == here.split()[:1] and one_slip(wanted, here)):
            raise BadQuestion(
                f"{taxon!r} is known as {known!r}.", "Edit its rows; if yours is another taxon, draft it by another name and mend that in taxa.csv."
            )


def _without_author(name: str) -> str:
    """The first two words of a scientific name, in small letters, without the sign of a hybrid."""
    return " ".join([word for word in name.casefold().replace("×", " ").split() if word != "x"][:2])


def new_character(knowledge: Knowledge, label: str, states: Sequence[str]) -> Drafted:
    """The rows of a new character, with its states if it takes any.

    Raises:
        BadQuestion: the label makes no identifier, or is taken.
    """
    key = _identifier(label, knowledge.characters)
    character = {"id": key, "label": label, "kind": "states" if states else "measure", "needs": "eye" if states else "ruler", "force": "diagnostic"}
    return Drafted({"characters": [character], "states": [{"character": key, "id": _identifier(each, ()), "label": each} for each in states]})


def new_source(knowledge: Knowledge, key: str) -> Drafted:
    """The row of a new source.

    Raises:
        BadQuestion: the key is no identifier, or is taken.
    """
    return Drafted({"sources": [{"id": _identifier(key, knowledge.sources)}]})


def _identifier(name: str, taken: Iterable[str]) -> str:
    key = "-".join(name.casefold().replace("×", "x").split())
    if not ID.fullmatch(key):
        raise BadQuestion(f"{name[:60]!r} makes no identifier.", "Use letters, digits, blanks and single hyphens.")
    if key in set(taken):
        raise BadQuestion(f"{key!r} is there already.", "Edit its rows, or choose another name.")
    return key


def put(folder: Path, drafted: Mapping[str, Sequence[Row]]) -> list[str]:
    """Add drafted rows to a folder of tables, statements in a file of their own; nothing that is there changes.

    Returns:
        The files that were written, and how many rows to each.

    Raises:
        BadQuestion: a file that would be new is there already.
    """
    told = []
    for table, rows in drafted.items():
        if not rows:
            continue
        path = folder / f"{table}.csv" if table != "statements" else folder / "statements" / f"{rows[0]['taxon']}.csv"
        if table == "statements" and path.exists():
            raise BadQuestion(f"{path.name} is there already.", "Edit it, or take it away.")
        path.parent.mkdir(exist_ok=True)
        header = [column.name for column in TABLES[table].columns]
        text = io.StringIO()
        lines = csv.DictWriter(text, header, restval="", lineterminator="\n")
        if not path.exists():
            lines.writeheader()
        lines.writerows(rows)
        with path.open("a", encoding="utf-8", newline="") as file:
            file.write(text.getvalue())
        told.append(f"{path.relative_to(folder).as_posix()}: {len(rows)} row{'s' * (len(rows) != 1)}")
    return told
