"""The tables described for machines, as the W3C's "Metadata Vocabulary for Tabular Data" (https://www.w3.org/TR/tabular-metadata/) has it."""

from __future__ import annotations

from typing import Any

from lenticel.iris import IN_AXIOMS, RECORD_CLASSES, predicate
from lenticel.model import About
from lenticel.paths import path_of
from lenticel.schema import TABLES, Column, Table
from lenticel.tables import ID

FILE = "csv-metadata.json"
# What tells the rows of a table apart, where one column does not; a row of `lookalikes` is told by a list, which no key can hold.
KEYS = {
    "names": ("taxon", "name", "source"),
    "states": ("character", "id"),
    "statements": ("taxon", "character", "source", "frequency"),
    "resolutions": ("taxon", "character", "one", "other"),
    "acknowledged": ("one", "other", "character"),
    "recorded": ("taxon", "character", "source"),
    "reviews": ("statement", "wording", "date", "by"),
    "matches": ("taxon", "character", "state", "match"),
    "released": ("iri",),
}
DATATYPES: dict[str, Any] = {
    "id": {"base": "string", "format": f"^{ID.pattern}$"},
    "yesno": {"base": "boolean", "format": "yes|no"},
    "tristate": {"base": "boolean", "format": "yes|no"},
    "number": "decimal",
    "slack": {"base": "string", "format": r"^\d{1,4}(\.\d{1,4})?%?$"},
    "condition": {"base": "string", "format": r"^[a-z0-9-]+: [a-z0-9-]+(\|[a-z0-9-]+)*$"},
    "date": "date",
    "iri": "anyURI",
}
TERMS = {"taxa", "characters", "states"}  # what the ontology has as a class or property of its own


def table_metadata(about: About) -> dict[str, Any]:
    """The description of a folder that holds every table as one CSV file: each column's datatype and meaning, and what refers to what.

    The terms and properties have the IRIs of the ontology, so that a converter to RDF names things as it does.
    """
    return {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "dc:title": about.title,
        "dc:description": about.description,
        "dc:creator": about.creator,
        "dc:license": {"@id": about.licence},
        "dc:issued": {"@value": about.issued, "@type": "xsd:date"},
        "tables": [{"url": f"{each.name}.csv", "dc:description": each.row, "tableSchema": _schema(each, about.iri)} for each in TABLES.values()],
    }


def _schema(table: Table, iri: str) -> dict[str, Any]:
    """The columns and keys of a table.

    Only references that are one and always there are foreign keys: of an empty cell, or one that holds a list, the standard leaves it
    undefined, and validators differ. The others say in their description what they refer to.
    """
    key = KEYS.get(table.name, (table.key,) if table.key else ())
    found: dict[str, Any] = {"columns": [_column(table, each, iri) for each in table.columns]}
    foreign = [each for each in table.columns if each.kind == "ref" and each.required]
    if key:
        found["primaryKey"] = list(key)
    if table.name in TERMS or (table.name in RECORD_CLASSES and table.key == "id"):
        found["aboutUrl"] = _address(iri, table.name, *key)
    if foreign:
        found["foreignKeys"] = [
            {"columnReference": [each.name], "reference": {"resource": f"{each.refers}.csv", "columnReference": [TABLES[each.refers].key]}} for each in foreign
        ]
    return found


def _address(iri: str, table: str, *columns: str) -> str:
    """The IRIs of a table's rows, as a template of these columns."""
    return iri + path_of(table, "x").removesuffix("x") + "/".join(f"{{{each}}}" for each in columns)


def _column(table: Table, column: Column, iri: str) -> dict[str, Any]:
    found: dict[str, Any] = {"name": column.name, "titles": column.name, "dc:description": _meaning(column), "datatype": _datatype(column)}
    if column.required:
        found["required"] = True
    elif column.kind == "yesno":
        found["default"] = "no"
    if column.kind in ("list", "refs"):
        found["separator"] = "|"
    if (table.name in TERMS or table.name in RECORD_CLASSES) and (table.name, column.name) not in IN_AXIOMS:
        found["propertyUrl"] = str(predicate(table.name, column.name))
    if column.kind == "ref":
        found["valueUrl"] = _address(iri, column.refers, column.name)
    return found


def _meaning(column: Column) -> str:
    return column.meaning + (f" Refers to `{TABLES[column.refers].key}` in {column.refers}.csv." if column.refers else "")


def _datatype(column: Column) -> Any:
    if column.choices:
        return {"base": "string", "format": f"^({'|'.join(column.choices)})$"}
    return DATATYPES.get(column.kind, "string")
