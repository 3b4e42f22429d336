"""The key for a walk: numbered couplets with leads, for a group, a season and the tools at hand.

At each couplet the character is taken that leaves the fewest looks in the mean, by the same rule that ranks what to look at next
(`looking`), with a charge for whatever costs effort and for taxa that would have to stand in several leads. A taxon goes on along every lead that it
may show, so that no plant which fits a taxon is sent away from it; every path is checked for that against the engine. Where nothing decides any more,
couplets marked as typical go on by what is usual, whose ends name every other taxon that
fits as well; and where not even that tells, the key ends in several taxa and says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from lenticel.cite import Citation, citations
from lenticel.compare import Shown, disjoint_pairs, statements_behind
from lenticel.engine import consistent
from lenticel.errors import BadQuestion
from lenticel.following import members
from lenticel.growth import Growth, Node, in_order
from lenticel.identify import Context, cautions_for
from lenticel.model import Caution, Character
from lenticel.observation import Observation, Part, probe
from lenticel.outcomes import Numbers, Places
from lenticel.quantity import plain
from lenticel.sight import Sight, checked, there, within
from lenticel.snapshot import Snapshot
from lenticel.timing import season_of
from lenticel.why import shown_text

LARGEST = 60  # taxa of a group; a longer key is a book
MOST_PATHS = 20_000  # followed one by one
MOST_NAMED = 4  # states of a lead, before it rather says which are not seen


class AstrayPath(AssertionError):
    """A path that does not end in exactly the taxa that fit all that is seen along it; a fault in the code, never in the question."""


@dataclass(frozen=True, slots=True)
class End:
    """Where a path ends: the taxa; and those that fit as well, but not usually.

    If they are several in all, `elsewhere` are the characters that would decide with other means of looking.
    `cut` says that something would tell them apart, had the key not grown too long; `little` that what is left to ask would strike off too little.
    """

    taxa: tuple[str, ...]
    also: tuple[str, ...]
    elsewhere: tuple[str, ...]
    cut: bool
    little: bool


@dataclass(frozen=True, slots=True)
class Lead:
    """One of the alternatives of a couplet.

    `words` says what is seen, `taxa` are those of the couplet that go on. It leads on `to` a couplet, or (0) to an `end`; with
    neither, no taxon of the group shows this.
    """

    words: str
    taxa: tuple[str, ...]
    to: int
    end: End | None


@dataclass(frozen=True, slots=True)
class Couplet:
    """A numbered choice; `back` are the couplets that lead to it. `shown` says for each taxon what is stated of the character, and where.

    A `typical` one rests on what is usual only: its leads send on the taxa that usually show what is seen, and the ends behind it name also those
    that may.
    """

    number: int
    back: tuple[int, ...]
    typical: bool
    character: str
    label: str
    needs: str
    leads: tuple[Lead, ...]
    shown: tuple[Shown, ...]


@dataclass(frozen=True, slots=True)
class Key:
    """A key to a group.

    `couplets` are in order, each after all that lead to it; `end` is set instead if nothing decides at all. `steps` is the expected
    number of deciding couplets on the way of a plant, each taxon being as likely as the others; `longest` the greatest number of couplets of either kind.
    `paths` is how many paths were checked.
    """

    digest: str
    group: tuple[str, ...]
    season: str
    kit: tuple[str, ...]
    parts: tuple[str, ...]
    taxa: tuple[str, ...]
    couplets: tuple[Couplet, ...]
    end: End | None
    steps: float
    longest: int
    paths: int
    cautions: tuple[Caution, ...]
    citations: dict[str, Citation] = field(repr=False)


def key(snapshot: Snapshot, group: Sequence[str], sight: Sight | None = None, context: Context | None = None) -> Key:
    """Make the key to a group.

    Args:
        snapshot: the knowledge.
        group: taxa; of a genus or family, all that lie in it.
        sight: what can be looked at.
        context: its month gives the season if `sight` names none; if the plants are wild, circumstantial characters may decide.

    Raises:
        BadQuestion, UnknownTerm: as `sight.checked`; or the group holds fewer than 2 or more than LARGEST taxa.
    """
    context = context or Context()
    sight = checked(snapshot, sight or Sight())
    sight = replace(sight, season=season_of(context.month)) if context.month and not sight.season else sight
    rows = members(snapshot, group)
    if not 2 <= len(rows) <= LARGEST:
        ends = "1 taxon" if len(rows) == 1 else f"{len(rows)} taxa"
        raise BadQuestion(f"A key to this group would end in {ends}.", f"Name a group that holds 2 to {LARGEST} species or hybrids.", "/taxa")
    root = Growth(snapshot, sight, wild=context.wild).root(rows)
    writer = _Writer(snapshot, sight, wild=context.wild)
    paths = writer.astray(rows, root)
    nodes = in_order(root)
    numbers = {id(node): place for place, node in enumerate(nodes, 1)}
    back: dict[int, set[int]] = {number: set() for number in numbers.values()}
    for node in nodes:
        for branch in node.branches:
            if id(branch.node) in numbers:
                back[numbers[id(branch.node)]].add(numbers[id(node)])
    couplets = tuple(writer.couplet(node, number, tuple(back[number]), numbers) for number, node in enumerate(nodes, 1))
    end = None if nodes else writer.end(root)
    steps, longest = _steps(nodes, len(rows))
    taxa = tuple(snapshot.taxa[row] for row in rows)
    return Key(
        snapshot.digest, tuple(group), sight.season, sight.kit, sight.parts, taxa, couplets, end, round(steps, 3), longest, paths, cautions_for(snapshot, taxa),
        citations(snapshot.knowledge, (statement for each in couplets for shown in each.shown for statement in shown.statements)),
    )  # fmt: skip


def _steps(nodes: Sequence[Node], count: int) -> tuple[float, int]:
    """The expected number of deciding couplets on a plant's way, if each taxon is as likely as the others; and the greatest number of couplets.

    How often a plant of a taxon takes a lead does not hang on how it came there, since no path asks the same character twice; so that what arrives at a
    couplet can be added up over all ways to it.
    """
    arriving: dict[int, Numbers] = {id(node): np.zeros(len(node.rows)) for node in nodes}
    depth = {id(node): 1 for node in nodes}
    if nodes and not nodes[0].typical:
        arriving[id(nodes[0])] = np.full(count, 1 / count)
    for node in nodes:
        for branch in node.branches:
            if branch.node is not None and id(branch.node) in arriving:
                if not branch.node.typical:
                    arriving[id(branch.node)] += (arriving[id(node)] * branch.chance)[branch.may]
                depth[id(branch.node)] = max(depth[id(branch.node)], depth[id(node)] + 1)
    return float(sum(each.sum() for each in arriving.values())), max(depth.values(), default=0)


def words(snapshot: Snapshot, part: Part, *, usual: bool = False) -> str:
    """What is seen, in words: the character's label, and the labels of states, or figures; `usual` if a plant of the taxa usually shows it."""
    character = snapshot.knowledge.characters[part.character]
    seen = _figures(snapshot, part) if part.spans else _states(snapshot, part)
    return f"{character.label}{' ' if seen in ('present', 'absent') else ': '}{'usually ' if usual else ''}{seen}"


