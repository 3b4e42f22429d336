"""Statements to read back, and what reading them has shown, as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lenticel.model import Knowledge, Statement
from lenticel.proportion import Proportion
from lenticel.review import Readings, Reviews

FILLED = ("verdict", "correction", "note", "by", "date")  # by the reader
SHEET = ("statement", "wording", "says", "printed", "remark", "citation", "locator", "url", *FILLED)
ASKED = (
    "Open each source at the place given and write into `verdict`: `right` if it says so, `wrong` if it does not, `unclear` if that cannot be told. Where it "
    "is not right, write what the source has into `correction`, as the tables would spell it, or what you found into `note`. Leave the line blank if the "
    "source cannot be opened."
)


def said(knowledge: Knowledge, statement: Statement) -> str:
    """A statement in words."""
    character = knowledge.characters[statement.character]
    labels = {each.id: each.label for each in knowledge.states_of(character.id)}
    value = " or ".join(labels[each] for each in statement.states) if character.kind == "states" else statement.value
    often = "in garden forms " if statement.frequency == "cultivar" else f"{statement.frequency} " if statement.frequency else ""
    closed = {None: "", True: "; nothing else", False: "; other things too"}[statement.exhaustive]
    return f"{knowledge.taxa[statement.taxon].label}, {character.label}: {often}{value}{closed}"


def sheet_rows(knowledge: Knowledge, statements: Sequence[Statement]) -> Iterator[tuple[str, ...]]:
    """The sheet as rows of cells, the header first; what the reader fills in is blank."""
    yield SHEET
    for each in statements:
        source = knowledge.sources[each.source]
        blank = [""] * len(FILLED)
        yield (each.id, each.wording, said(knowledge, each), each.printed, each.note, source.citation, each.locator, source.url, *blank)


def sheet_markdown(knowledge: Knowledge, statements: Sequence[Statement], seed: int) -> Iterator[str]:
    """The sheet to print and fill in by hand, line by line."""
    yield f"# {len(statements)} statements to read back (seed {seed})"
    yield ""
    yield ASKED
    for place, each in enumerate(statements, start=1):
        source = knowledge.sources[each.source]
        printed = f", “{each.printed}”" if each.printed else ""
        yield ""
        yield f"{place}. **{said(knowledge, each)}**"
        yield f"   {source.citation} {each.locator}{printed}{f' <{source.url}>' if source.url else ''}"
        yield "   verdict: ________  correction: ________________  note: ________________________________"
        yield f"   `{each.id}` `{each.wording}`"


def reviews_text(answer: Reviews, *, listed: int = 20) -> Iterator[str]:
    """The report, line by line; groups of which nothing was read are counted, not listed."""
    yield f"{'':40}{'statements':>11}{'read':>7}{'wrong':>7}{'of':>7}   error rate, 95% interval"
    yield _row(answer.total)
    for called, groups in (("genus", answer.genera), ("source", answer.sources)):
        read = [each for each in groups if each.errors.of or each.unclear or each.read]
        yield ""
        yield f"by {called}; of {len(groups) - len(read)} more with {sum(each.statements for each in groups if each not in read)} statements nothing was read"
        yield from map(_row, read)
    for called, found in (("found amiss and not mended", answer.amiss), ("read in a wording that is no more, or of statements that are gone", answer.outdated)):
        yield ""
        yield f"{len(found)} {called}"
        for each in found[:listed]:
            told = "; ".join(filter(None, (each.correction, each.note)))
            yield f"  {each.statement}: {each.verdict}{f': {told}' if told else ''} ({each.by}, {each.date})"
        if len(found) > listed:
            yield f"  and {len(found) - listed} more"
    yield ""
    yield f"Of {answer.unrecorded} statements nobody says who recorded them."
    yield "The intervals (Wilson 1927) hold for statements drawn at random; the first line for all of them only if none were drawn by genus or by source."
    yield "A statement counts as it was first read; those that came to neither right nor wrong are left out."
    yield f"Knowledge {answer.digest[:16]}."


def _row(each: Readings) -> str:
    return f"{each.label[:39]:40}{each.statements:>11}{each.read:>7}{each.errors.count:>7}{each.errors.of:>7}   {rate(each.errors)}"


def rate(errors: Proportion) -> str:
    """The error rate with its interval, in percent."""
    if errors.share is None:
        return "unknown"
    return f"{errors.share:.1%} ({errors.low:.1%} to {errors.high:.1%})"
