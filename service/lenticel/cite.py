"""From identifiers to words: which taxon a name means, and what stands behind a statement."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from lenticel.errors import UnknownTerm, suggest
from lenticel.model import Knowledge
from lenticel.spelling import respelt


@dataclass(frozen=True, slots=True)
class Citation:
    """A statement with its source written out. `value` is in the tables' unit, `printed` as the source has it, `short` the source as a text cites it."""

    taxon: str
    character: str
    value: str
    frequency: str
    printed: str
    source: str
    short: str
    citation: str
    locator: str
    note: str


@dataclass(frozen=True, slots=True)
class Provenance:
    """Who wrote a statement into the tables, and when; what the reader found who last held it against its source as it stands, who that was, and when.

    Each is empty if nobody says, or nobody read it.
    """

    recorded_by: str
    recorded: str
    verdict: str
    read_by: str
    read: str


def provenance(knowledge: Knowledge, statement: str) -> Provenance:
    """Who recorded a statement, and who read it back."""
    recorded, review = knowledge.recorded_of(knowledge.statements[statement]), knowledge.verdicts.get(statement)
    written = (recorded.by, recorded.date) if recorded else ("", "")
    return Provenance(*written, *((review.verdict, review.by, review.date) if review else ("", "", "")))


def citations(knowledge: Knowledge, statements: Iterable[str]) -> dict[str, Citation]:
    """The statements written out, by identifier, in order of identifiers."""
    found: dict[str, Citation] = {}
    for key in sorted(set(statements)):
        each = knowledge.statements[key]
        source = knowledge.sources[each.source]
        found[key] = Citation(
            each.taxon, each.character, each.value, each.frequency, each.printed, each.source, source.short, source.citation, each.locator, each.note
        )
    return found


def taxon_named(knowledge: Knowledge, word: str) -> str:
    """The taxon that an identifier, a scientific name, a synonym or a common name means, in either spelling and with or without its accents.

    A scientific name may come with its author, and with the letter x for the sign of a hybrid.

    Raises:
        UnknownTerm: none, or several; the fix names the nearest or all of them.
    """
    wanted = " ".join(word.split()).casefold().replace(" x ", " × ")
    if wanted in knowledge.taxa:
        return wanted
    accepted, names = taxa_by_name(knowledge)
    found = accepted.get(wanted) or names.get(wanted) or _respelt(names, wanted)
    if len(found) == 1:
        return next(iter(found))
    if found:
        raise UnknownTerm(f"{word[:60]!r} is a name of several taxa.", f"Use one of: {', '.join(sorted(found))}.")
    raise UnknownTerm(f"There is no taxon {word[:60]!r}.", suggest(wanted, names) or "List the taxa with `lenticel terms --taxa`, or at /v1/taxa.")


def taxa_by_name(knowledge: Knowledge) -> tuple[dict[str, set[str]], dict[str, set[str]]]:
    """The taxa by their own names in small letters (identifier, scientific name without and with its author, first common name), and by any name.

    The former outweigh the latter.
    """
    accepted: dict[str, set[str]] = {}
    for key, taxon in knowledge.taxa.items():
        for name in filter(None, (key, taxon.scientific_name, f"{taxon.scientific_name} {taxon.authorship}".strip(), taxon.common_name)):
            accepted.setdefault(name.casefold(), set()).add(key)
    names = {name: set(taxa) for name, taxa in accepted.items()}
    for each in knowledge.names:
        names.setdefault(each.name.casefold(), set()).add(each.taxon)
    return accepted, names


def _respelt(names: Mapping[str, set[str]], wanted: str) -> set[str]:
    plain = respelt(wanted)
    return {key for name, keys in names.items() if respelt(name) == plain for key in keys}


def taxa_named(knowledge: Knowledge, words: Iterable[str]) -> list[str]:
    """The taxa that some words mean, each once.

    Raises:
        UnknownTerm: as `taxon_named`, pointing to the word (a JSON pointer `/taxa/i`).
    """
    found: list[str] = []
    for place, word in enumerate(words):
        try:
            found.append(taxon_named(knowledge, word))
        except UnknownTerm as error:
            raise error.at(f"/taxa/{place}") from None
    return list(dict.fromkeys(found))


def counts(knowledge: Knowledge) -> dict[str, int]:
    """How much the knowledge holds; `statements_with_source` are those that rest on a source and a place in it, not on memory."""
    published = {key for key, source in knowledge.sources.items() if source.published}
    return {
        "taxa": len(knowledge.taxa),
        "characters": len(knowledge.characters),
        "states": len(knowledge.states),
        "statements": len(knowledge.statements),
        "statements_with_source": sum(1 for each in knowledge.statements.values() if each.source in published and each.locator),
        "sources": len(knowledge.sources),
        "lookalikes": len(knowledge.lookalikes),
        "cautions": len(knowledge.cautions),
    }
