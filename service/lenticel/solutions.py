"""Rows and truth values in the four result formats of SPARQL 1.1, row by row, so that the rows can be counted as they come.

JSON and XML: "SPARQL 1.1 Query Results JSON Format", "SPARQL Query Results XML Format (Second Edition)"; CSV and TSV: "SPARQL 1.1 Query
Results CSV and TSV Formats" (W3C Recommendations, 21 March 2013).
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import pyoxigraph as ox

STRING = "http://www.w3.org/2001/XMLSchema#string"
LANGUAGE_STRING = "http://www.w3.org/1999/02/22-rdf-syntax-ns#langString"
XML_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<sparql xmlns="http://www.w3.org/2005/sparql-results#">'
NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")  # what XML 1.0 has no form for

Row = Sequence[Any]
Writer = Callable[[list[str], Iterable[Row]], Iterable[str]]


def as_data(term: Any) -> dict[str, Any]:
    """A term as the JSON format has it."""
    if isinstance(term, ox.NamedNode):
        return {"type": "uri", "value": term.value}
    if isinstance(term, ox.BlankNode):
        return {"type": "bnode", "value": term.value}
    if isinstance(term, ox.Triple):
        return {"type": "triple", "value": {"subject": as_data(term.subject), "predicate": as_data(term.predicate), "object": as_data(term.object)}}
    found = {"type": "literal", "value": term.value}
    if term.language:
        found["xml:lang"] = term.language
    elif term.datatype.value != STRING:
        found["datatype"] = term.datatype.value
    return found


def json_rows(names: list[str], rows: Iterable[Row]) -> Iterable[str]:
    """The JSON format."""
    yield f'{{"head":{{"vars":{_json(names)}}},"results":{{"bindings":['
    comma = ""
    for row in rows:
        yield comma + _json({name: as_data(term) for name, term in zip(names, row, strict=True) if term is not None})
        comma = ",\n"
    yield "]}}\n"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def xml_rows(names: list[str], rows: Iterable[Row]) -> Iterable[str]:
    """The XML format."""
    yield XML_HEAD + "<head>" + "".join(f"<variable name={quoteattr(name)}/>" for name in names) + "</head><results>\n"
    for row in rows:
        yield "<result>"
        for name, term in zip(names, row, strict=True):
            if term is not None:
                yield f"<binding name={quoteattr(name)}>{_xml(as_data(term))}</binding>"
        yield "</result>\n"
    yield "</results></sparql>\n"


def _xml(term: dict[str, Any]) -> str:
    kind, value = term["type"], term["value"]
    if kind == "triple":
        return "<triple>" + "".join(f"<{part}>{_xml(value[part])}</{part}>" for part in ("subject", "predicate", "object")) + "</triple>"
    more = "".join(f" {name}={quoteattr(term[name])}" for name in ("xml:lang", "datatype") if name in term)
    return f"<{kind}{more}>{escape(NOT_XML.sub(chr(0xFFFD), value), {chr(13): '&#13;'})}</{kind}>"


def csv_rows(names: list[str], rows: Iterable[Row]) -> Iterable[str]:
    """The CSV format: values alone."""
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")

    def line(values: list[str]) -> str:
        held.seek(0)
        held.truncate()
        if values == [""]:
            return "\r\n"  # where the module would write a pair of quotation marks
        writer.writerow(values)
        return held.getvalue()

    yield line(names)
    for row in rows:
        yield line(["" if term is None else f"_:{term.value}" if isinstance(term, ox.BlankNode) else _plain(term) for term in row])


def _plain(term: Any) -> str:
    return str(term) if isinstance(term, ox.Triple) else str(term.value)


def tsv_rows(names: list[str], rows: Iterable[Row]) -> Iterable[str]:
    """The TSV format: terms as Turtle has them."""
    yield "\t".join(f"?{name}" for name in names) + "\n"
    for row in rows:
        yield "\t".join("" if term is None else str(term) for term in row) + "\n"


ROWS: dict[str, Writer] = {"json": json_rows, "xml": xml_rows, "csv": csv_rows, "tsv": tsv_rows}
TRUTHS: dict[str, Callable[[str], str]] = {
    "json": lambda word: f'{{"head":{{}},"boolean":{word}}}\n',
    "xml": lambda word: f"{XML_HEAD}<head></head><boolean>{word}</boolean></sparql>\n",
    "csv": lambda word: f"{word}\r\n",
    "tsv": lambda word: f"{word}\n",
}
