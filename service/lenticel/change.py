"""What a change of the tables did to what can be told apart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from lenticel.account import Disagreement, all_disagreements
from lenticel.cells import region_mask
from lenticel.cite import taxa_by_name
from lenticel.compare import sets_apart
from lenticel.difference import Causes, RowChange, row_changes
from lenticel.model import Acknowledged, Knowledge
from lenticel.parting import Alone, LostSeparator, Pair, Parting, partings
from lenticel.probing import Moved, moved
from lenticel.quantity import Interval
from lenticel.recording import unrecorded
from lenticel.snapshot import Snapshot
from lenticel.why import region_text


@dataclass(frozen=True, slots=True)
class CellChange:
    """What is said of a taxon and a character came to mean something else: `tier` "hard" is what it may show, "typical" what it usually shows.

    `how` is widened, narrowed, moved, new or gone; `old` and `new` say what is shown, in words ("unknown" if nothing is said).
    """

    taxon: str
    character: str
    tier: str
    how: str
    old: str
    new: str
    causes: tuple[RowChange, ...]


@dataclass(frozen=True, slots=True)
class Lost:
    """A character no longer separates a pair that a source warns of and that can hurt; `acknowledged` holds the reason, if somebody gave one."""

    lookalike: str
    pair: Pair
    character: str
    force: str
    causes: tuple[RowChange, ...]
    acknowledged: str


@dataclass(frozen=True, slots=True)
class Dispute:
    """A disagreement that appeared, vanished, or was settled or opened again."""

    disagreement: Disagreement
    how: str
    causes: tuple[RowChange, ...]


@dataclass(frozen=True, slots=True)
class SharedName:
    """A name came to be one of several taxa; `means` is the one that it alone is taken to mean, "" if whoever writes it is asked which."""

    name: str
    taxa: tuple[str, ...]
    means: str
    causes: tuple[RowChange, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """All that a change did.

    `rows` are the rows themselves; the rest is what they did, each with the rows that caused it. `lost` that nobody
    acknowledged, and `stale` acknowledgements of what was not lost, are errors; `alone` and `shared_names` are warnings.
    `unrecorded` are the new statements of which no row says who recorded them.
    """

    old: str
    new: str
    rows: tuple[RowChange, ...]
    cells: tuple[CellChange, ...]
    probes: int
    answers: tuple[Moved, ...]
    partings: tuple[Parting, ...]
    lost: tuple[Lost, ...]
    stale: tuple[str, ...]
    disputes: tuple[Dispute, ...]
    unused: tuple[str, ...]
    unrecorded: tuple[str, ...]
    alone: tuple[Alone, ...]
    shared_names: tuple[SharedName, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing in it is an error."""
        return not self.stale and all(each.acknowledged for each in self.lost)


def change(old: Snapshot, new: Snapshot, acknowledged: Iterable[Acknowledged] = ()) -> Change:
    """What the change from one version to another did.

    Args:
        old: the version before.
        new: the version after.
        acknowledged: losses that somebody accepts with a reason; only those that the new version added.
    """
    rows = row_changes(old.knowledge, new.knowledge)
    cells = list(_cell_changes(old, new))
    causes = Causes(old.knowledge, new.knowledge, rows, {(each.taxon, each.character, each.tier) for each in cells})
    parted = partings(old, new, causes)
    accepted = {(*sorted((each.one, each.other)), each.character): each for each in acknowledged}
    lost = tuple(_lost(old.knowledge, new.knowledge, parted.lost, accepted))
    used = {(*sorted(each.pair), each.character) for each in lost}
    probes, answers = moved(old, new, causes)
    return Change(
        old.digest,
        new.digest,
        tuple(rows),
        tuple(replace(each, causes=causes.of_cell(each.taxon, each.character)) for each in cells),
        probes,
        answers,
        parted.changed,
        lost,
        tuple(f"{one}, {other}: {character}" for one, other, character in sorted(accepted.keys() - used)),
        tuple(_disputes(old, new, rows)),
        tuple(sorted(_unused(new.knowledge) - _unused(old.knowledge))),
        tuple(each.id for each in unrecorded(new.knowledge, old.knowledge) if each.id not in old.knowledge.statements),
        parted.alone,
        tuple(_shared_names(old.knowledge, new.knowledge, rows)),
    )


