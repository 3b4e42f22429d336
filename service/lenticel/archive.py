"""Darwin Core archives: the taxa as core, the statements as measurements of them, and a metafile that says what each column holds.

By the Darwin Core text guide (TDWG, http://rs.tdwg.org/dwc/terms/guides/text/), sections 2.1 to 2.4.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator
from xml.etree import ElementTree

from lenticel.errors import BadFile
from lenticel.formats import TABLES_NOT_HELD, Grid, NotHeld, measurements, rows_not_held
from lenticel.iris import Namer
from lenticel.model import About, Knowledge
from lenticel.sheets import csv_bytes

META, TAXA, MEASUREMENTS = "meta.xml", "taxa.csv", "measurements.csv"
_TEXT = "http://rs.tdwg.org/dwc/text/"
_DWC = "http://rs.tdwg.org/dwc/terms/"
_DCTERMS = "http://purl.org/dc/terms/"
_OF_DCTERMS = {"references", "bibliographicCitation", "license"}
_TAXON = ("taxonID", "parentNameUsageID", "scientificName", "scientificNameAuthorship", "taxonRank", "vernacularName", "taxonRemarks")
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # of the form of ZIP; the same statements give the same bytes


def archive(knowledge: Knowledge) -> tuple[bytes, list[NotHeld]]:
    """The archive as a ZIP file, and what it cannot hold."""
    grid, _ = measurements(knowledge)
    taxa = _taxa(knowledge)
    files = {META: _meta(knowledge.about, taxa[0], grid[0]), TAXA: csv_bytes(taxa), MEASUREMENTS: csv_bytes(grid)}
    room = io.BytesIO()
    with zipfile.ZipFile(room, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in files.items():
            packed.writestr(zipfile.ZipInfo(name, _FIRST_DAY), content, zipfile.ZIP_DEFLATED)
    return room.getvalue(), [*_parts_not_held(knowledge), *rows_not_held(knowledge, [each for each in TABLES_NOT_HELD if each != "taxa"])]


def _taxa(knowledge: Knowledge) -> Grid:
    name = Namer(knowledge.about.iri)
    rows = (
        [
            str(name.taxon(key)),
            str(name.taxon(each.parent)) if each.parent else "",
            each.scientific_name,
            each.authorship,
            each.rank,
            each.common_name,
            each.note,
        ]
        for key, each in knowledge.taxa.items()
    )
    return [list(_TAXON), *rows]


def _parts_not_held(knowledge: Knowledge) -> Iterator[NotHeld]:
    for key, each in knowledge.taxa.items():
        for part in ("hybrid_parents", "status"):
            if getattr(each, part):
                yield NotHeld("taxa", key, part, "the core has no term for it")


def _meta(about: About, taxa: list[str], statements: list[str]) -> bytes:
    """The metafile; licence and title stand in it as constants that hold for every row of the core."""
    ElementTree.register_namespace("", _TEXT)
    root = ElementTree.Element(f"{{{_TEXT}}}archive")
    core = _file(root, "core", "Taxon", TAXA)
    ElementTree.SubElement(core, f"{{{_TEXT}}}id", index="0")
    _fields(core, taxa)
    for word, text in (("license", about.licence), ("datasetName", f"{about.title}, version {about.version}")):
        ElementTree.SubElement(core, f"{{{_TEXT}}}field", term=_term(word), default=text)
    extension = _file(root, "extension", "MeasurementOrFact", MEASUREMENTS)
    ElementTree.SubElement(extension, f"{{{_TEXT}}}coreid", index=str(statements.index("taxonID")))
    _fields(extension, statements)
    ElementTree.indent(root)
    return bytes(ElementTree.tostring(root, encoding="UTF-8", xml_declaration=True)) + b"\n"


def _file(root: ElementTree.Element, kind: str, row_type: str, location: str) -> ElementTree.Element:
    form = {"encoding": "UTF-8", "fieldsTerminatedBy": ",", "fieldsEnclosedBy": '"', "linesTerminatedBy": "\\n", "ignoreHeaderLines": "1"}
    found = ElementTree.SubElement(root, f"{{{_TEXT}}}{kind}", {"rowType": _DWC + row_type, **form})
    ElementTree.SubElement(ElementTree.SubElement(found, f"{{{_TEXT}}}files"), f"{{{_TEXT}}}location").text = location
    return found


def _fields(file: ElementTree.Element, words: list[str]) -> None:
    for place, word in enumerate(words):
        ElementTree.SubElement(file, f"{{{_TEXT}}}field", index=str(place), term=_term(word))


def _term(word: str) -> str:
    return (_DCTERMS if word in _OF_DCTERMS else _DWC) + word


def measurements_in(data: bytes, label: str) -> Grid:
    """The measurements of an archive, by its own metafile, as a table whose header names the terms.

    Raises:
        BadFile: it is no ZIP file with a metafile, or describes no measurements of taxa.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            root = ElementTree.fromstring(packed.read(META))
            described = {each.get("rowType"): each for each in root}.get(f"{_DWC}MeasurementOrFact")
            if described is None:
                raise BadFile(f"The metafile of {label!r} describes no measurements.", "Give it an extension of the row type MeasurementOrFact.")
            text = packed.read(described.findtext(f".//{{{_TEXT}}}location") or "").decode(described.get("encoding", "UTF-8"))
    except (zipfile.BadZipFile, KeyError, ElementTree.ParseError, UnicodeDecodeError, LookupError) as error:
        raise BadFile(f"{label!r} is no Darwin Core archive: {str(error)[:100]}.", f"Give a ZIP file with {META} and the files that it names.") from None
    return _grid(described, text, label)


def _grid(described: ElementTree.Element, text: str, label: str) -> Grid:
    columns = {each.get("index"): each.get("term", "").rsplit("/", 1)[-1] for each in described.iter(f"{{{_TEXT}}}field") if each.get("index")}
    columns = {**{each.get("index"): "taxonID" for each in described.iter(f"{{{_TEXT}}}coreid")}, **columns}
    mark, quote = described.get("fieldsTerminatedBy", ",").replace("\\t", "\t"), described.get("fieldsEnclosedBy", '"')
    try:
        terms = {int(place): term for place, term in columns.items() if place}
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, quotechar=quote or None, quoting=csv.QUOTE_MINIMAL if quote else csv.QUOTE_NONE))
        rows = rows[int(described.get("ignoreHeaderLines", "0")) :]
    except (csv.Error, TypeError, ValueError) as error:
        raise BadFile(f"The measurements of {label!r} are not as its metafile says: {error}.", "Mend the one or the other.") from None
    return [list(terms.values()), *([row[place] if place < len(row) else "" for place in terms] for row in rows)]
