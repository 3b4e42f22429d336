"""The answer to the first question as JSON, put together from pieces that are kept: the same bytes as `as_json(identify(...))`, sooner.

What a taxon is called, what one observation says of it and what a statement cites are the same in every answer, so each is written once.
An answer is joined of its pieces in one go, since copying hundreds of kilobytes costs as much as finding what remains.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from itertools import chain, repeat

import orjson

from lenticel.answers import as_json
from lenticel.cite import citations
from lenticel.engine import CONTRADICTS
from lenticel.identify import Context, Likely, cautions_on
from lenticel.judging import REMEMBERED, Judged
from lenticel.model import Knowledge
from lenticel.observation import Observation
from lenticel.snapshot import Snapshot
from lenticel.timing import due, out_of_season
from lenticel.weighing import Numbers, Weighed, weigh


def identified(
    snapshot: Snapshot, observations: Iterable[Observation], context: Context | None = None, *, every_rank: bool = False, explain: int | None = None
) -> bytes:
    """The answer of `identify` to the same question, as UTF-8 JSON.

    Args:
        snapshot: the knowledge.
        observations: what was seen.
        context: what else is known of the plant.
        every_rank: also judge genera and other taxa that have taxa below them.
        explain: how many of the taxa that remain, and of those that are out, to give with their marks; None for all.

    Raises:
        UnknownTerm: the region of the context is none.
    """
    context = context or Context()
    weighed = weigh(snapshot, observations, context, every_rank=every_rank)
    pieces = snapshot.remembered("written", Pieces)
    taxa, month, slips = snapshot.taxa, context.month, weighed.counts[:, CONTRADICTS]
    first = {
        "digest": snapshot.digest,
        "observations": [each.text for each in weighed.kept],
        "implied": [(weak.text, strong.text) for weak, strong in weighed.dropped],
        "wild": context.wild,
    }
    last = {
        "month": month,
        "region": context.region,
        "out_of_season": out_of_season(snapshot, weighed.kept, month) if month else (),
        "due": due(snapshot, [taxa[row] for row in weighed.remain.tolist()], month) if month else {},
        "near": [taxa[row] for row in weighed.near],
        "likeliest": [Likely(taxa[row], share, int(slips[row])) for row, share in weighed.likeliest],
    }
    cited: set[int] = set()
    verdicts = pieces.verdicts(weighed, explain, cited)
    warned = pieces.cautions(cautions_on(snapshot, [taxa[row] for row in weighed.close]))
    return b"".join([as_json(first)[:-1], *verdicts, b',"cautions":[', warned, b'],"citations":{', pieces.citations(cited), b"},", as_json(last)[1:]])


class Pieces:
    """The pieces of one snapshot; those of an observation are kept as long as it is asked for."""

    def __init__(self, snapshot: Snapshot) -> None:
        self._heads = [b',{"taxon":%b,"label":%b' % (as_json(taxon), as_json(label)) for taxon, label in zip(snapshot.taxa, snapshot.labels, strict=True)]
        self._cautions = {key: as_json(caution) for key, caution in snapshot.knowledge.cautions.items()}
        statements = sorted(snapshot.knowledge.statements)
        self._citations = Citations(snapshot.knowledge, statements)
        place_of = {key: place for place, key in enumerate(statements)}
        self._marks: Callable[[Judged], Marks] = lru_cache(maxsize=REMEMBERED)(lambda judged: Marks(judged, place_of))

    def verdicts(self, weighed: Weighed, explain: int | None, cited: set[int]) -> list[bytes]:
        """The verdicts on what remains and on what is out; the places of the statements that they name go to `cited`."""
        rows, remaining = weighed.ordered.tolist(), weighed.remaining
        silent, agrees, atypical, slips = weighed.counts[weighed.ordered].T.tolist()
        shares = [b',"share":%b,"marks":[' % each for each in _listed(weighed.shares)] if remaining else []
        columns = [
            list(map(self._heads.__getitem__, rows)),
            list(map(_counted, silent, agrees, atypical, slips)),
            _listed(weighed.support[weighed.ordered]),
            [*shares, *repeat(b',"share":0.0,"marks":[', len(rows) - remaining)],
        ]
        marks = list(map(self._marks, weighed.heard))
        most = len(rows) if explain is None else explain
        found: list[bytes] = []
        for name, start, end in ((b',"consistent":[', 0, remaining), (b'],"excluded":[', remaining, len(rows))):
            explained = rows[start : min(start + most, end)]
            middle = start + len(explained)
            marked = [column for each in marks for column in (repeat(b","), map(each.__getitem__, explained))][1:]
            side = list(chain.from_iterable(zip(*(each[start:middle] for each in columns), *marked, repeat(b"]}"))))
            side += chain.from_iterable(zip(*(each[middle:end] for each in columns), repeat(b"]}")))
            side[:1] = [each[1:] for each in side[:1]]  # no comma before the first
            found += [name, *side]
            for each in marks:
                cited.update(*map(each.cited.__getitem__, explained))
        return [*found, b"]"]

    def cautions(self, keys: Iterable[str]) -> bytes:
        """Some cautions."""
        return b",".join(map(self._cautions.__getitem__, keys))

    def citations(self, places: set[int]) -> bytes:
        """What some statements cite, by the places of the statements."""
        return b",".join(map(self._citations.__getitem__, sorted(places)))


class Marks(dict[int, bytes]):
    """What one observation says of each taxon, by row, written when first asked for; `cited` holds the places of the statements that it names."""

    def __init__(self, judged: Judged, place_of: dict[str, int]) -> None:
        self._judged, self._place_of = judged, place_of
        self.cited: dict[int, tuple[int, ...]] = {}

    def __missing__(self, row: int) -> bytes:
        mark = self._judged.mark(row)
        self.cited[row] = tuple(self._place_of[key] for ground in mark.grounds for key in ground.statements)
        self[row] = as_json(mark)
        return self[row]


class Citations(dict[int, bytes]):
    """Statements written out, each under its identifier, by their places in the order of identifiers."""

    def __init__(self, knowledge: Knowledge, statements: list[str]) -> None:
        self._knowledge, self._statements = knowledge, statements

    def __missing__(self, place: int) -> bytes:
        self[place] = as_json(citations(self._knowledge, [self._statements[place]]))[1:-1]
        return self[place]


@lru_cache(maxsize=4096)
def _counted(silent: int, agrees: int, atypical: int, slips: int) -> bytes:
    return b',"consistent":%b,"agrees":%d,"atypical":%d,"silent":%d,"slips":%d,"support":' % (b"false" if slips else b"true", agrees, atypical, silent, slips)


def _listed(numbers: Numbers) -> list[bytes]:
    return orjson.dumps(numbers, option=orjson.OPT_SERIALIZE_NUMPY)[1:-1].split(b",")