def _cell_changes(old: Snapshot, new: Snapshot) -> Iterator[CellChange]:
    for key in dict.fromkeys((*old.body.cells, *new.body.cells)):
        before, after = (each.body.cells.get(key) for each in (old, new))
        cell = after or before
        assert cell is not None
        if not all(cell.taxon in each.knowledge.taxa for each in (old, new)):
            continue  # the rows say all of a taxon that came or went
        texts = tuple(
            region_text(each.body, each.knowledge.characters[cell.character], [held]) if held else "unknown" for each, held in ((old, before), (new, after))
        )
        if texts[0] != texts[1]:
            how = "new" if before is None else "gone" if after is None else _direction(old, new, key)
            yield CellChange(cell.taxon, cell.character, cell.tier, how, texts[0], texts[1], ())


def _direction(old: Snapshot, new: Snapshot, cell: str) -> str:
    before, after = old.body.cells[cell].region, new.body.cells[cell].region
    mine, its = (_extent(snapshot, cell) for snapshot in (old, new))
    if isinstance(mine, set) and isinstance(its, set):
        return "widened" if mine < its else "narrowed" if its < mine else "moved"
    if isinstance(before, Interval) and isinstance(after, Interval):
        both = before.meet(after)
        return "widened" if both == before else "narrowed" if both == after else "moved"
    return "moved"


def _extent(snapshot: Snapshot, key: str) -> set[str] | None:
    """The atoms of a cell by name, None if it is an interval."""
    cell = snapshot.body.cells[key]
    if isinstance(cell.region, Interval):
        return None
    partition = snapshot.body.partitions[cell.character]
    mask = region_mask(partition, cell.region)
    return {atom for bit, atom in enumerate(partition.atoms) if mask >> bit & 1}


def _lost(old: Knowledge, new: Knowledge, lost: Iterable[LostSeparator], accepted: dict[tuple[str, ...], Acknowledged]) -> Iterator[Lost]:
    """Of the separators that pairs lost, those of pairs that a record with a hazard sets against each other."""
    found = list(lost)
    for lookalike in {**old.lookalikes, **new.lookalikes}.values():
        if not lookalike.hazard:
            continue
        for pair, character, force, why in found:
            if sets_apart(lookalike, [set(new.lineage(each)) for each in pair]):
                known = accepted.get((*sorted(pair), character))
                yield Lost(lookalike.id, pair, character, force, why, known.reason if known else "")


def _disputes(old: Snapshot, new: Snapshot, rows: Iterable[RowChange]) -> Iterator[Dispute]:
    mine, its = ({(each.one, each.other): each for each in all_disagreements(version)} for version in (old, new))
    changed = [each for each in rows if each.logical or each.table == "resolutions"]
    for key in dict.fromkeys((*mine, *its)):
        before, after = mine.get(key), its.get(key)
        if before and after:
            how = {(True, False): "opened again", (False, True): "settled"}.get((bool(before.resolution), bool(after.resolution)), "")
        else:
            how = "appeared" if after else "vanished"
        if how:
            each = after or before
            assert each is not None
            yield Dispute(each, how, tuple(row for row in changed if _concerns(row, each, how)))


def _concerns(row: RowChange, each: Disagreement, how: str) -> bool:
    if how in ("settled", "opened again"):
        return row.table == "resolutions" and row.key.startswith(f"{each.taxon}.{each.character}.")
    if row.table == "statements":
        return row.key.startswith(f"{each.taxon}.{each.character}.")
    return (row.table == "characters" and row.key == each.character) or (row.table == "states" and row.key.startswith(f"{each.character}."))


def _unused(knowledge: Knowledge) -> set[str]:
    return set(knowledge.characters) - {each.character for each in knowledge.statements.values()}


def _shared_names(old: Knowledge, new: Knowledge, rows: Iterable[RowChange]) -> Iterator[SharedName]:
    changed = [each for each in rows if each.table in ("taxa", "names") and each.how != "gone"]
    before, (accepted, names) = taxa_by_name(old)[1], taxa_by_name(new)
    for name, taxa in sorted(names.items()):
        above = {rank for taxon in taxa for rank in new.lineage(taxon) if rank != taxon}  # a genus may be called like its species
        if len(taxa - above) < 2 or taxa == before.get(name):
            continue
        own = accepted.get(name, set())
        causes = (each for each in changed if each.key in taxa or each.key.partition(".")[2].casefold().startswith(f"{name}."))
        yield SharedName(name, tuple(sorted(taxa)), next(iter(own)) if len(own) == 1 else "", tuple(causes))
