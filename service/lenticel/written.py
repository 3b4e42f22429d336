"""The answer to the first question as JSON, put together from pieces that are kept: the same bytes as `as_json(identify(...))`, sooner.

What a taxon is called, what one observation says of it and what a statement cites are the same in every answer, so each is written once.
An answer is joined of its pieces in one go, since copying hundreds of kilobytes costs as much as finding what remains.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache, reduce
from itertools import chain
from operator import or_
from typing import Any

import numpy as np
import orjson

from lenticel.answers import as_json
from lenticel.arranging import Numbers, Places
from lenticel.cite import citations
from lenticel.identify import Context, cautions_on
from lenticel.judging import REMEMBERED, Judged, counts
from lenticel.model import Knowledge
from lenticel.observation import Observation
from lenticel.sight import out_of_season
from lenticel.snapshot import Snapshot
from lenticel.timing import due
from lenticel.weighing import Weighed, weigh

NEXT = b"]},"  # ends one verdict and goes on to the next
SHARE, MARKS = b',"share":', b',"marks":['


def identified(
    snapshot: Snapshot,
    observations: Iterable[Observation],
    context: Context | None = None,
    *,
    every_rank: bool = False,
    explain: int | None = None,
    excluded: int | None = None,
) -> bytes:
    """The answer of `identify` to the same question, as UTF-8 JSON.

    Args:
        snapshot: the knowledge.
        observations: what was seen.
        context: what else is known of the plant.
        every_rank: also judge genera and other taxa that have taxa below them.
        explain: how many of the taxa that remain, and of those that are out, to give with their marks; None for all.
        excluded: how many of the taxa that are out to list, those with the fewest contradictions first; None for all.

    Raises:
        UnknownTerm: the region of the context is none.
    """
    context = context or Context()
    weighed = weigh(snapshot, observations, context, every_rank=every_rank)
    pieces = snapshot.remembered("written", Pieces)
    taxa, month = snapshot.taxa, context.month
    verdicts, places = pieces.verdicts(weighed, explain, excluded)
    last = {"month": month, "region": context.region, "out_of_season": (), "due": {}}
    if month:
        last |= {"out_of_season": out_of_season(snapshot, weighed.kept, month), "due": due(snapshot, [taxa[row] for row in weighed.remain], month)}
    return b"".join(
        [
            pieces.opening,
            as_json([each.text for each in weighed.kept]),
            b',"implied":',
            as_json([(weak.text, strong.text) for weak, strong in weighed.dropped]),
            b',"wild":true' if context.wild else b',"wild":false',
            *verdicts,
            b',"cautions":[',
            pieces.cautions(weighed.close),
            b'],"citations":{',
            *pieces.citations(places),
            b"},",
            as_json(last)[1:-1],
            b',"near":[',
            b",".join(map(pieces.names.__getitem__, weighed.near)),
            b'],"likeliest":[',
            b",".join([b'{"taxon":%b,"share":%b,"slips":%d}' % (pieces.names[row], repr(share).encode(), slips) for row, share, slips in weighed.likeliest]),
            b"]}",
        ]
    )


class Pieces:
    """The pieces of one snapshot; those of an observation are kept as long as it is asked for."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.opening = b'{"digest":%b,"observations":' % as_json(snapshot.digest)
        self.names = list(map(as_json, snapshot.taxa))
        called = zip(self.names, snapshot.labels, snapshot.label_languages, strict=True)
        self._heads = [b'%b{"taxon":%b,"label":%b,"label_language":%b' % (NEXT, name, as_json(label), as_json(language)) for name, label, language in called]
        self._counted = Counted()
        self._warnings = Warnings(snapshot)
        statements = sorted(snapshot.knowledge.statements)
        self._citations = Citations(snapshot.knowledge, statements)
        place_of = {key: place for place, key in enumerate(statements)}
        self._marks: Callable[[Judged], Marks] = lru_cache(maxsize=REMEMBERED)(lambda judged: Marks(judged, place_of))

    def verdicts(self, weighed: Weighed, explain: int | None, excluded: int | None) -> tuple[list[bytes], list[int]]:
        """The verdicts on what remains and on what is out; and the places of the statements that they name, ascending."""
        remaining = weighed.remaining
        rows = weighed.ordered[: None if excluded is None else remaining + excluded]
        columns = self._columns(weighed, rows)
        marks = list(map(self._marks, weighed.heard)) if explain != 0 else []
        if explain is None:
            columns += _marked(marks, rows)
            places = self._places(each.cited(rows, complete=excluded is None) for each in marks)
        else:
            explained = [*range(min(explain, remaining)), *range(remaining, min(remaining + explain, len(rows)))] if marks else []
            cited = set[int]()
            for place, row in [(place, rows[place]) for place in explained]:
                columns[-1][place] += b",".join([each[row] for each in marks])
                cited.update(*[each.named[row] for each in marks if row in each.named])
            places = sorted(cited)
        found = _interleaved(columns)
        cut = remaining * len(columns)
        return [b',"consistent":[', *_ended(found[:cut]), b'],"excluded":[', *_ended(found[cut:]), b"]"], places

    def _columns(self, weighed: Weighed, rows: list[int]) -> list[list[bytes]]:
        """Of each verdict what the taxon is called, what is counted, the support, and the share up to where the marks begin."""
        shares = _listed(weighed.shares, SHARE, MARKS) if weighed.remaining else []
        return [
            list(map(self._heads.__getitem__, rows)),
            list(map(self._counted.__getitem__, weighed.counted[: len(rows)])),
            _listed(weighed.support[: len(rows)]) if rows else [],
            shares + [b"%b0.0%b" % (SHARE, MARKS)] * (len(rows) - len(shares)),
        ]

    def _places(self, several: Iterable[Places]) -> list[int]:
        """Places that are among some of several, ascending: marking them takes a third of the time of putting them in order."""
        here = np.zeros(len(self._citations.statements), np.bool_)
        for each in several:
            here[each] = True
        return here.nonzero()[0].tolist()

    def cautions(self, rows: list[int]) -> bytes:
        """The cautions that bear on some taxa."""
        return self._warnings[reduce(or_, map(self._warnings.held.__getitem__, rows), 0)]

    def citations(self, places: list[int]) -> list[bytes]:
        """What some statements cite, by the places of the statements."""
        found = list(map(self._citations.__getitem__, places))
        found[:1] = [each.removeprefix(b",") for each in found[:1]]
        return found


