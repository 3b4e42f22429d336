"""The dataset of a release: named graphs of what is stated and of what follows, and in the default graph what they are.

Written as gzipped N-Quads, one line a quad in byte order, so that the same knowledge gives the same bytes.
"""

from __future__ import annotations

import gzip
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from rdflib import RDF, BNode, Graph
from rdflib.term import Node

from lenticel import inferred, owl
from lenticel.description import Counts, describe
from lenticel.iris import RECORD_CLASSES, Namer
from lenticel.snapshot import Snapshot

FORMAT = 1  # another number for another way to write the same knowledge
LEVEL = 6

Triple = tuple[Node, Node, Node]


def graphs_of(snapshot: Snapshot, ontology: Graph) -> dict[str, Iterable[Triple]]:
    """Every named graph by the last part of its name. No triple is in two of them, so that all together count each once.

    The records (statements, sources, names, ...) are individuals of the ontology; here they have the graph `statements` to themselves.
    """
    records = {subject for kind in RECORD_CLASSES.values() for subject in ontology.subjects(RDF.type, kind)}
    stated: list[Triple] = []
    terms: list[Triple] = []
    for triple in ontology:
        (stated if triple[0] in records else terms).append(triple)
    return {"terms": terms, "statements": stated, **inferred.graphs_of(snapshot)}


def write_dataset(snapshot: Snapshot, path: Path, ontology: Graph | None = None) -> dict[str, int]:
    """Write the dataset of a snapshot.

    Args:
        snapshot: the knowledge.
        path: the file.
        ontology: the ontology of the same knowledge, which also marks identifiers that had to go; without it, it is written from the snapshot alone.

    Returns:
        How many triples each named graph holds.
    """
    name = Namer(snapshot.knowledge.about.iri)
    lines: list[str] = []
    counts: dict[str, Counts] = {}
    for part, triples in graphs_of(snapshot, owl.write(snapshot.knowledge) if ontology is None else ontology).items():
        found = list(dict.fromkeys(triples))
        counts[part] = Counts.of(found)
        lines += _lines(found, f" {_n3(name.graph(part))}")
    lines += _lines(describe(snapshot.knowledge, counts), "")
    lines.sort()
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as raw, gzip.GzipFile("", "wb", LEVEL, raw, mtime=0) as packed:
        packed.write("".join(lines).encode())
    return {part: each.triples for part, each in counts.items()}


def _lines(triples: Iterable[Triple], graph: str) -> Iterable[str]:
    return (f"{_n3(subject)} {_n3(verb)} {_n3(value)}{graph} .\n" for subject, verb, value in triples)


@lru_cache(1 << 17)
def _n3(term: Node) -> str:
    """A term as N-Triples has it; rdflib writes long strings over several lines, which a file of lines cannot hold."""
    if isinstance(term, BNode):
        return f"_:{term}"
    text = term.n3()
    if not text.startswith('"""'):
        return str(text)
    end = text.rindex('"""') + 3
    return '"' + _escaped(str(term)) + '"' + str(text[end:])


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\r", "\\r")
