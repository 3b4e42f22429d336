"""What follows from a body of knowledge and is written nowhere in it, as triples: ranks above, inherited traits, what parts a pair, what rules a taxon out.

Every figure comes from the same compiled snapshot that answers questions, so that a query and an answer cannot disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from itertools import combinations

import numpy as np
from rdflib import RDF, RDFS, XSD, Literal, URIRef
from rdflib.namespace import PROV
from rdflib.term import Node

from lenticel.compare import disjoint_pairs, statements_behind
from lenticel.engine import consistent
from lenticel.iris import LT, Namer
from lenticel.model import SEASONS, Character
from lenticel.observation import Reader, probe, read_observations
from lenticel.owl import datatype_of, lexical
from lenticel.paths import Place, path_of
from lenticel.snapshot import OPEN_HIGH, OPEN_LOW, Snapshot, members_of

Triple = tuple[Node, Node, Node]
TIERS = (("mayShow", "least", "most"), ("usuallyShows", "usuallyLeast", "usuallyMost"))


class Inferred:
    """The inferred triples of a snapshot, graph by graph."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot, self.known = snapshot, snapshot.knowledge
        self.name = Namer(self.known.about.iri)

    def hierarchy(self) -> Iterator[Triple]:
        """Every taxon and state below what holds it at second hand, every character below what is broader at second hand; the ontology has the rest."""
        for key in self.known.taxa:
            for above in list(self.known.lineage(key))[2:]:
                yield self.name.taxon(key), RDFS.subClassOf, self.name.taxon(above)
            if key in self.known.terminal:
                yield self.name.taxon(key), RDF.type, LT.LowestTaxon
        for key in self.known.characters:
            for broader in list(self.known.broadening(key))[2:]:
                yield self.name.record("characters", key), RDFS.subPropertyOf, self.name.record("characters", broader)
        for key, state in self.known.states.items():
            above_state = self.known.states.get(f"{state.character}.{state.parent}")
            while above_state and above_state.parent:
                above_state = self.known.states[f"{state.character}.{above_state.parent}"]
                yield self.name.record("states", key), RDFS.subClassOf, self.name.record("states", above_state.key)

    def traits(self) -> Iterator[Triple]:
        """What each taxon may show and usually shows for each character on which anything is said of it or of a rank above."""
        for taxon in self.known.taxa:
            for key in self.snapshot.body.bindings[taxon]:
                yield from self.trait(taxon, key)

    def trait(self, taxon: str, key: str) -> Iterator[Triple]:
        """What a taxon may show and usually shows for a character; nothing if nothing is said of it."""
        behind = statements_behind(self.snapshot, taxon, key)
        if not behind:
            return
        trait = self.name.trait(taxon, key)
        yield trait, RDF.type, LT.Trait
        yield trait, LT.taxon, self.name.taxon(taxon)
        yield trait, LT.character, self.name.record("characters", key)
        yield from ((trait, PROV.wasDerivedFrom, self.name.record("statements", each)) for each in behind)
        if not any(self.known.statements[each].taxon == taxon for each in behind):
            yield trait, LT.inherited, Literal("true", datatype=XSD.boolean)
        yield from self._region(trait, self.known.characters[key], self.snapshot.place_of[taxon])

    def _region(self, trait: URIRef, character: Character, place: int) -> Iterator[Triple]:
        where = self.snapshot.layout[character.id]
        for tier, (shows, least, most) in enumerate(TIERS):
            if where.atoms:
                planes = (self.snapshot.typical if tier else self.snapshot.hard)[where.first : where.first + where.atoms]
                mask = sum(1 << bit for bit, plane in enumerate(planes) if int(plane[place // 64]) >> place % 64 & 1)
                yield from ((trait, LT[shows], value) for value in self._values(character, mask))
            else:
                low, high = (int(each) for each in self.snapshot.ranges[2 * tier : 2 * tier + 2, where.slot, place])
                for word, bound, open_end in ((least, low, OPEN_LOW), (most, high, OPEN_HIGH)):
                    if bound != open_end:
                        yield trait, LT[word], _number(character, Decimal(bound).scaleb(-where.places))

    def _values(self, character: Character, mask: int) -> Iterator[Node]:
        """The states that have anything in common with a set of atoms, or its months."""
        if character.kind == "month":
            yield from (Literal(month, datatype=XSD.integer) for month in range(1, 13) if mask >> month - 1 & 1)
            return
        partition = self.snapshot.body.partitions[character.id]
        root = self.known.broadest(character.id)
        for state in self.known.states_of(character.id):
            if partition.union([state.id]) & mask:
                yield self.name.record("states", f"{root}.{state.id}")

    def pairs(self) -> Iterator[Triple]:
        """For each pair of lowest taxa: the characters that part it, decisively or by what is usual, and the seasons in which any does."""
        yield from self.pairs_of(self.known.terminal)

    def pairs_of(self, taxa: Sequence[str]) -> Iterator[Triple]:
        """The same for the pairs among some lowest taxa."""
        rows = np.array([self.snapshot.place_of[taxon] for taxon in taxa], np.intp)
        parted: dict[tuple[int, int], dict[str, list[str]]] = {}
        for key, character in self.known.characters.items():
            hard, usual = (disjoint_pairs(self.snapshot, rows, key, tier) for tier in (0, 1))
            decisive = hard if character.force == "diagnostic" else np.zeros_like(hard)
            for force, flags in (("decisive", decisive), ("typical", (usual | hard) & ~decisive)):
                for one, other in np.argwhere(np.triu(flags, 1)).tolist():
                    parted.setdefault((one, other), {}).setdefault(force, []).append(key)
        for one, other in combinations(range(len(taxa)), 2):
            yield from self._pair(taxa[one], taxa[other], parted.get((one, other), {}))

    def _pair(self, one: str, other: str, parted: dict[str, list[str]]) -> Iterator[Triple]:
        node = self.name.pair(one, other)
        yield node, RDF.type, LT.Pair
        yield node, LT.taxa, self.name.taxon(one)
        yield node, LT.taxa, self.name.taxon(other)
        for force, word in (("decisive", LT.partedBy), ("typical", LT.usuallyPartedBy)):
            yield from ((node, word, self.name.record("characters", key)) for key in parted.get(force, ()))
        seasons = {force: {season for key in parted.get(force, ()) for season in self.known.characters[key].seasons} for force in ("decisive", "typical")}
        for season in SEASONS:
            word = LT.partedIn if season in seasons["decisive"] else LT.usuallyPartedIn if season in seasons["typical"] else LT.alikeIn
            yield node, word, Literal(season)

    def exclusions(self) -> Iterator[Triple]:
        """The lowest taxa that a plant cannot be that shows a state; `excludesWild` where that holds only of wild plants."""
        reader = Reader(self.snapshot)
        lowest = members_of(self.snapshot.terminal, self.snapshot.taxa_count)
        for key, state in self.known.states.items():
            character = self.known.characters[state.character]
            wild = character.force == "circumstantial"
            probes = [probe(self.snapshot, each) for each in read_observations(reader, [(state.character, state.id)])]
            left = np.zeros_like(lowest)
            left[consistent(self.snapshot, probes, wild=wild)] = True
            word = LT.excludesWild if wild else LT.excludes
            for place in np.flatnonzero(lowest & ~left).tolist():
                yield self.name.record("states", key), word, self.name.taxon(self.snapshot.taxa[place])


def _number(character: Character, value: Decimal) -> Literal:
    datatype = datatype_of(character)
    return Literal(lexical(value, datatype), datatype=datatype)


def graphs_of(snapshot: Snapshot) -> dict[str, Iterable[Triple]]:
    """The inferred graphs by the last part of their names."""
    inferred = Inferred(snapshot)
    return {"hierarchy": inferred.hierarchy(), "traits": inferred.traits(), "pairs": inferred.pairs(), "exclusions": inferred.exclusions()}


def places_of(snapshot: Snapshot) -> Mapping[str, Place]:
    """Every path below the knowledge's IRI that names something inferred, as it is quoted there."""
    known = snapshot.knowledge
    keys = {
        "pairs": [f"{one}/{other}" for one, other in combinations(known.terminal, 2)],
        "traits": [f"{taxon}/{key}" for taxon in known.taxa for key in snapshot.body.bindings[taxon] if statements_behind(snapshot, taxon, key)],
    }
    return {path_of(table, key): Place(table, key) for table in keys for key in keys[table]}
