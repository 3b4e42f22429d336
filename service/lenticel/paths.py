"""Where each thing stands below a knowledge's own IRI, and what stands at a path: the part of naming that needs no RDF."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import quote, urlsplit

from lenticel.model import Knowledge

VOCABULARY = "https://w3id.org/lenticel/vocabulary/"
FOLDERS = {"taxa": "taxon", "matches": "match"}  # the other tables' folders are their names in the singular
TIERS = ("wild", "typical")
SINGLE = ("ontology", "dataset", "service")  # of which there is one each
DERIVED = ("pairs", "traits", *SINGLE)  # of which the ontology says nothing


@dataclass(frozen=True, slots=True)
class Place:
    """What stands at a path: a row of a table, or a part of what is written of it (`wild`, `typical`, `value`).

    What is no row counts as a table of its own: `cells`, `ontology` (whose parts are the graphs of a dataset), `dataset`, `service`, and the inferred
    `pairs` and `traits`.
    """

    table: str
    key: str
    part: str = ""


def path_of(table: str, key: str, part: str = "") -> str:
    """The path of a row below the knowledge's IRI, quoted as an IRI has it."""
    if table in SINGLE:
        return f"{table}/{part}" if part else table
    folder = FOLDERS.get(table, table.removesuffix("s"))
    return f"{folder}/{quote(key.replace('.', '/') if table == 'states' else key, safe='/-.')}{'/' + part if part else ''}"


def derived(path: str) -> bool:
    """Whether a path lies where something stands that the ontology says nothing of."""
    return path.partition("/")[0] in {path_of(table, "").partition("/")[0] for table in DERIVED}


def address_of(iri: str, table: str, key: str, part: str = "") -> str:
    """Where a service answers for a row: the path of its IRI."""
    return urlsplit(iri).path + path_of(table, key, part)


def places_of(known: Knowledge, cells: Iterable[str]) -> dict[str, Place]:
    """Every path below the knowledge's IRI that names something, as it is quoted there.

    Args:
        known: the knowledge.
        cells: the ids of its cells.
    """
    found: dict[str, Place] = {"": Place("ontology", ""), "ontology": Place("ontology", ""), f"ontology/{known.about.version}": Place("ontology", "")}

    def put(table: str, keys: Iterable[str], part: str = "") -> None:
        found.update((path_of(table, key, part), Place(table, key, part)) for key in keys)

    for table in ("taxa", "characters", "states", "statements", "sources", "lookalikes", "cautions", "resolutions", "recorded", "reviews", "matches"):
        put(table, getattr(known, table))
    put("names", (each.id for each in known.names))
    for tier in TIERS:
        put("taxa", known.taxa, tier)
    put("characters", (key for key, each in known.characters.items() if each.kind == "states" and not each.broader), "value")
    put("cells", cells)
    return found
