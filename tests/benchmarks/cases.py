"""The project's own knowledge, cut to a chosen number of taxa."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from rdflib import Graph

from lenticel import owl
from lenticel.compiler import compile_graph
from lenticel.model import Knowledge
from lenticel.snapshot import Snapshot
from lenticel.tables import read

TABLES = Path(__file__).parents[2] / "ontology"


def cut(knowledge: Knowledge, count: int) -> Knowledge:
    """The first `count` lowest taxa of a body of knowledge, the ranks above them, and what is stated of those."""
    kept = {rank for taxon in knowledge.terminal[:count] for rank in knowledge.lineage(taxon)}
    return replace(
        knowledge,
        taxa={key: taxon for key, taxon in knowledge.taxa.items() if key in kept},
        statements={key: each for key, each in knowledge.statements.items() if each.taxon in kept},
        names=[],
        lookalikes={},
        cautions={},
        resolutions={},
        recorded={},
        reviews={},
    )


def real(count: int, tables: Path = TABLES) -> tuple[Graph, Knowledge, Snapshot]:
    """The ontology of the project's own tables, cut to `count` lowest taxa; its records; and its snapshot."""
    knowledge = cut(read(tables).knowledge, count)
    graph = owl.write(knowledge)
    return graph, knowledge, compile_graph(graph)