def _states(snapshot: Snapshot, part: Part) -> str:
    """States by their labels; or, where they are many, which are not seen. "Otherwise" stands for a kind that has no name here."""
    labels = {state.id: state.label for state in snapshot.knowledge.states_of(part.character)}
    partition = snapshot.body.partitions[part.character]
    chosen, others = partition.describe(part.mask), partition.describe(partition.full & ~part.mask)
    if len(chosen) > max(MOST_NAMED, len(others)) and not any(name.endswith("+") or labels[name].startswith("no") for name in others):
        return f"other than {either([labels[name] for name in others])}"
    named = [labels[name] for name in chosen if not name.endswith("+")]
    return either([*named, *(f"{labels[name[:-1]]} otherwise" if name != "+" else "otherwise" for name in chosen if name.endswith("+"))])


def either(choices: Sequence[str]) -> str:
    """Alternatives as print puts them: "a", "a or b", "a, b or c"."""
    *first, last = choices
    return f"{', '.join(first)} or {last}" if first else last


def _figures(snapshot: Snapshot, part: Part) -> str:
    """A stretch in figures; measures are cut at a figure, below which one lead ends and from which the next begins."""
    character, where = snapshot.knowledge.characters[part.character], snapshot.layout[part.character]
    (span,) = part.spans
    unit = "" if character.unit == "1" else f" {character.unit}"
    step = 0 if character.kind == "count" else 1
    top = None if span.hi is None else span.hi + (span.hi * 0 + step).scaleb(-where.places)
    if span.lo is None:
        return f"{'at most' if character.kind == 'count' else 'less than'} {plain(top)}{unit}"
    if top is None:
        return f"{plain(span.lo)}{unit} or more"
    if character.kind == "count":
        return plain(span.lo) if span.lo == top else f"{plain(span.lo)} to {plain(top)}"
    return f"{plain(span.lo)} to less than {plain(top)}{unit}"


