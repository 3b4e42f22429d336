"""What several answers say in the same words: citations and cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from lenticel.cite import Citation
from lenticel.model import Caution, Knowledge

TOUCH = "skin"  # the kind of cautions about what touching does
LEAVE_BE = "Leave the plant be until someone qualified has looked. Local rules and licensed practice come first."


def cited(citations: dict[str, Citation], statements: Iterable[str], limit: int, indent: str = "      ") -> Iterator[str]:
    """Statements with their sources, a line each, and how many more there are."""
    chosen = list(statements)
    for key in chosen[:limit]:
        each = citations[key]
        printed = f" “{each.printed}”" if each.printed else ""
        often = f"{each.frequency} " if each.frequency else ""
        yield f"{indent}{each.short}, {each.locator}: {often}{each.value.replace('|', ' or ')}{printed}"
    if len(chosen) > limit:
        yield f"{indent}and {len(chosen) - limit} more"


def named(knowledge: Knowledge, taxa: Sequence[str], limit: int) -> str:
    """The scientific names of taxa in one line, and how many more there are."""
    more = f" and {len(taxa) - limit} more" if len(taxa) > limit else ""
    return ", ".join(knowledge.taxa[each].scientific_name for each in taxa[:limit]) + more


def by_touch(cautions: Iterable[Caution]) -> list[Caution]:
    """The cautions, those about what touching does first."""
    return sorted(cautions, key=lambda each: each.kind != TOUCH)


def warned(
    knowledge: Knowledge, cautions: Iterable[Caution], near: Callable[[str], bool] = lambda taxon: False, away: str = "but for one slip"
) -> Iterator[str]:
    """One entry for each taxon and thing at stake, shorter for taxa that are `near` only, which are so many slips `away`; the JSON has every record.

    What hurts who touches it comes first and whole, near or not: a hand goes to the plant before anybody looks again.
    """
    grouped: dict[tuple[str, str], list[Caution]] = {}
    for each in cautions:
        grouped.setdefault((each.taxon, each.kind), []).append(each)
    if not grouped:
        return
    yield ""
    yield "Caution:"
    for (taxon, kind), found in sorted(grouped.items(), key=lambda item: (item[0][1] != TOUCH, near(item[0][0]))):
        shown = found if kind == TOUCH else found[:1]
        more = f"; {len(found) - len(shown)} more on record" if len(found) > len(shown) else ""
        for each in shown:
            source = f"{knowledge.sources[each.source].short}, {each.locator}{more}"
            start = f"  {away}, " if near(taxon) else "  "
            brief = near(taxon) and kind != TOUCH
            yield f"{start}{knowledge.taxa[taxon].label}, {kind}: {each.harm}{f' ({source})' if brief else ''}"
            if not brief:
                yield f"      {each.advice} ({source})"
    yield f"  {LEAVE_BE}"
