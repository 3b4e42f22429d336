"""Building: tables to ontology to snapshot, with every check on the way."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from rdflib import Graph

from lenticel import owl
from lenticel.check import table_faults
from lenticel.compiler import compile_graph
from lenticel.errors import Fault, FaultyTables
from lenticel.model import Knowledge
from lenticel.snapshot import Snapshot, members_of
from lenticel.store import save
from lenticel.tables import Loaded, read


def check(folder: Path) -> tuple[list[Fault], Snapshot | None]:
    """Every fault of a folder of tables, and the snapshot if there is none."""
    try:
        loaded = read(folder)
    except FaultyTables as error:
        return error.faults, None
    faults = table_faults(loaded)
    if faults:
        return faults, None
    snapshot = compile_graph(owl.write(loaded.knowledge))
    faults = sorted({*dead_cells(loaded, snapshot), *never_applies(loaded, snapshot), *alike(loaded, snapshot)})
    return faults, None if faults else snapshot


def snapshot_of(folder: Path) -> Snapshot:
    """The snapshot of a folder of tables.

    Raises:
        FaultyTables: with every fault.
    """
    faults, snapshot = check(folder)
    if snapshot is None:
        raise FaultyTables(faults)
    return snapshot


def ontology_of(folder: Path) -> tuple[Graph, Knowledge]:
    """The ontology of a folder of tables that were found sound, and the records it was written from."""
    knowledge = read(folder).knowledge
    return owl.write(knowledge), knowledge


def _alive(snapshot: Snapshot, character: str) -> np.ndarray:
    where = snapshot.layout[character]
    if where.atoms:
        planes = snapshot.hard[where.first : where.first + where.atoms]
        return members_of(np.bitwise_or.reduce(planes, axis=0), snapshot.taxa_count)
    low, high = snapshot.ranges[where.slot, :2]
    return np.asarray(low <= high)


def dead_cells(loaded: Loaded, snapshot: Snapshot) -> Iterator[Fault]:
    """No plant could be the taxon and show the character: statements contradict those of a higher rank or of the condition."""
    stated = dict.fromkeys((each.taxon, each.character) for each in loaded.knowledge.statements.values())
    for taxon, character in stated:
        if _alive(snapshot, character)[snapshot.place_of[taxon]]:
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
        if character.applies_if and not _alive(snapshot, key).any():
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


def write_release(folder: Path, out: Path) -> Snapshot:
    """Write the release of a folder of tables: `ontology.ttl`, `ontology.rdf` and `snapshot/`; the same tables give the same bytes.

    Raises:
        FaultyTables: with every fault; nothing is written then.
    """
    snapshot = snapshot_of(folder)
    graph, _ = ontology_of(folder)
    out.mkdir(parents=True, exist_ok=True)
    for name, form in (("ontology.ttl", "turtle"), ("ontology.rdf", "xml")):
        (out / name).write_bytes(serialised(graph, form))
    save(snapshot, out / "snapshot")
    return snapshot


def serialised(graph: Graph, form: str) -> bytes:
    """The graph in one of rdflib's formats, as UTF-8 with one final line end."""
    return graph.serialize(format=form, encoding="utf-8").strip() + b"\n"
