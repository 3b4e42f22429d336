"""The engine and HermiT, a description-logic reasoner, give the same answer: on the real ontology and on random ones."""

from __future__ import annotations

import random

from rdflib import Graph

from lenticel import owl
from lenticel.compiler import compile_graph
from lenticel.identify import Context, identify
from lenticel.model import Knowledge
from lenticel.observation import Observation, Reader
from lenticel.proof import Hermit
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge, random_observation

REAL_SETS = 350
SMALL_ONTOLOGIES = 200
SETS_EACH = 12


def _differences(snapshot: Snapshot, hermit: Hermit, sets: list[list[Observation]]) -> tuple[int, list[str]]:
    """How many verdicts (taxon and set) were compared, and each one on which the two differ."""
    compared = 0
    differing: list[str] = []
    for place, observations in enumerate(sets):
        wild = place % 2 == 1
        answer = identify(snapshot, observations, Context(wild), every_rank=True)
        said = hermit.answer(place, wild=wild)
        excluded = {each.taxon for each in answer.excluded}
        atypical = {each.taxon for each in answer.consistent if each.atypical}
        compared += snapshot.taxa_count
        found = sorted((excluded ^ said.excluded) | (atypical ^ said.atypical))
        differing += [f"{taxon} {'wild' if wild else ''}: {[each.text for each in observations]}" for taxon in found]
    return compared, differing


def test_the_real_ontology_gives_the_same_verdicts_by_both(ontology: tuple[Graph, Knowledge], trees: Snapshot, reader: Reader) -> None:
    rnd = random.Random(20261125)
    sets = [[random_observation(rnd, reader) for _ in range(rnd.randint(1, 12))] for _ in range(REAL_SETS)]
    hermit = Hermit(*ontology, sets)
    assert hermit.is_consistent()
    compared, differing = _differences(trees, hermit, sets)
    print(f"{REAL_SETS} sets, {compared} verdicts compared with HermiT, {len(differing)} differ")
    assert compared == REAL_SETS * len(trees.taxa)
    assert not differing


def test_random_small_ontologies_give_the_same_verdicts_by_both() -> None:
    compared = excluded = 0
    differing: list[str] = []
    for seed in range(SMALL_ONTOLOGIES):
        rnd = random.Random(seed)
        known = random_knowledge(rnd)
        graph = owl.write(known)
        snapshot = compile_graph(graph)
        reader = Reader(snapshot)
        sets = [[random_observation(rnd, reader) for _ in range(rnd.randint(1, 4))] for _ in range(SETS_EACH)]
        hermit = Hermit(graph, known, sets)
        here, found = _differences(snapshot, hermit, sets)
        hermit.close()
        compared += here
        excluded += sum(len(identify(snapshot, each, every_rank=True).excluded) for each in sets)
        differing += [f"ontology {seed}: {each}" for each in found]
    print(f"{SMALL_ONTOLOGIES} ontologies, {compared} verdicts compared with HermiT, {excluded} exclusions, {len(differing)} differ")
    assert excluded > compared / 10, "the generator hardly excludes anything, so that agreement would mean little"
    assert not differing, differing[:5]
