"""The grounds of a verdict are enough, and no part of them can go."""

from __future__ import annotations

import random
from functools import reduce

from lenticel import owl
from lenticel.cells import Cell, region_mask
from lenticel.compiler import compile_graph
from lenticel.identify import identify
from lenticel.observation import Part, Reader, closure
from lenticel.quantity import ANY, Interval
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge, random_observation


def _clash(snapshot: Snapshot, cells: list[Cell], part: Part) -> bool:
    """True if the cells leave nothing of what was seen (worked out here, apart from the code under test)."""
    if part.spans:
        allowed = reduce(Interval.meet, (cell.region for cell in cells if isinstance(cell.region, Interval)), ANY)
        return allowed.empty or not any(allowed.overlaps(span) for span in part.spans)
    partition = snapshot.body.partitions[part.character]
    return not reduce(lambda mask, cell: mask & region_mask(partition, cell.region), cells, part.mask)


def test_on_random_knowledge_every_ground_is_sufficient_and_minimal() -> None:
    checked = joint = 0
    for seed in range(150):
        rnd = random.Random(seed)
        snapshot = compile_graph(owl.write(random_knowledge(rnd)))
        reader = Reader(snapshot)
        for _ in range(6):
            observation = random_observation(rnd, reader)
            answer = identify(snapshot, [observation], every_rank=True)
            for verdict in (*answer.consistent, *answer.excluded):
                for mark in verdict.marks:
                    seen = [each for part in observation.parts for each in closure(snapshot.knowledge, snapshot.body.partitions, part)]
                    for ground in mark.grounds:
                        cells = [snapshot.body.cells[key] for key in ground.cells]
                        bearing = [each for each in seen if {cell.character for cell in cells} <= set(snapshot.knowledge.broadening(each.character))]
                        (meant, *_) = [each for each in bearing if each.text == ground.seen and _clash(snapshot, cells, each)]
                        assert len(cells) == 1 or not any(_clash(snapshot, [cell for cell in cells if cell is not gone], meant) for gone in cells)
                        checked += 1
                        joint += len(cells) > 1
    print(f"{checked} grounds checked, {joint} of them joint")
    assert checked > 500
    assert joint > 0


def test_a_verdict_on_the_real_trees_leads_to_source_and_page(trees: Snapshot, reader: Reader) -> None:
    answer = identify(trees, [reader.observation("petiole-sap", "milky")])
    sugar = next(each for each in answer.excluded if each.taxon == "acer-saccharum")
    (ground,) = sugar.marks[0].grounds
    assert (ground.character, ground.shown) == ("petiole-sap", "clear")
    for key in ground.statements:
        assert answer.citations[key].citation
        assert answer.citations[key].locator