class _Writer:
    """Writes down what has grown."""

    def __init__(self, snapshot: Snapshot, sight: Sight, *, wild: bool) -> None:
        self.snapshot, self.sight, self.wild = snapshot, sight, wild

    def couplet(self, node: Node, number: int, back: Sequence[int], numbers: dict[int, int]) -> Couplet:
        character = self.snapshot.knowledge.characters[node.character]
        leads = []
        for branch in node.branches:
            taxa = tuple(self.snapshot.taxa[row] for row in node.rows[branch.may])
            to = numbers.get(id(branch.node), 0)
            leads.append(Lead(words(self.snapshot, branch.part, usual=node.typical), taxa, to, self.end(branch.node) if branch.node and not to else None))
        leads.sort(key=lambda each: not each.to and each.end is None)
        shown = tuple(self.shown(self.snapshot.taxa[row], node.character) for row in node.rows)
        return Couplet(number, tuple(sorted(back)), node.typical, node.character, character.label, character.needs, tuple(leads), shown)

    def shown(self, taxon: str, character: str) -> Shown:
        return Shown(taxon, shown_text(self.snapshot, taxon, character), statements_behind(self.snapshot, taxon, character))

    def end(self, node: Node) -> End:
        """What is left to say of the taxa in which a path ends."""
        taxa, also = (tuple(self.snapshot.taxa[row] for row in rows) for rows in (node.rows, node.also))
        elsewhere = [
            character.id
            for character in (self.snapshot.knowledge.characters.values() if len(node.everyone) > 1 else ())
            if character.kind != "month" and (self.wild or character.force == "diagnostic") and self._unseen(character, node.everyone)
            if disjoint_pairs(self.snapshot, node.everyone, character.id, 0).any()
        ]
        return End(taxa, also, tuple(elsewhere), node.cut, node.little)

    def _unseen(self, character: Character, rows: Places) -> bool:
        """Whether the means of looking do not show a character, or some of the taxa have shed it by then."""
        return not within(character, self.sight) or bool(self.sight.season and not there(self.snapshot, character.id, rows, self.sight.season).all())

    def astray(self, rows: Places, root: Node) -> int:
        """Follow every path and hold its end against the engine; the number of paths.

        Raises:
            AstrayPath: a plant that fits a taxon would be sent away from it, or one that does not fit be sent to it.
        """
        count = 0
        waiting: list[tuple[Node | None, tuple[Observation, ...], Places]] = [(root, (), rows)]
        while waiting:
            node, path, here = waiting.pop()
            if node and node.character and count < MOST_PATHS:
                for branch in node.branches:
                    there = branch.node.everyone if branch.node else rows[:0]
                    waiting.append((branch.node, (*path, Observation((branch.part,))), there))
                continue
            fits = consistent(self.snapshot, [probe(self.snapshot, each) for each in path], wild=self.wild)
            if not np.array_equal(rows[np.isin(rows, fits)], here):
                raise AstrayPath(" / ".join(each.text for each in path))
            count += 1
        return count
