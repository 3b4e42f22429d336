"""What the fields of the answers mean on the web: for each kind of answer a JSON-LD context, made from its types.

A context adds nothing to an answer. It says which property each field is, and of which things' identifiers a field is made. Columns of the tables are the
properties of the vocabulary, as in the ontology; all else is a term of the answers, named after the kind and its field.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints
from urllib.parse import urlsplit

from lenticel.cite import Citation
from lenticel.context import terms
from lenticel.languages import LabelledTaxon
from lenticel.model import Caution, Character, Lookalike, Name, Resolution, Source, State, Statement, Taxon
from lenticel.paths import VOCABULARY, path_of

ANSWER = "https://w3id.org/lenticel/answer#"
FOLDER = "context/v1/"  # below the knowledge's IRI
XSD = "http://www.w3.org/2001/XMLSchema#"
DATATYPES = {float: f"{XSD}double", Decimal: f"{XSD}decimal"}
RECORDS: dict[type, str] = {
    Taxon: "taxa", LabelledTaxon: "taxa", Character: "characters", State: "states", Source: "sources", Statement: "statements", Citation: "statements",
    Caution: "cautions", Lookalike: "lookalikes", Name: "names", Resolution: "resolutions",
}  # fmt: skip
SHARED = ("taxon", "character", "source")  # mean the same in an answer as in a table

# Whose identifiers a field holds. Not here are fields that may be empty (`parent`, `condition`): an empty reference would be the IRI of the folder.
REFERS = {
    **dict.fromkeys(("taxon", "taxa", "lineage", "hybrid_parents", "also", "group", "remaining"), "taxa"),
    **dict.fromkeys(("pair", "pairs", "inseparable", "undecided", "unseparated", "near", "consistent"), "taxa"),
    **dict.fromkeys(("character", "elsewhere", "ordering", "waiting", "rare", "shared", "told_by"), "characters"),
    **dict.fromkeys(("statements", "supporting", "against"), "statements"),
    **dict.fromkeys(("source", "contrasted"), "sources"),
    **dict.fromkeys(("cell", "cells"), "cells"),
    "named": "lookalikes",
}
EXCEPT = {
    ("Resolution", "one"): "sources", ("Resolution", "other"): "sources",
    ("Disagreement", "one"): "statements", ("Disagreement", "other"): "statements", ("JudgedClaim", "other"): "statements",
    ("PracticeQuestion", "one"): "taxa", ("PracticeQuestion", "other"): "taxa",
    ("Gap", "undecided"): "", ("Lesson", "shared"): "",
}  # fmt: skip
# The label of a state stands there without its character, that of a taxon with a name.
WORDED = {
    ("State", "label"): f"{VOCABULARY}word",
    ("LabelledTaxon", "label"): f"{ANSWER}Taxon.label",
    ("Character", "winter_if"): f"{ANSWER}Character.winter_if",  # in an answer a list, in the ontology a text
}
ALIKE: dict[type, type] = {LabelledTaxon: Taxon}  # kinds whose fields mean what those of an earlier one meant
EARLIER: tuple[type, ...] = (Taxon,)  # kinds of which answers were, so that their contexts stay


@dataclass(frozen=True, slots=True)
class Shape:
    """What a field holds in the end, and how: alone, in an array, in an object by key, or as plain JSON that no property stands for."""

    inner: Any
    held: str = ""


def context_of(kind: Any, iri: str) -> dict[str, Any]:
    """The terms of a kind of answer.

    Args:
        kind: a dataclass; or a dict, whose keys nobody knows beforehand.
        iri: the knowledge's own IRI, below which the identifiers in the answer stand.
    """
    if not is_dataclass(kind):
        return {"@version": 1.1, "@vocab": ANSWER}
    return {"@version": 1.1, **_terms(kind, iri)}


def address_of_context(kind: Any, iri: str) -> str:
    """Where a service answers for the context of a kind of answer: the path of its IRI."""
    return f"{urlsplit(iri).path}{FOLDER}{kind.__name__}"


def _terms(kind: Any, iri: str) -> dict[str, Any]:
    return {name: _term(kind, name, _shape(hint), iri) for name, hint in _hints(kind)}


@cache
def _hints(kind: Any) -> list[tuple[str, Any]]:
    hints = get_type_hints(kind)
    return [(each.name, hints[each.name]) for each in fields(kind)]


def _term(kind: type, name: str, shape: Shape, iri: str) -> dict[str, Any]:
    term: dict[str, Any] = {"@id": meaning(kind, name, nested=is_dataclass(shape.inner))}
    if shape.held == "json":
        return {**term, "@type": "@json"}
    if shape.held == "key":
        term |= {"@container": "@index", "@index": f"{ANSWER}key"}
    elif shape.held == "array":
        term["@container"] = "@set" if kind in RECORDS and shape.inner is not tuple else "@list"  # a column with several values has no order
    table = _refers(kind, name)
    if is_dataclass(shape.inner):
        term["@context"] = _terms(shape.inner, iri)
    elif shape.inner is str and table:
        term |= {"@type": "@id", "@context": {"@base": iri + path_of(table, "")}}
    elif shape.inner in DATATYPES:
        term["@type"] = DATATYPES[shape.inner]
    return term


def meaning(kind: type, name: str, *, nested: bool = False) -> str:
    """The IRI of the property that a field is."""
    column = terms().get(name)
    linked = isinstance(column, dict) and column["@type"] == "@id"
    if (kind.__name__, name) in WORDED:
        return WORDED[kind.__name__, name]
    if column is None or nested or not (kind in RECORDS or name in SHARED) or (linked and not _refers(kind, name)):
        return f"{ANSWER}{ALIKE.get(kind, kind).__name__}.{name}"
    prefix, _, word = str(column["@id"] if isinstance(column, dict) else column).partition(":")
    return str(terms()[prefix]) + word


def _refers(kind: type, name: str) -> str:
    return EXCEPT.get((kind.__name__, name), REFERS.get(name, ""))


def _shape(hint: Any) -> Shape:
    """How a field is held, from its type."""
    parts = get_args(hint)
    if get_origin(hint) in (Union, UnionType):
        return _shape(next(each for each in parts if each is not NoneType))
    if get_origin(hint) is dict:
        return Shape(parts[1], "key") if is_dataclass(parts[1]) else Shape(dict, "json")
    if get_origin(hint) is not tuple:
        return Shape(hint)
    kinds = {each for each in parts if each is not Ellipsis}
    return Shape(_shape(kinds.pop()).inner if len(kinds) == 1 else tuple, "array")


def kinds_in(kind: Any) -> Iterator[type]:
    """A kind of answer, and every kind that its fields hold, each as often as it stands there."""
    if is_dataclass(kind) and isinstance(kind, type):
        yield kind
        for _, hint in _hints(kind):
            yield from kinds_in(_shape(hint).inner)


def with_iris(told: Any, kind: Any, iri: str) -> Any:
    """An answer in which every record carries the IRI that it has in the ontology.

    Args:
        told: the JSON of an answer, or of a part of one.
        kind: the kind of it; of its items, if it is an array.
        iri: the knowledge's own IRI.
    """
    if not is_dataclass(kind) or told is None:
        return told
    if isinstance(told, list):
        return [with_iris(each, kind, iri) for each in told]
    found: dict[str, Any] = {}
    if kind in RECORDS:
        found["@id"] = iri + path_of(RECORDS[kind], _key(kind(**told)))
    for name, hint in _hints(kind):
        shape = _shape(hint)
        if shape.held == "key":
            found[name] = {word: with_iris(each, shape.inner, iri) for word, each in told[name].items()}
        else:
            found[name] = with_iris(told[name], shape.inner, iri)
    return found


def _key(record: Any) -> str:
    """The key of a record in its table; a citation writes out the statement that goes by the same words."""
    if isinstance(record, Citation):
        return ".".join(filter(None, (record.taxon, record.character, record.source, record.frequency)))
    return str(record.key if isinstance(record, State) else record.id)


@cache
def kind_of(model: Any) -> Any:
    """The kind of the answers of an operation, or of each of them if it answers with an array, from its response model."""
    return get_args(model)[0] if get_origin(model) is list else dict if get_origin(model) is dict else model


def vocabulary_of(kinds: Iterable[Any]) -> dict[str, Any]:
    """The terms of the answers as JSON-LD: each kind as a class, in the words of its docstring, each field of its own as a property of it."""
    found: dict[str, dict[str, Any]] = {}
    for kind in (each for model in kinds for each in kinds_in(model)):
        about = f"{ANSWER}{kind.__name__}"
        found[about] = {"@id": about, "@type": "rdfs:Class", "label": kind.__name__, "comment": " ".join(str(kind.__doc__).split())}
        for name, hint in _hints(kind):
            term = meaning(kind, name, nested=is_dataclass(_shape(hint).inner))
            if term.startswith(ANSWER):
                found[term] = {"@id": term, "@type": "rdf:Property", "label": name.replace("_", " "), "domain": about}
    rdfs = terms()["rdfs"]
    words = {"rdf": terms()["rdf"], "rdfs": rdfs, "label": f"{rdfs}label", "comment": f"{rdfs}comment", "domain": {"@id": f"{rdfs}domain", "@type": "@id"}}
    return {"@context": words, "@graph": [found[each] for each in sorted(found)]}
