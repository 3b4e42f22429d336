"""The notes of a release, as Markdown: what it holds, and which terms, taxa and statements came, changed and went since the one before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from lenticel.change import Change
from lenticel.cite import counts
from lenticel.difference import RowChange
from lenticel.model import Knowledge
from lenticel.paths import path_of
from lenticel.review import Reviews
from lenticel.text.change import Names
from lenticel.text.review import rate

TERMS = ("taxa", "characters", "states", "sources")  # what has an identifier that others may hold on to
LISTED = 200
HOW = ("added", "changed", "gone")
WORDS = {"lookalikes": "look-alikes", "names": "other names", "recorded": "rows that say who recorded statements"}


def notes_markdown(new: Knowledge, read: Reviews, old: Knowledge | None = None, found: Change | None = None, retired: Mapping[str, str] | None = None) -> str:
    """The notes.

    Args:
        new: the knowledge that is released.
        read: what reading its statements back has shown.
        old: that of the release before, if there was one.
        found: what changed since then.
        retired: identifiers that had to go, each with its successor.
    """
    about = new.about
    lines = [f"# {about.title}, version {about.version}", ""]
    lines += [f"Issued {about.issued}. {f'It follows version {old.about.version}.' if old else 'The first version.'} Content hash `{read.digest}`.", ""]
    lines += [*_totals(new, found), *_curation(new, read)]
    if old and found:
        lines += [line for table in TERMS for line in _terms(table, old, new, found, retired or {})]
        lines += [*_statements(old, new, found), *_effects(old, new, found)]
        lines += [f"`lenticel changes` against version {old.about.version} tells each row, and what it did to answers."]
    return "\n".join(lines).rstrip() + "\n"


def _of(found: Change, table: str, how: str) -> list[RowChange]:
    return [each for each in found.rows if (each.table, each.how) == (table, how)]


def _totals(new: Knowledge, found: Change | None) -> Iterator[str]:
    held = {**counts(new), "names": len(new.names), "resolutions": len(new.resolutions), "recorded": len(new.recorded), "reviews": len(new.reviews)}
    sourced = held.pop("statements_with_source")
    yield f"| | number |{' added | changed | gone |' if found else ''}"
    yield f"| --- | --- |{' --- | --- | --- |' if found else ''}"
    for table, number in held.items():
        moved = "".join(f" {len(_of(found, table, how))} |" for how in HOW) if found else ""
        yield f"| {WORDS.get(table, table)} | {number} |{moved}"
    yield ""
    rest = "" if sourced == held["statements"] else f"{sourced} of "
    yield f"{rest or 'All '}statements rest on a source and a place in it{', the others on memory or common practice' if rest else ''}."
    yield ""


def _curation(new: Knowledge, read: Reviews) -> Iterator[str]:
    """Who recorded the statements, and what came of reading them back."""
    who = Counter(row.by for each in new.statements.values() if (row := new.recorded_of(each)))
    lines = [f"recorded by {by}: {number} statements" for by, number in sorted(who.items(), key=lambda each: (-each[1], each[0]))]
    lines += [f"nobody says who recorded them: {read.unrecorded} statements"] if read.unrecorded else []
    total = read.total
    lines += [f"read back against their sources as they stand: {total.read} of {total.statements} statements; found amiss and not mended: {len(read.amiss)}"]
    if total.errors.of:
        lines += [f"wrong when first read back: {total.errors.count} of {total.errors.of}, {rate(total.errors)}, the interval at 95% as for a random sample"]
    yield from _listed("Who recorded, and what was read back", lines)


def _terms(table: str, old: Knowledge, new: Knowledge, found: Change, retired: Mapping[str, str]) -> Iterator[str]:
    def went(row: RowChange) -> str:
        iri = old.about.iri + path_of(table, row.key)
        return f"retired: {_called(table, row.key, old)} (`{iri}`); use `{retired.get(iri, '')}` in its place"

    lines = [f"added: {_called(table, row.key, new)} (`{row.key}`)" for row in _of(found, table, "added")]
    lines += [f"changed: {_called(table, row.key, new)} (`{row.key}`), in {', '.join(row.columns)}" for row in _of(found, table, "changed")]
    lines += [went(row) for row in _of(found, table, "gone")]
    yield from _listed(table.capitalize(), lines)


def _called(table: str, key: str, known: Knowledge) -> str:
    if table == "taxa":
        return known.taxa[key].label
    if table == "characters":
        return known.characters[key].label
    if table == "sources":
        return known.sources[key].short
    state = known.states[key]
    return f"{state.label}, of {known.characters[state.character].label}"


def _statements(old: Knowledge, new: Knowledge, found: Change) -> Iterator[str]:
    """The statements that differ, counted by taxon."""
    by_taxon: dict[str, Counter[str]] = {}
    for row in found.rows:
        if row.table == "statements":
            by_taxon.setdefault(row.key.partition(".")[0], Counter())[row.how] += 1
    name = Names(old, new)
    yield from _listed("Statements", [f"{name.taxon(taxon)}: {_counted(count)}" for taxon, count in sorted(by_taxon.items())])


def _counted(count: Counter[str]) -> str:
    return ", ".join(f"{count[how]} {how}" for how in HOW if count[how])


def _effects(old: Knowledge, new: Knowledge, found: Change) -> Iterator[str]:
    """What the change did to what can be told apart."""
    name = Names(old, new)
    cells = Counter(f"{'may show' if each.tier == 'hard' else 'usually shows'}, {each.how}" for each in found.cells)
    disputes = Counter(each.how for each in found.disputes)
    lines = [f"what a taxon {words}: {number}" for words, number in sorted(cells.items())]
    lines += [f"taxa that came into some of {found.probes} fixed observation sets, or fell out: {len(found.answers)}"] if found.answers else []
    lines += [f"disagreements of sources, {how}: {number}" for how, number in sorted(disputes.items())]
    yield from _listed("What that did", lines)
    parted = [f"{_pair(name, each.pair)}: {each.how}{_by(each.force)} in {', '.join(each.seasons)}" for each in found.partings]
    parted += [f"{_pair(name, each.pair)}, of which a mix-up can hurt, lost {name.character(each.character)}: {each.acknowledged}" for each in found.lost]
    yield from _listed(f"Pairs ({len(found.partings)} that differ)", parted)


def _pair(name: Names, pair: tuple[str, str]) -> str:
    return " and ".join(map(name.taxon, pair))


def _by(force: str) -> str:
    return " decisively" if force == "decisive" else " by what is usual"


def _listed(title: str, lines: Sequence[str]) -> Iterator[str]:
    if not lines:
        return
    yield from (f"## {title}", "", *(f"- {each}" for each in lines[:LISTED]))
    if len(lines) > LISTED:
        yield f"- and {len(lines) - LISTED} more"
    yield ""