class Warnings(dict[int, bytes]):
    """Cautions written out, by which of them: a bit each in the order of identifiers, as `held` has them for each taxon."""

    def __init__(self, snapshot: Snapshot) -> None:
        cautions = sorted(snapshot.knowledge.cautions)
        bit_of = {key: 1 << place for place, key in enumerate(cautions)}
        self.held = [sum(bit_of[key] for key in cautions_on(snapshot, [taxon])) for taxon in snapshot.taxa]
        self._written = [as_json(snapshot.knowledge.cautions[key]) for key in cautions]

    def __missing__(self, bits: int) -> bytes:
        if len(self) >= REMEMBERED:
            self.clear()
        self[bits] = b",".join(each for place, each in enumerate(self._written) if bits >> place & 1)
        return self[bits]


class Marks(dict[int, bytes]):
    """What one observation says of each taxon, by row, written when first asked for; then it is also known which statements it names."""

    def __init__(self, judged: Judged, place_of: dict[str, int]) -> None:
        self._judged, self._place_of = judged, place_of
        self._alike: dict[str, bytes] = {}  # what was written of taxa without grounds, by verdict
        self.named: dict[int, list[int]] = {}  # the places of the statements named in what was written of a taxon, where there are such
        self._all: dict[int, Places] = {}  # the same of all, by how many rows: there are those of the lowest taxa, and all

    def cited(self, rows: list[int], *, complete: bool) -> Places:
        """The places of the statements named in what was written of some taxa, remembered if they are `complete`: all lowest taxa, or all."""
        found = self._all.get(len(rows)) if complete else None
        if found is None:
            found = np.array(sorted(set(chain.from_iterable(self.named.get(row, ()) for row in rows))), np.intp)
            if complete:
                self._all[len(rows)] = found
        return found

    def __missing__(self, row: int) -> bytes:
        mark = self._judged.found(row)
        if mark.grounds:
            self.named[row] = [self._place_of[key] for ground in mark.grounds for key in ground.statements]
        text = _kept(mark)
        self[row] = text if mark.grounds else self._alike.setdefault(mark.verdict, text)
        return self[row]


class Citations(dict[int, bytes]):
    """Statements written out, each after a comma and under its identifier, by their places in the order of identifiers."""

    def __init__(self, knowledge: Knowledge, statements: list[str]) -> None:
        self._knowledge, self.statements = knowledge, statements

    def __missing__(self, place: int) -> bytes:
        self[place] = b"," + as_json(citations(self._knowledge, [self.statements[place]]))[1:-1]
        return self[place]


class Counted(dict[int, bytes]):
    """How many observations say what of a taxon, by the four numbers side by side in one."""

    def __missing__(self, code: int) -> bytes:
        silent, agrees, atypical, slips = counts(code)
        if len(self) >= REMEMBERED:
            self.clear()
        self[code] = b',"consistent":%b,"agrees":%d,"atypical":%d,"silent":%d,"slips":%d,"support":' % (as_json(not slips), agrees, atypical, silent, slips)
        return self[code]


def _marked(marks: list[Marks], rows: list[int]) -> list[list[bytes]]:
    """What the observations say of some taxa, as columns with commas between."""
    comma = [b","] * len(rows)
    return [column for each in marks for column in (comma, list(map(each.__getitem__, rows)))][1:]


def _interleaved(columns: list[list[bytes]]) -> list[bytes]:
    """Verdict after verdict, of columns of equal length."""
    found = [b""] * (len(columns) * len(columns[0]))
    for place, column in enumerate(columns):
        found[place :: len(columns)] = column
    return found


def _ended(verdicts: list[bytes]) -> list[bytes]:
    """Verdicts as a list of their own: the first follows upon none, and the last is ended."""
    return [verdicts[0].removeprefix(NEXT), *verdicts[1:], b"]}"] if verdicts else []


def _kept(answer: Any) -> bytes:
    """As JSON, in no more memory than it needs: what orjson returns holds on to 4 kB however short it is."""
    return bytes(bytearray(as_json(answer)))


def _listed(numbers: Numbers, before: bytes = b"", after: bytes = b"") -> list[bytes]:
    """Some numbers, each with something around it."""
    text = orjson.dumps(numbers, option=orjson.OPT_SERIALIZE_NUMPY)[1:-1]
    return (before + text.replace(b",", b"%b\n%b" % (after, before)) + after).split(b"\n") if after else text.split(b",")
