"""Answers as text for people."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from lenticel.account import Account
from lenticel.cite import Citation
from lenticel.compare import Comparison
from lenticel.coverage import THIN, Coverage
from lenticel.identify import Answer, Mark, TaxonVerdict
from lenticel.model import Caution, Knowledge
from lenticel.timing import season_of

LISTED = 20
LEAVE_BE = "Leave the plant be until someone qualified has looked. Local rules and licensed practice come first."


def identify_text(knowledge: Knowledge, answer: Answer, *, out: int = 5, because: int = 2) -> Iterator[str]:
    """An identify answer, line by line.

    Args:
        knowledge: the records.
        answer: the answer.
        out: how many of the taxa that remain, and how many of the excluded, to give with their reasons.
        because: how many citations to give for each reason.
    """
    yield "Seen: " + "; ".join(answer.observations) if answer.observations else "Nothing was observed."
    for weak, strong in answer.implied:
        yield f"  ({weak} says nothing beyond {strong})"
    for each in answer.out_of_season:
        yield f"  (in {season_of(answer.month)} {each} can hardly be seen: is it old, or a slip?)"
    yield ""
    total = len(answer.consistent) + len(answer.excluded)
    yield f"{len(answer.consistent)} of {total} remain{', taken as wild' if answer.wild else ''}:"
    for place, verdict in enumerate(answer.consistent[:LISTED]):
        now = f"; due now: {', '.join(knowledge.characters[key].label for key in answer.due[verdict.taxon])}" if verdict.taxon in answer.due else ""
        yield f"  {verdict.label}: {verdict.agrees} agree, {verdict.atypical} atypical, {verdict.silent} unknown{now}"
        for mark in verdict.marks:
            if mark.verdict == "atypical" and place < out:
                yield from _mark(knowledge, answer, mark, because)
    if len(answer.consistent) > LISTED:
        yield f"  and {len(answer.consistent) - LISTED} more, less well supported"
    if not answer.consistent:
        yield "  none. At least one observation may be wrong, or the plant is not in this knowledge."
    if answer.excluded and out:
        yield ""
        yield "Out, nearest first:"
        for verdict in answer.excluded[:out]:
            yield from _excluded(knowledge, answer, verdict, because)
        if len(answer.excluded) > out:
            yield f"  and {len(answer.excluded) - out} more"
    remaining = {rank for verdict in answer.consistent for rank in knowledge.lineage(verdict.taxon)}
    yield from _cautions(knowledge, answer.cautions, lambda taxon: taxon not in remaining)
    yield ""
    yield f"Knowledge {answer.digest[:16]}. What remains is what the sources do not rule out; it is no promise that the plant is among them."


def _excluded(knowledge: Knowledge, answer: Answer, verdict: TaxonVerdict, because: int) -> Iterator[str]:
    yield f"  {verdict.label}: {verdict.slips} contradiction{'s' if verdict.slips > 1 else ''}"
    for mark in verdict.marks:
        if mark.verdict == "contradicts":
            yield from _mark(knowledge, answer, mark, because)


def _mark(knowledge: Knowledge, answer: Answer, mark: Mark, because: int) -> Iterator[str]:
    for ground in mark.grounds:
        label = knowledge.characters[ground.character].label
        seen = f"{mark.observation}, which means {label}: {ground.seen}" if ground.entailed else f"{label}: {ground.seen}"
        yield f"    {mark.verdict}: {seen}; it shows {ground.shown}"
        yield from _cited(answer.citations, ground.statements, because)


def _cited(citations: dict[str, Citation], statements: Iterable[str], limit: int, indent: str = "      ") -> Iterator[str]:
    chosen = list(statements)
    for key in chosen[:limit]:
        each = citations[key]
        printed = f" “{each.printed}”" if each.printed else ""
        often = f"{each.frequency} " if each.frequency else ""
        yield f"{indent}{each.short}, {each.locator}: {often}{each.value.replace('|', ' or ')}{printed}"
    if len(chosen) > limit:
        yield f"{indent}and {len(chosen) - limit} more"


def _cautions(knowledge: Knowledge, cautions: Iterable[Caution], near: Callable[[str], bool] = lambda taxon: False) -> Iterator[str]:
    """One entry for each taxon and thing at stake, shorter for taxa that only a slip would bring back; the JSON has every record."""
    grouped: dict[tuple[str, str], list[Caution]] = {}
    for each in cautions:
        grouped.setdefault((each.taxon, each.kind), []).append(each)
    if not grouped:
        return
    yield ""
    yield "Caution:"
    for (taxon, kind), found in sorted(grouped.items(), key=lambda item: near(item[0][0])):
        first, more = found[0], len(found) - 1
        source = f"{knowledge.sources[first.source].short}, {first.locator}{f'; {more} more on record' if more else ''}"
        if near(taxon):
            yield f"  but for one slip, {knowledge.taxa[taxon].label}, {kind}: {first.harm} ({source})"
        else:
            yield f"  {knowledge.taxa[taxon].label}, {kind}: {first.harm}"
            yield f"      {first.advice} ({source})"
    yield f"  {LEAVE_BE}"


def compare_text(knowledge: Knowledge, answer: Comparison, *, because: int = 1) -> Iterator[str]:
    """A comparison, line by line."""
    yield "Compared: " + ", ".join(knowledge.taxa[each].label for each in answer.taxa) + (f", in {answer.season}" if answer.season else "")
    for force, title in (("decisive", "Decisive: no plant can be both"), ("typical", "Typical: the usual plants differ")):
        chosen = [each for each in answer.separators if each.force == force]
        if chosen:
            yield ""
            yield f"{title}"
        for each in chosen:
            character = knowledge.characters[each.character]
            yield f"  {character.label} ({each.organ}; {', '.join(each.seasons)}; {each.needs})"
            if len(answer.taxa) > 2:
                yield "    separates " + "; ".join(f"{knowledge.taxa[a].scientific_name} from {knowledge.taxa[b].scientific_name}" for a, b in each.pairs)
            for shown in each.shown:
                yield f"    {knowledge.taxa[shown.taxon].scientific_name}: {shown.shown}"
                yield from _cited(answer.citations, shown.statements, because)
    for pairs, sentence in ((answer.inseparable, "Nothing here separates"), (answer.undecided, "Nothing decides between")):
        if pairs:
            yield ""
        for one, other in pairs:
            if pairs is answer.inseparable or (one, other) not in answer.inseparable:
                yield f"{sentence} {knowledge.taxa[one].scientific_name} and {knowledge.taxa[other].scientific_name}" + (
                    f" in {answer.season}." if answer.season else "."
                )
    for lookalike in answer.lookalikes:
        yield f"Look-alikes: {lookalike.reason} ({knowledge.sources[lookalike.source].citation} {lookalike.locator})"
    yield from _cautions(knowledge, answer.cautions)
    yield ""
    yield f"Knowledge {answer.digest[:16]}."


def account_text(knowledge: Knowledge, answer: Account, *, because: int = 3) -> Iterator[str]:
    """An account, line by line."""
    yield f"{answer.taxon.label}" + (f" {answer.taxon.authorship}" if answer.taxon.authorship else "")
    if answer.lineage:
        yield f"  {answer.taxon.rank} of {', '.join(knowledge.taxa[each].label for each in answer.lineage)}"
    if answer.taxon.hybrid_parents:
        yield f"  hybrid of {' and '.join(knowledge.taxa[each].label for each in answer.taxon.hybrid_parents)}"
    if answer.names:
        yield f"  also called {', '.join(sorted({name.name for name in answer.names}))}"
    organ = ""
    for trait in answer.traits:
        character = knowledge.characters[trait.character]
        if character.organ != organ:
            organ = character.organ
            yield f"\n{organ.capitalize()}"
        yield f"  {character.label}: {trait.shown}{' (sources disagree)' if trait.disputed else ''}"
        yield from _cited(answer.citations, trait.statements, because)
    for lookalike in answer.lookalikes:
        others = ", ".join(knowledge.taxa[each].label for each in lookalike.taxa if each != answer.taxon.id)
        yield f"\nTaken for {others}: {lookalike.reason} ({knowledge.sources[lookalike.source].citation} {lookalike.locator})"
    yield from _cautions(knowledge, answer.cautions)
    yield f"\nKnowledge {answer.digest[:16]}."


def coverage_text(knowledge: Knowledge, answer: Coverage, season: str) -> Iterator[str]:
    """The coverage, line by line; pairs for one season."""
    seasons = list(answer.thin)
    yield f"{'taxon':44}{'sources':>8}{'all':>6}" + "".join(f"{each:>8}" for each in seasons) + "   characters known, and of those that can be seen in a season"
    for each in sorted(answer.taxa, key=lambda each: each.by_season[season]):
        yield f"{each.label[:43]:44}{each.sources:>8}{each.characters:>6}" + "".join(f"{each.by_season[name]:>8}" for name in seasons)
    organs = sorted({organ for each in answer.taxa for organ in each.by_organ})
    yield ""
    for organ in organs:
        least = sorted(answer.taxa, key=lambda each: each.by_organ.get(organ, 0))[:4]
        yield f"thinnest on {organ}: " + ", ".join(f"{knowledge.taxa[each.taxon].scientific_name} ({each.by_organ.get(organ, 0)})" for each in least)
    yield ""
    yield f"Fewer than {THIN} characters in {season}: " + (", ".join(knowledge.taxa[each].scientific_name for each in answer.thin[season]) or "none")
    yield "Known of fewer than a tenth of the taxa: " + (", ".join(answer.rare) or "none")
    pairs = len(answer.taxa) * (len(answer.taxa) - 1) // 2
    open_, same = len(answer.unseparated[season]), len(answer.inseparable[season])
    yield f"Of {pairs} pairs, {open_} are decided by no character in {season}, {same} not even told apart by what is usual:"
    for one, other in answer.inseparable[season]:
        yield f"  {knowledge.taxa[one].scientific_name} and {knowledge.taxa[other].scientific_name}"
    yield f"Knowledge {answer.digest[:16]}."
