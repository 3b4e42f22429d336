"""What a change did, as Markdown for whoever reviews it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from lenticel.change import Change
from lenticel.difference import RowChange
from lenticel.model import Knowledge

Place = Callable[[RowChange], str]
LISTED = 200


def change_markdown(old: Knowledge, new: Knowledge, found: Change, place: Place) -> Iterator[str]:
    """The report, line by line.

    Args:
        old: the version before.
        new: the version after.
        found: what the change did.
        place: says where a row stands, such as `taxa.csv:12`.
    """
    name = Names(old, new)
    yield "## What this change does"
    yield ""
    if not found.rows and not found.stale:
        yield "Nothing: both versions say the same."
        return
    yield from _errors(found, name, place)
    yield from _listed("Warnings", [*_warnings(found, name, place)], str)
    yield from _listed(
        "Rows", found.rows, lambda row: f"{row.how}: {_row(row)}" + (f", in {', '.join(row.columns)}" if row.columns else "") + f" ({place(row)})"
    )
    count = Counter(f"{each.tier} {each.how}" for each in found.cells)
    yield from _listed(
        f"What taxa show ({', '.join(f'{number} {words}' for words, number in sorted(count.items())) or 'nothing changed'})",
        found.cells,
        lambda each: (
            f"{name.taxon(each.taxon)}, {name.character(each.character)}: {'may show' if each.tier == 'hard' else 'usually shows'} "
            f"{each.how}, {each.old} → {each.new}{_because(each.causes, place)}"
        ),
    )
    yield from _listed(
        f"Answers ({found.probes} observation sets asked)",
        found.answers,
        lambda each: (
            f"{name.taxon(each.taxon)} {'comes into' if each.how == 'in' else 'falls out of'} {each.count} of them, such as {each.example}, "
            f"by {', '.join(map(name.character, each.characters))}{_because(each.causes, place)}"
        ),
    )
    if not found.partings:
        yield from _listed("Pairs", ["none can be told apart that could not be before, or no longer"], str)
    yield from _listed(
        "Pairs",
        found.partings,
        lambda each: (
            f"{' and '.join(map(name.taxon, each.pair))}: {'decisively' if each.force == 'decisive' else 'by what is usual'} {each.how} in "
            f"{', '.join(each.seasons)}{_by(each.characters, name)}{_because(each.causes, place)}"
        ),
    )
    yield from _listed(
        "Disagreements",
        found.disputes,
        lambda each: (
            f"{each.how}: {name.taxon(each.disagreement.taxon)}, {name.character(each.disagreement.character)} "
            f"({each.disagreement.one}, {each.disagreement.other}){_because(each.causes, place)}"
        ),
    )
    if found.unrecorded:
        some = ", ".join(f"`{each}`" for each in found.unrecorded[:3])
        told = f"{len(found.unrecorded)}, such as {some}; `lenticel recorded --by NAME --date DAY --since OLD` adds the rows"
        yield from _listed("New statements of which no row says who recorded them", [told], str)
    yield from _listed("Characters that nothing uses", found.unused, lambda each: f"{name.character(each)} (`{each}`)")


class Names:
    """Names as either version has them."""

    def __init__(self, old: Knowledge, new: Knowledge) -> None:
        self.versions = (new, old)

    def taxon(self, key: str) -> str:
        """The scientific name of a taxon."""
        return next((each.taxa[key].scientific_name for each in self.versions if key in each.taxa), key)

    def character(self, key: str) -> str:
        """The label of a character."""
        return next((each.characters[key].label for each in self.versions if key in each.characters), key)


def _errors(found: Change, name: Names, place: Place) -> Iterator[str]:
    wrong = [
        f"{' and '.join(map(name.taxon, each.pair))}, of which a mix-up can hurt, are no longer separated by {name.character(each.character)}"
        f"{_because(each.causes, place)}. Mend it, or add a row to acknowledged.csv with the reason."
        for each in found.lost
        if not each.acknowledged
    ]
    wrong += [f"acknowledged.csv accepts what was not lost: {each}. Take the row out." for each in found.stale]
    yield from _listed("Errors", wrong, str)
    yield from _listed(
        "Accepted",
        [each for each in found.lost if each.acknowledged],
        lambda each: f"{' and '.join(map(name.taxon, each.pair))} lose {name.character(each.character)}: {each.acknowledged}{_because(each.causes, place)}",
    )


def _warnings(found: Change, name: Names, place: Place) -> Iterator[str]:
    for each in found.alone:
        yield (
            f"{' and '.join(map(name.taxon, each.pair))}: only {name.character(each.character)} tells them apart decisively, and it does so by one row alone"
            f"{_because([each.row], place)}. Hold that against its source once more."
        )
    for shared in found.shared_names:
        meaning = f"by itself it means {name.taxon(shared.means)}" if shared.means else "whoever writes it is asked which is meant"
        yield f"`{shared.name}` is now a name of {', '.join(map(name.taxon, shared.taxa))}; {meaning}{_because(shared.causes, place)}."


def _listed(title: str, items: Sequence[Any], line: Callable[[Any], str]) -> Iterator[str]:
    if not items:
        return
    yield f"### {title}"
    yield ""
    for each in items[:LISTED]:
        yield f"- {line(each)}"
    if len(items) > LISTED:
        yield f"- and {len(items) - LISTED} more; `--json` has all"
    yield ""


def _row(row: RowChange) -> str:
    return f"{row.table} `{row.key}`"


def _by(characters: Iterable[str], name: Names) -> str:
    """The characters that part a pair, if any."""
    told = ", ".join(map(name.character, characters))
    return f", by {told}" if told else ""


def _because(causes: Iterable[RowChange], place: Place) -> str:
    places = list(dict.fromkeys(place(each) for each in causes))
    return f" (because of {', '.join(places[:6])}{f' and {len(places) - 6} more rows' if len(places) > 6 else ''})" if places else ""
