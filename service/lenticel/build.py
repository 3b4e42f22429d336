"""Building: tables to snapshot and to ontology, with every check on the way."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
from rdflib import Graph

from lenticel import owl
from lenticel.account import all_disagreements
from lenticel.check import table_faults
from lenticel.compiler import compile_graph
from lenticel.dataset import write_dataset
from lenticel.direct import snapshot_from
from lenticel.errors import Fault, FaultyTables, OutsideFragment
from lenticel.iris import Namer
from lenticel.model import Knowledge
from lenticel.retired import FILE, retired_in
from lenticel.serialise import serialised
from lenticel.sheets import csv_bytes
from lenticel.snapshot import Snapshot, members_of
from lenticel.store import save
from lenticel.tables import Loaded, read

HARMLESS = {"orphan"}  # rules that a sound snapshot can break


def check(folder: Path) -> tuple[list[Fault], Snapshot | None]:
    """Every fault of a folder of tables, and the snapshot if there is none.

    Raises:
        OutsideFragment: a bound does not fit the arrays.
    """
    faults, _, snapshot = examined(folder)
    return faults, None if faults else snapshot


def examined(folder: Path, *, older: bool = False) -> tuple[list[Fault], Loaded, Snapshot | None]:
    """Every fault of a folder of tables (`older`: see `read`), what was read, and the snapshot where the rows by themselves are sound."""
    loaded = read(folder, older=older)
    faults, snapshot = judged(loaded)
    return faults, loaded, snapshot


def judged(loaded: Loaded) -> tuple[list[Fault], Snapshot | None]:
    """Every fault of what was read, and the snapshot where the rows by themselves are sound."""
    faults = table_faults(loaded)
    if any(each.rule not in HARMLESS for each in faults):
        return faults, None
    snapshot = snapshot_from(loaded.knowledge)
    return sorted({*faults, *(fault for rule in COMPILED_RULES for fault in rule(loaded, snapshot))}), snapshot


def snapshot_of(folder: Path) -> Snapshot:
    """The snapshot of a folder of tables.

    Raises:
        FaultyTables: with every fault.
    """
    faults, snapshot = check(folder)
    if snapshot is None:
        raise FaultyTables(faults)
    return snapshot


def settled(loaded: Loaded, snapshot: Snapshot) -> Iterator[Fault]:
    """A resolution stands for two sources that do disagree."""
    needed = {each.resolution.id for each in all_disagreements(snapshot) if each.resolution}
    for key, resolution in loaded.knowledge.resolutions.items():
        if key not in needed:
            yield loaded.origins["resolutions", key].fault(
                "one", "no-disagreement", f"{resolution.one!r} and {resolution.other!r} do not disagree on this.", "Take the row out, or mend its sources."
            )


def ontology_of(folder: Path) -> tuple[Graph, Knowledge]:
    """The ontology of a folder of tables that were found sound, with what was retired marked so, and the records it was written from."""
    knowledge = read(folder).knowledge
    graph = owl.write(knowledge)
    owl.retire(graph, retired_in(folder))
    return graph, knowledge


def alive(snapshot: Snapshot, character: str) -> np.ndarray:
    """For each taxon, whether some plant of it could show the character at all."""
    where = snapshot.layout[character]
    if where.atoms:
        planes = snapshot.hard[where.first : where.first + where.atoms]
        return members_of(np.bitwise_or.reduce(planes, axis=0), snapshot.taxa_count)
    low, high = snapshot.ranges[:2, where.slot]
    return np.asarray(low <= high)


def dead_cells(loaded: Loaded, snapshot: Snapshot) -> Iterator[Fault]:
    """No plant could be the taxon and show the character: statements contradict those of a higher rank or of the condition."""
    stated = dict.fromkeys((each.taxon, each.character) for each in loaded.knowledge.statements.values())
    for taxon, character in stated:
        if alive(snapshot, character)[snapshot.place_of[taxon]]:
            continue
        for statement in loaded.knowledge.statements_on(taxon, character):
            others = [
                f"{other.id} ({other.value})"
                for rank in loaded.knowledge.lineage(taxon)
                for key in {*loaded.knowledge.broadening(character), (loaded.knowledge.characters[character].applies_if or ("",))[0]}
                for other in (loaded.knowledge.statements_on(rank, key) if key else [])
                if (rank, key) != (taxon, character)
            ]
            yield loaded.origins["statements", statement.id].fault(
                "value",
                "dead-cell",
                f"No {taxon!r} could show {character!r}: it is at odds with {', '.join(others[:4]) or 'its own condition'}.",
                "Widen the statement of the higher rank, mend the value, or take out what cannot apply.",
            )


def never_applies(loaded: Loaded, snapshot: Snapshot) -> Iterator[Fault]:
    """No taxon at all meets the condition of a character."""
    for key, character in loaded.knowledge.characters.items():
        if character.applies_if and not alive(snapshot, key).any():
            yield loaded.origins["characters", key].fault(
                "applies_if", "never-applies", f"No taxon meets the condition of {key!r}.", "Mend the condition, or add the taxa that meet it."
            )


def alike(loaded: Loaded, snapshot: Snapshot) -> Iterator[Fault]:
    """Two lowest taxa about which exactly the same is said cannot be told apart: one is a copy of the other."""
    first: dict[bytes, str] = {}
    known = loaded.knowledge
    for taxon in known.terminal:
        said = sorted((each.character, each.value, each.frequency) for each in known.statements.values() if each.taxon == taxon)
        if not said:
            continue
        other = first.setdefault(repr((known.taxa[taxon].parent, said)).encode(), taxon)
        if other != taxon:
            yield loaded.origins["taxa", taxon].fault(
                "id",
                "identical-taxa",
                f"Exactly the same is stated of {taxon!r} and {other!r}.",
                "State what separates them, or make one a synonym of the other.",
            )


def identifiers(knowledge: Knowledge) -> list[str]:
    """The IRIs that others may hold on to: taxa, characters, states, sources."""
    name = Namer(knowledge.about.iri)
    tables: dict[str, Iterable[str]] = {"taxa": knowledge.taxa, "characters": knowledge.characters, "states": knowledge.states, "sources": knowledge.sources}
    return sorted(str(name.record(table, key)) for table, rows in tables.items() for key in rows)


def vanished(loaded: Loaded, snapshot: Snapshot) -> Iterator[Fault]:
    """An identifier that was released is still there, or names a successor that is."""
    present = set(identifiers(snapshot.knowledge))
    for row in loaded.rows["released"]:
        iri, successor = row.cells["iri"], row.cells["successor"]
        if iri not in present and successor not in present:
            yield row.fault(
                "iri", "vanished", f"{iri!r} was released and is gone.", "Bring it back, or name in `successor` the present term that took its place."
            )


COMPILED_RULES = (dead_cells, never_applies, alike, settled, vanished)


def _released(folder: Path, knowledge: Knowledge) -> list[tuple[str, ...]]:
    """The table of released identifiers as it is after this release: those that are new in it have its version, the others keep theirs."""
    rows: dict[str, tuple[str, ...]] = {iri: (iri, knowledge.about.version, "") for iri in identifiers(knowledge)}
    rows |= {row.cells["iri"]: tuple(row.cells.values()) for row in read(folder).rows["released"]}
    return [("iri", "version", "successor"), *(rows[iri] for iri in sorted(rows))]


def write_release(folder: Path, out: Path) -> Snapshot:
    """Write the release of a folder of tables: all files of one; the same tables give the same bytes.

    Raises:
        FaultyTables: with every fault; nothing is written then.
        OutsideFragment: the ontology compiles to something else than the records.
    """
    snapshot = snapshot_of(folder)
    graph, _ = ontology_of(folder)
    if compile_graph(graph).digest != snapshot.digest:
        raise OutsideFragment(["the ontology says something else than the records; nothing is released"])
    out.mkdir(parents=True, exist_ok=True)
    for name, form in (("ontology.ttl", "turtle"), ("ontology.rdf", "xml")):
        (out / name).write_bytes(serialised(graph, form))
    (out / "identifiers.csv").write_bytes(csv_bytes(_released(folder, snapshot.knowledge)))
    write_dataset(snapshot, out / "dataset.nq.gz", graph)
    if (folder / "questions").is_dir():
        shutil.copytree(folder / "questions", out / "questions")
    if (folder / FILE).is_file():
        shutil.copyfile(folder / FILE, out / FILE)
    save(snapshot, out / "snapshot")
    return snapshot
