"""When a query finds nothing: which of our IRIs in it name nothing, and what is near them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any

import pyoxigraph as ox

from lenticel.tokens import named_iris

MOST = 3
READ = 20000  # subjects of a folder that are looked at


def unknown_terms(store: Any, query: str, base: str, prefixes: Mapping[str, str]) -> list[dict[str, Any]]:
    """The IRIs below our own that a query names and the store does not hold, each with the nearest that it does hold."""
    found: list[dict[str, Any]] = []
    own = tuple({base, prefixes.get("lt", base)})
    for iri in named_iris(query, base, prefixes):
        if len(found) == MOST or not iri.startswith(own) or iri in prefixes.values():
            continue
        try:
            node = ox.NamedNode(iri)
        except ValueError:
            continue
        if not _held(store, node):
            found.append({"iri": iri[:200], "nearest": _nearest(store, iri[:200])})
    return found


def _held(store: Any, node: Any) -> bool:
    patterns = ((node, None, None, None), (None, node, None, None), (None, None, node, None), (None, None, None, node))
    return any(next(iter(store.quads_for_pattern(*each)), None) is not None for each in patterns)


def _nearest(store: Any, iri: str) -> list[str]:
    """The nearest subjects of the same folder."""
    folder, _, word = iri.rpartition("/")
    query = f"SELECT DISTINCT ?s {{ ?s a ?c FILTER(STRSTARTS(STR(?s), '{_quoted(folder)}/')) }} LIMIT {READ}"
    rows: Iterable[Any] = store.query(query, use_default_graph_as_union=True)
    words = {row[0].value[len(folder) + 1 :]: row[0].value for row in rows}
    return [words[each] for each in get_close_matches(word, words, MOST, 0.5)]


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace("'", "\\'")
