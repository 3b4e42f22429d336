"""From the ontology to the snapshot: what its axioms say binds each taxon."""

from __future__ import annotations

from functools import partial

from rdflib import Graph, URIRef
from rdflib.namespace import PROV

from lenticel.assembly import Assembly, Held
from lenticel.cells import Cell
from lenticel.fragment import Fragment
from lenticel.snapshot import Snapshot


def compile_graph(graph: Graph) -> Snapshot:
    """Compile an ontology.

    Raises:
        OutsideFragment: it says something in a way for which the engine is not proven; the error names every such axiom.
    """
    fragment = Fragment(graph)
    return Assembly(fragment.knowledge, fragment.partitions, _cells(fragment), partial(_held, fragment)).snapshot()


def _held(fragment: Fragment, taxon: str, tier: str) -> Held:
    """By character, the cells that a class of a taxon falls under."""
    held: dict[str, list[str]] = {}
    for above in fragment.axioms.superclasses(fragment.name.taxon(taxon, tier)):
        if above in fragment.cells:
            held.setdefault(fragment.cells[above][1], []).append(_key(fragment, above))
    return held


def _key(fragment: Fragment, cell: URIRef) -> str:
    return cell.removeprefix(f"{fragment.name.base}cell/")


def _cells(fragment: Fragment) -> dict[str, Cell]:
    statements = {fragment.name.record("statements", key): key for key in fragment.knowledge.statements}
    records: dict[str, Cell] = {}
    for node, (_, character, region) in fragment.cells.items():
        key = _key(fragment, node)
        said = (statements[each] for each in fragment.graph.objects(node, PROV.wasDerivedFrom) if isinstance(each, URIRef) and each in statements)
        records[key] = Cell(key.split("/")[0], character, "typical" if key.endswith("/typical") else "hard", region, tuple(sorted(said)))
    return records
