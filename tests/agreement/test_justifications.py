"""HermiT confirms justifications: their axioms entail what they justify, no axiom can go, and all are the ontology's own."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from itertools import islice

from rdflib import Graph

from lenticel import owl
from lenticel.compiler import compile_graph
from lenticel.confirm import Confirmed, confirm, graph_of
from lenticel.deduction import BROADER, CELL, CONDITION, COVER, DISJOINT, STATE, TAXON
from lenticel.errors import BadQuestion
from lenticel.identify import Context, identify
from lenticel.justify import Justification, why_apart, why_out
from lenticel.model import Knowledge
from lenticel.observation import Observation, Reader
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge, random_observation

SAMPLE = 200
APART = 70  # of them separations, every third one
SMALL_ONTOLOGIES = 40


Justified = tuple[Justification, list[Observation]]


def random_exclusion(rnd: random.Random, snapshot: Snapshot, reader: Reader) -> Justified | None:
    """Why a random taxon is out for a random observation; None if it is not."""
    observation, taxon, wild = random_observation(rnd, reader), rnd.choice(snapshot.taxa), rnd.random() < 0.3
    found = why_out(snapshot, taxon, [observation], wild=wild).justifications
    return (found[0], [observation]) if found else None


def random_separation(rnd: random.Random, snapshot: Snapshot) -> Justified | None:
    """Why a random character separates two random taxa; None if it does not, or one holds the other."""
    one, other = rnd.sample(snapshot.taxa, 2)
    known = snapshot.knowledge
    if one in known.lineage(other) or other in known.lineage(one):
        return None
    try:
        return why_apart(snapshot, one, other, rnd.choice(list(known.characters))).justifications[0], []
    except BadQuestion:
        return None


def faults(snapshot: Snapshot, ontology: Graph, each: Justification, seen: list[Observation]) -> list[str]:
    """What HermiT, or the ontology, has against a justification."""
    said = confirm(snapshot.body, each, seen)
    found = [] if said.sufficient else [f"not enough: {each.entailment}"]
    found += [f"idle: {axiom} for {each.entailment}" for axiom in said.idle]
    return found + [f"not in the ontology: {triple}" for triple in graph_of(snapshot.body, each.axioms) if triple not in ontology]


def test_a_random_sample_over_the_real_ontology_is_confirmed(ontology: tuple[Graph, Knowledge], trees: Snapshot, reader: Reader) -> None:
    rnd = random.Random(20261129)
    out = (each for each in iter(lambda: random_exclusion(rnd, trees, reader), 0) if each)
    apart = (each for each in iter(lambda: random_separation(rnd, trees), 0) if each)
    sample = [*islice(out, SAMPLE - APART), *islice(apart, APART)]
    assert len(sample) == SAMPLE
    found = [fault for each, seen in sample for fault in faults(trees, ontology[0], each, seen)]
    kinds = Counter(axiom.kind for each, _ in sample for axiom in each.axioms)
    forces = Counter(each.force for each, _ in sample)
    print(f"{SAMPLE} justifications put to HermiT, {sum(kinds.values())} axioms each left out once, {len(found)} faults; {dict(kinds)}; {dict(forces)}")
    assert not found, found[:5]
    assert {TAXON, CELL, CONDITION, STATE, DISJOINT} <= set(kinds), "the sample is too uniform to mean much"
    assert len(forces) > 1


def test_random_small_ontologies_with_every_construct_are_confirmed() -> None:
    kinds: Counter[str] = Counter()
    forces: Counter[str] = Counter()
    found: list[str] = []
    count = 0
    for seed in range(SMALL_ONTOLOGIES):
        rnd = random.Random(seed)
        graph = owl.write(random_knowledge(rnd))
        snapshot = compile_graph(graph)
        reader = Reader(snapshot)
        drawn = [random_exclusion(rnd, snapshot, reader) for _ in range(8)] + [random_separation(rnd, snapshot) for _ in range(8)]
        for each, seen in [each for each in drawn if each][:3]:
            count += 1
            forces[each.force] += 1
            kinds.update(axiom.kind for axiom in each.axioms)
            found += [f"ontology {seed}: {fault}" for fault in faults(snapshot, graph, each, seen)]
    print(f"{count} justifications of {SMALL_ONTOLOGIES} small ontologies put to HermiT, {len(found)} faults; {dict(kinds)}; {dict(forces)}")
    assert not found, found[:5]
    assert count > SMALL_ONTOLOGIES
    assert {TAXON, CELL, BROADER, CONDITION, STATE, DISJOINT, COVER} <= set(kinds)
    assert set(forces) == {"decisive", "wild", "typical"}


def test_a_justification_that_lacks_an_axiom_or_has_one_too_many_is_refused(trees: Snapshot, reader: Reader) -> None:
    seen = [reader.observation("leaflet-count", "7"), reader.observation("leaf-arrangement", "alternate")]
    sound, other = why_out(trees, "acer-saccharum", seen).justifications
    assert confirm(trees.body, sound, seen) == Confirmed(True, ())
    for place in range(len(sound.steps)):
        assert not confirm(trees.body, replace(sound, steps=sound.steps[:place] + sound.steps[place + 1 :]), seen).sufficient
    said = confirm(trees.body, replace(sound, steps=(*sound.steps, *other.steps)), seen)
    assert said.sufficient
    assert set(said.idle) == set(other.axioms)


def test_every_exclusion_of_the_engine_has_a_justification(trees: Snapshot, reader: Reader) -> None:
    rnd = random.Random(5)
    checked = 0
    for _ in range(12):
        seen: list[Observation] = [random_observation(rnd, reader) for _ in range(3)]
        for wild in (False, True):
            for verdict in identify(trees, seen, Context(wild), every_rank=True).excluded[::7]:
                answer = why_out(trees, verdict.taxon, seen, wild=wild)
                assert {each.about for each in answer.justifications} >= {mark.observation for mark in verdict.marks if mark.verdict == "contradicts"}
                checked += 1
    print(f"{checked} exclusions justified")
    assert checked > 100
