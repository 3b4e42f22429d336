"""The tables that a curator edits: every table, every column, what it means and what it may hold.

The check reads this, and the column guide is printed from it, so the two cannot disagree.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from lenticel import curation, model


def condition_in(cell: str) -> tuple[str, tuple[str, ...]] | None:
    """The condition that a cell states as `character: state|state`; None if it states none."""
    found = re.fullmatch(r"([a-z0-9-]+): ([a-z0-9-]+(?:\|[a-z0-9-]+)*)", cell)
    return (found[1], tuple(sorted(set(found[2].split("|"))))) if found else None  # the order of states says nothing, and the ontology keeps none


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    `kind` is one of: id, text, choice, list, ref, refs, yesno, tristate, number, slack, condition, date, iri.
    `choices` holds the words for choice and list; `refers` the table that ref and refs point into.
    """

    name: str
    kind: str
    meaning: str
    example: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    refers: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its file name, what a row is, the record that a row becomes, and its columns in order."""

    name: str
    row: str
    record: type[Any]
    key: str
    columns: tuple[Column, ...]

    def column(self, name: str) -> Column:
        """The column of that name."""
        return next(each for each in self.columns if each.name == name)


def _id(meaning: str, example: str) -> Column:
    return Column("id", "id", f"{meaning} Lower-case letters, digits and hyphens; never changed once released.", example, required=True)


_SOURCE = Column("source", "ref", "Who says so.", "otis-1915", required=True, refers="sources")
_LOCATOR = Column("locator", "text", "Where in the source: page, section or figure.", "p. 187", required=True)
_NOTE = Column("note", "text", "Anything a reader of the row should know.")
_TAXON = Column("taxon", "ref", "The taxon that the row is about.", "acer-rubrum", required=True, refers="taxa")
_SYNONYMS = Column("synonyms", "list", "Other words that field people use, joined by `|`.", "toothed edge|saw-toothed")

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        Table(
            "about",
            "The one row says what this body of knowledge is.",
            model.About,
            "id",
            (
                _id("A short name.", "lenticel"),
                Column("title", "text", "Its title.", "Trees of the lakes", required=True),
                Column("description", "text", "Its scope, in a sentence or two.", required=True),
                Column("iri", "iri", "The IRI below which its terms live, ending in `/`.", "https://w3id.org/lenticel/", required=True),
                Column("licence", "iri", "The IRI of its licence.", "https://creativecommons.org/licenses/by/4.0/", required=True),
                Column("creator", "text", "Who answers for it.", required=True),
                Column("version", "date", "The date of this version, which becomes part of the version IRI.", "2026-11-25", required=True),
                Column("created", "date", "The date of the first version.", "2026-11-25", required=True),
                Column("issued", "date", "The date of release.", "2026-11-25", required=True),
                Column("prior", "date", "The version before this one; empty for the first.", "2026-11-25"),
            ),
        ),
        Table(
            "sources",
            "A row is a source: a publication, or `memory` or `common-practice` where there is none.",
            model.Source,
            "id",
            (
                _id("The key by which rows cite it.", "otis-1915"),
                Column("kind", "choice", "What it is.", "book", required=True, choices=model.SOURCE_KINDS),
                Column("authors", "text", "Who wrote it: `Surname, Given; Surname, Given`.", "Otis, Charles Herbert"),
                Column("year", "text", "The year of publication.", "1915"),
                Column("title", "text", "Its title.", required=True),
                Column("container", "text", "Publisher, journal, series or edition."),
                Column("url", "text", "An address where it can be read."),
                _NOTE,
            ),
        ),
        Table(
            "taxa",
            "A row is a taxon: a species, a hybrid or a rank above them.",
            model.Taxon,
            "id",
            (
                _id("The taxon's identifier.", "acer-rubrum"),
                Column("rank", "choice", "Its rank.", "species", required=True, choices=model.RANKS),
                Column("parent", "ref", "The taxon that it belongs to; what is said of that one holds for this one.", "acer", refers="taxa"),
                Column("scientific_name", "text", "The accepted name, without author.", "Acer rubrum", required=True),
                Column("authorship", "text", "The author of the name.", "L."),
                Column("common_name", "text", "The name that most people of the region use.", "red maple"),
                Column("hybrid_parents", "refs", "For a hybrid, its parents. They are told, not reasoned with.", "acer-rubrum|acer-saccharinum", refers="taxa"),
                Column("status", "choice", "How it comes to grow in the region.", "native", choices=("native", "introduced")),
                _NOTE,
            ),
        ),
        Table(
            "names",
            "A row is another name of a taxon, so that old and local names still find it.",
            model.Name,
            "",
            (
                _TAXON,
                Column("name", "text", "The other name.", "Acer dasycarpum", required=True),
                Column("kind", "choice", "A scientific synonym or a common name.", "synonym", required=True, choices=("synonym", "common")),
                Column("language", "text", "Language code: `la` for scientific names.", "en", required=True),
                _SOURCE,
                _LOCATOR,
            ),
        ),
        Table(
            "characters",
            "A row is a character: one property of one organ, at one stage where that matters.",
            model.Character,
            "id",
            (
                _id("The character's identifier.", "leaf-margin"),
                Column("label", "text", "Its name in plain words, unique.", "margin of the leaf", required=True),
                Column("kind", "choice", "Whether it has states, or is measured, counted, or a span of months.", "states", required=True, choices=model.KINDS),
                Column(
                    "broader",
                    "ref",
                    "The character of which this one is a special case (a season, stage or sex). An observation of "
                    "this one is bound by what is said of that one, never the other way round; both share their states.",
                    "leaf-colour",
                    refers="characters",
                ),
                Column("organ", "text", "The organ.", "leaf", required=True),
                Column("stage", "text", "The stage of the organ or plant.", "mature"),
                Column("sex", "choice", "The sex of the flower or plant, where that matters.", "", choices=("female", "male")),
                Column(
                    "seasons",
                    "list",
                    "The seasons in which it can be seen; a flower or fruit, but for winter, when the usual months that are said of the taxon allow it.",
                    "spring|summer",
                    required=True,
                    choices=model.SEASONS,
                ),
                Column("needs", "text", "What is needed to see it.", "hand lens", required=True),
                Column(
                    "force",
                    "choice",
                    "Diagnostic characters exclude; circumstantial ones (site, region) only order, unless the plant is known to be wild.",
                    "diagnostic",
                    required=True,
                    choices=model.FORCES,
                ),
                Column("applies_if", "condition", "`character: state|state`: only plants that show one of these can show this one.", "leaf-division: compound"),
                Column(
                    "winter_if",
                    "condition",
                    "`character: state|state`: in winter only plants that show one of these have it to look at; the others have shed it. Nothing is excluded.",
                    "leaf-persistence: evergreen",
                ),
                Column("unit", "text", "UCUM code of the one unit of the tables; `1` for counts, `mo` for months.", "cm"),
                Column("plausible_min", "number", "A figure below this is taken for a slip.", "0.2"),
                Column("plausible_max", "number", "A figure above this is taken for a slip.", "100"),
                Column(
                    "graded",
                    "yesno",
                    "`yes` if the order of the states in their table is an order of degree; one step off is then atypical, not a contradiction.",
                ),
                Column(
                    "complete",
                    "yesno",
                    "`yes` if every plant that has the character shows one of the top states, so that denying all but one affirms that one.",
                ),
                Column(
                    "exhaustive",
                    "yesno",
                    "`yes` if a statement normally tells all that the plant shows; `no` if it only says what is typical, which orders and never excludes.",
                    required=True,
                ),
                Column(
                    "slack_low",
                    "slack",
                    "How far below a bare lower bound a value may lie before it contradicts: a share such as `30%`, or a step in the unit.",
                    "30%",
                ),
                Column("slack_high", "slack", "The same above a bare upper bound.", "30%"),
                Column("slack_extreme", "slack", "The same beyond a figure printed in brackets.", "10%"),
                Column("slack_reason", "text", "Why this much.", "Shaded leaves are larger."),
                _SYNONYMS,
                Column("definition", "text", "What it is and how to look, in our own words.", required=True),
            ),
        ),
        Table(
            "states",
            "A row is a state of a character. For a graded character the order of the rows is the order of degree.",
            model.State,
            "",
            (
                Column("character", "ref", "The character, the broadest one where there are special cases.", "leaf-margin", required=True, refers="characters"),
                _id("The state's identifier, unique within its character.", "doubly-serrate"),
                Column("label", "text", "Its name in plain words.", "doubly serrate", required=True),
                Column("parent", "text", "The state of the same character of which this one is a kind.", "serrate"),
                Column("complete", "yesno", "`yes` if the states below this one are all there are."),
                Column(
                    "confusable_with",
                    "list",
                    "States of the same character that observers take this one for, or the other way round; such a slip is atypical, not a contradiction.",
                    "crenate",
                ),
                _SYNONYMS,
                Column("definition", "text", "How it is told, in our own words.", required=True),
            ),
        ),
        Table(
            "statements",
            "A row is a statement: a source says that plants of this taxon may show these states, or this range.",
            model.Statement,
            "",
            (
                _TAXON,
                Column("character", "ref", "The character.", "leaf-lobe-count", required=True, refers="characters"),
                Column(
                    "value",
                    "text",
                    "States joined by `|`, or a range as floras print it in the character's unit: `(3-)5-12(-15) cm`, `<=30 m`; months `4-5`, `11-2`.",
                    "(3-)5",
                    required=True,
                ),
                Column(
                    "frequency",
                    "choice",
                    "How often; empty if stated as a rule. `cultivar`: only in garden forms. `rarely` and `cultivar` keep a plant in, as atypical.",
                    "rarely",
                    choices=model.FREQUENCIES[1:],
                ),
                Column("exhaustive", "tristate", "`yes` or `no` where this statement differs from its character.", ""),
                _SOURCE,
                _LOCATOR,
                Column("printed", "text", "The figure or the few deciding words as the source prints them.", "3-4 in."),
                _NOTE,
            ),
        ),
        Table(
            "lookalikes",
            "A row is a group of taxa that a source, common practice or memory says are mistaken for each other or told apart so.",
            model.Lookalike,
            "",
            (
                Column("taxa", "refs", "The taxa, joined by `|`.", "acer-negundo|toxicodendron-radicans", required=True, refers="taxa"),
                Column("reason", "text", "Why they are mixed up, in our own words.", required=True),
                Column(
                    "told_by",
                    "refs",
                    "The characters by which the source tells them apart, joined by `|`; empty if it names none that is held.",
                    "leaf-arrangement|leaflet-count",
                    refers="characters",
                ),
                Column("seasons", "list", "When the trap is set.", "spring|summer", required=True, choices=model.SEASONS),
                Column("hazard", "ref", "The caution that applies where a mix-up can hurt.", "poison-ivy-skin", refers="cautions"),
                _SOURCE,
                _LOCATOR,
                _NOTE,
            ),
        ),
        Table(
            "cautions",
            "A row is a way in which a plant can hurt.",
            model.Caution,
            "id",
            (
                _id("The caution's identifier.", "poison-ivy-skin"),
                _TAXON,
                Column("kind", "choice", "What is at stake.", "skin", required=True, choices=("breathing", "eating", "felling", "livestock", "skin")),
                Column("who", "text", "Who can be hurt.", "people", required=True),
                Column("harm", "text", "What can happen.", required=True),
                Column("advice", "text", "What to do. It never says that anything is safe.", required=True),
                _SOURCE,
                _LOCATOR,
            ),
        ),
        Table(
            "resolutions",
            "A row says how a disagreement of two sources is understood. Both statements stand; a row whose sources no longer disagree is a fault.",
            model.Resolution,
            "",
            (
                _TAXON,
                Column("character", "ref", "The character.", "leaf-blade-length", required=True, refers="characters"),
                Column("one", "ref", "One of the two sources.", "otis-1915", required=True, refers="sources"),
                Column("other", "ref", "The other.", "fna", required=True, refers="sources"),
                Column("reason", "choice", "What lies behind it.", "misprint", required=True, choices=model.REASONS),
                Column("text", "text", "The reasoning, in a sentence or two.", required=True),
                Column("by", "text", "Who says so.", required=True),
                Column("date", "date", "When.", "2026-11-25", required=True),
            ),
        ),
        Table(
            "recorded",
            "A row says who wrote statements into the tables, and when: those on a taxon, or fewer. The row that fits a statement most closely counts. "
            "`lenticel recorded` adds the rows for statements that are new.",
            curation.Recorded,
            "",
            (
                _TAXON,
                Column("character", "ref", "Only statements on this character; empty: on any.", "leaf-blade-length", refers="characters"),
                Column("source", "ref", "Only statements from this source; empty: from any.", "otis-1915", refers="sources"),
                Column("by", "text", "Who wrote them.", required=True),
                Column("date", "date", "When they came into the tables.", "2026-11-25", required=True),
            ),
        ),
        Table(
            "reviews",
            "A row says that somebody held a statement against its source. It stays when the statement changes, and then no longer counts for it. "
            "`lenticel review sheet` prints statements to read, `lenticel review take` writes the rows.",
            curation.Review,
            "",
            (
                Column(
                    "statement",
                    "text",
                    "The statement: taxon, character, source and, if it has one, frequency, joined by dots.",
                    "acer-rubrum.leaf-blade-length.otis-1915",
                    required=True,
                ),
                Column("wording", "text", "The fingerprint of the statement as it was read, from the sheet.", "w-0123456789ab", required=True),
                Column("verdict", "choice", "Whether the source says so.", "right", required=True, choices=curation.VERDICTS),
                Column("correction", "text", "The value that the source has instead.", "5-12 cm"),
                Column("note", "text", "What the reader found; due unless the verdict is `right` or a correction is given."),
                Column("by", "text", "Who read it.", required=True),
                Column("date", "date", "When.", "2026-11-25", required=True),
            ),
        ),
        Table(
            "matches",
            "A row says which term of another vocabulary means the same as a taxon, a character or a state, or nearly so, in the relations of SKOS. "
            "Only what was looked up there; `exactMatch` only where both definitions come to the same.",
            model.Match,
            "",
            (
                Column("taxon", "ref", "The taxon that is matched, if it is one.", "acer-rubrum", refers="taxa"),
                Column("character", "ref", "The character that is matched, or whose state is.", "leaf-base", refers="characters"),
                Column("state", "text", "The state of the character that is matched; empty: the character itself.", "cordate"),
                Column("relation", "choice", "What the term there is to the one here.", "broadMatch", required=True, choices=model.MATCHES),
                Column("match", "iri", "The IRI of the term there.", "http://purl.obolibrary.org/obo/FLOPO_0900069", required=True),
                Column("called", "text", "What it is called there.", "leaf base cordate", required=True),
                _SOURCE,
                _LOCATOR,
            ),
        ),
        Table(
            "acknowledged",
            "A row accepts that a change takes a separator from a pair of which a mix-up can hurt; without it `lenticel changes` ends with an error. "
            "A new row that accepts what was not lost is an error too.",
            model.Acknowledged,
            "",
            (
                Column("one", "ref", "One taxon of the pair.", "rhus-typhina", required=True, refers="taxa"),
                Column("other", "ref", "The other.", "toxicodendron-vernix", required=True, refers="taxa"),
                Column("character", "ref", "The character that no longer separates them.", "fruit-colour", required=True, refers="characters"),
                Column("reason", "text", "Why that is right.", required=True),
                Column("by", "text", "Who says so.", required=True),
                Column("date", "date", "When.", "2026-11-25", required=True),
            ),
        ),
        Table(
            "released",
            "A row is an identifier that was published with a version. It never vanishes; a term that had to go names its successor. "
            "`lenticel release` writes the whole list as it is to be after the release, as identifiers.csv.",
            model.Released,
            "",
            (
                Column("iri", "iri", "The identifier.", "https://w3id.org/lenticel/trees/taxon/acer-rubrum", required=True),
                Column("version", "date", "The first version that had it.", "2026-11-25", required=True),
                Column("successor", "iri", "What took its place, if it had to go.", "https://w3id.org/lenticel/trees/taxon/acer-saccharum"),
            ),
        ),
    )
}
