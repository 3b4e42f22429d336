"""Laws of keys, on random knowledge and on invented groups with many silent cells: leads cover and do not overlap, and no plant is sent astray.

The plants are drawn here and led through the couplets lead by lead; nothing of the check that keys make of themselves is used.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel.direct import snapshot_from
from lenticel.growth import Branch, Growth, Node, in_order
from lenticel.identify import identify
from lenticel.keys import key
from lenticel.observation import Observation, Part
from lenticel.quantity import Interval
from lenticel.sight import Sight
from lenticel.snapshot import Snapshot, indices_of
from tests.generators import random_knowledge
from tests.optimal import group

Shown = int | Decimal  # an atom, or a figure

SEEDS = st.integers(0, 10_000)
SIZES = ((8, 5, 3, 3), (14, 4, 4, 4))  # taxa, characters with states, their states, measured characters


def knowledge(seed: int) -> Snapshot:
    """Random knowledge of every construct, or a larger invented group."""
    rnd = random.Random(seed)
    return snapshot_from(random_knowledge(rnd)) if seed % 3 else group(rnd, *SIZES[seed % 2])


def grown(snapshot: Snapshot) -> Node:
    return Growth(snapshot, Sight(), wild=False).root(indices_of(snapshot.terminal))


def shows(part: Part, shown: Shown) -> bool:
    """Whether a plant that shows this has what a lead says."""
    if isinstance(shown, int):
        return bool(part.mask >> shown & 1)
    return any((span.lo is None or span.lo <= shown) and (span.hi is None or shown <= span.hi) for span in part.spans)


def seen(snapshot: Snapshot, character: str, shown: Shown) -> Observation:
    if isinstance(shown, int):
        return Observation((Part(character, 1 << shown, (), f"{character} atom {shown}"),))
    return Observation((Part(character, 0, (Interval(shown, shown),), f"{character} = {shown}"),))


def all_shown(snapshot: Snapshot, character: str) -> Iterator[Shown]:
    """Every atom; or figures from small to large, to the last place that the snapshot keeps, closest about the whole ones."""
    where = snapshot.layout[character]
    if where.atoms:
        yield from range(where.atoms)
    else:
        grain = Decimal(1).scaleb(-where.places)
        for whole in range(16):
            yield from sorted({Decimal(whole) + step for step in (-grain, grain * 0, grain) if whole + step >= 0})


@settings(max_examples=60, deadline=None)
@given(SEEDS)
def test_the_leads_of_a_couplet_cover_and_do_not_overlap(seed: int) -> None:
    """Whatever a plant shows of the character, it has what exactly one lead says; and no lead says what nothing can show."""
    snapshot = knowledge(seed)
    for node in in_order(grown(snapshot)):
        for shown in all_shown(snapshot, node.character):
            assert sum(shows(branch.part, shown) for branch in node.branches) == 1, (node.character, shown)
        for branch in node.branches:
            assert branch.part.mask or all(span.lo is None or span.hi is None or span.lo <= span.hi for span in branch.part.spans), branch.part.text


@settings(max_examples=60, deadline=None)
@given(SEEDS, st.randoms(use_true_random=False))
def test_no_plant_is_sent_away_from_a_taxon_that_it_is_consistent_with(seed: int, chooser: random.Random) -> None:
    """A plant shows of each character asked something that its taxon may show; it ends with that taxon, and with those alone that fit all that was asked."""
    snapshot = knowledge(seed)
    root = grown(snapshot)
    for row in indices_of(snapshot.terminal).tolist():
        node, path = root, []
        while node.character:
            shown = plant_shows(snapshot, chooser, snapshot.taxa[row], node.character)
            if shown is None:
                break  # what the statements leave of this character is nothing
            branch = next(each for each in node.branches if shows(each.part, shown))
            assert branch.node, (snapshot.taxa[row], node.character, shown)
            path.append(branch)
            node = branch.node
        else:
            ends_right(snapshot, snapshot.taxa[row], node, path)


def plant_shows(snapshot: Snapshot, chooser: random.Random, taxon: str, character: str) -> Shown | None:
    """Something of a character that leaves the taxon, by the full answer to the question."""
    choices = list(all_shown(snapshot, character))
    chooser.shuffle(choices)
    return next((each for each in choices if taxon in left(snapshot, [seen(snapshot, character, each)])), None)


def ends_right(snapshot: Snapshot, taxon: str, node: Node, path: list[Branch]) -> None:
    there = {snapshot.taxa[each] for each in node.everyone}
    assert taxon in there
    assert there == left(snapshot, [Observation((each.part,)) for each in path])


def left(snapshot: Snapshot, observations: list[Observation]) -> set[str]:
    return {each.taxon for each in identify(snapshot, observations, explain=0).consistent}


@settings(max_examples=40, deadline=None)
@given(SEEDS)
def test_every_taxon_of_a_key_is_at_an_end_and_on_every_way_to_it(seed: int) -> None:
    """What a lead sends on arrives: the taxa of a couplet are those of the leads to it, and no couplet comes before one that leads to it."""
    snapshot = knowledge(seed)
    taxa = list(snapshot.knowledge.terminal)
    if len(taxa) < 2:
        return
    found = key(snapshot, taxa)
    asked = {couplet.number: {shown.taxon for shown in couplet.shown} for couplet in found.couplets}
    ends = [*(lead.end for couplet in found.couplets for lead in couplet.leads if lead.end), *([found.end] if found.end else [])]
    assert {taxon for end in ends for taxon in end.taxa} == set(taxa)
    for couplet in found.couplets:
        assert all(number < couplet.number for number in couplet.back)
        for lead in couplet.leads:
            assert set(lead.taxa) == (asked[lead.to] if lead.to else set(lead.end.taxa) if lead.end else set())
