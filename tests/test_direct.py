"""The short way from records to snapshot gives the very bytes of the way through the ontology."""

from __future__ import annotations

import random
from pathlib import Path

from lenticel import owl
from lenticel.compiler import compile_graph
from lenticel.direct import snapshot_from
from lenticel.model import Knowledge
from lenticel.snapshot import Snapshot
from lenticel.tables import read
from tests.generators import random_knowledge

RANDOM = 200


def same(knowledge: Knowledge, compiled: Snapshot) -> bool:
    found = snapshot_from(knowledge)
    return found.digest == compiled.digest and found.body == compiled.body


def test_the_real_knowledge_comes_out_the_same_both_ways(tables: Path, trees: Snapshot) -> None:
    assert same(read(tables).knowledge, trees)


def test_knowledge_about_no_plant_comes_out_the_same_both_ways(workshop_tables: Path, workshop: Snapshot) -> None:
    assert same(read(workshop_tables).knowledge, workshop)


def test_random_knowledge_comes_out_the_same_both_ways() -> None:
    differ = [seed for seed in range(RANDOM) if not same(known := random_knowledge(random.Random(seed)), compile_graph(owl.write(known)))]
    assert differ == []
    print(f"\n{RANDOM} random bodies of knowledge compiled both ways, {len(differ)} differ")


def test_other_knowledge_does_not_come_out_the_same(workshop_tables: Path, trees: Snapshot) -> None:
    assert not same(read(workshop_tables).knowledge, trees)
