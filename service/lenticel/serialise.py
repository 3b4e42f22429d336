"""Graphs as bytes: the same graph gives the same bytes in every format."""

from __future__ import annotations

import io
import json
from collections.abc import Generator
from typing import Any

from rdflib import RDF, Graph, URIRef
from rdflib.plugins.serializers.turtle import TurtleSerializer
from rdflib.term import Node


class _Ordered(Graph):
    """A view of a graph that yields subjects, predicates and objects in order, where rdflib's RDF/XML follows its hash tables."""

    def subjects(self, *args: Any, **options: Any) -> Generator[Node, None, None]:
        """The subjects, sorted."""
        yield from sorted(super().subjects(*args, **options), key=str)

    def predicate_objects(self, *args: Any, **options: Any) -> Generator[tuple[Node, Node], None, None]:
        """The pairs of a subject, its type first: the OWL API takes what stands before the type of a header for annotations of some IRI."""
        yield from sorted(super().predicate_objects(*args, **options), key=lambda pair: (pair[0] != RDF.type, str(pair[0]), pair[1].n3()))


class _Turtle(TurtleSerializer):
    """Turtle as rdflib writes it; the short form of a name, which the same few thousand names ask for a million times, is worked out once."""

    def reset(self) -> None:
        """Forget the names of the graph before."""
        super().reset()
        self._known: dict[tuple[Node, bool], str | None] = {}

    def get_pname(self, uri: Node, gen_prefix: bool = True) -> str | None:
        """The short form of a name, if it has one."""
        if (uri, gen_prefix) not in self._known:
            self._known[uri, gen_prefix] = super().get_pname(uri, gen_prefix) if isinstance(uri, URIRef) else None
        return self._known[uri, gen_prefix]


def serialised(graph: Graph, form: str) -> bytes:
    """The graph in one of rdflib's formats, as UTF-8 with one final line end; the same graph gives the same bytes."""
    ordered = _Ordered(graph.store, graph.identifier, graph.namespace_manager)
    if form == "turtle":
        _Turtle(ordered).serialize(out := io.BytesIO(), encoding="utf-8")
        text = out.getvalue().strip()
    else:
        text = ordered.serialize(format=form, encoding="utf-8").strip()
    return (b"\n".join(sorted(text.split(b"\n"))) if form == "nt" else text) + b"\n"


def as_json_ld(graph: Graph, context: dict[str, Any], address: str) -> bytes:
    """The graph as JSON-LD 1.1, worded by a context that it names by its address.

    Args:
        graph: what to write.
        context: the terms to write it in.
        address: where the context can be read.
    """
    found = json.loads(_Ordered(graph.store, graph.identifier, graph.namespace_manager).serialize(format="json-ld", context=context))
    found["@context"] = address
    return (json.dumps(_sorted(found), ensure_ascii=False, indent=1) + "\n").encode()


def _sorted(value: Any, ordered: bool = False) -> Any:
    """The same JSON-LD with keys in order, and arrays too, except for the items of lists."""
    if isinstance(value, dict):
        return {key: _sorted(value[key], key == "@list") for key in sorted(value)}
    if isinstance(value, list):
        items = [_sorted(each) for each in value]
        return items if ordered else sorted(items, key=lambda each: json.dumps(each, sort_keys=True))
    return value
