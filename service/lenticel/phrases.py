"""Axioms and what they entail in words: in OWL's Manchester syntax (W3C Note, 2012) with local names, and as a person in the field says it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from lenticel.cells import Region, StateRegion
from lenticel.cite import Citation
from lenticel.deduction import BINDING, BROADER, CELL, CONDITION, COVER, DISJOINT, RANGE, STATE, TAXON, Axiom, Claim
from lenticel.model import Knowledge
from lenticel.observation import Part
from lenticel.quantity import ANY, Interval, plain, runs
from lenticel.snapshot import Snapshot
from lenticel.why import region_text

CITED = 3
Drawn = tuple[str, str, str, list[Citation]]  # the taxon, the character, what it shows, and who says so


def in_owl(snapshot: Snapshot, axiom: Axiom) -> str:
    """An axiom in Manchester syntax."""
    objects = [each.replace(".", "/") for each in axiom.objects]
    name = axiom.subject.replace(".", "/")
    value = f"{name}/value" if "/" not in name else name
    values = [each if "/" in each else f"{each}/value" for each in objects]
    if axiom.kind == CELL:
        cell = snapshot.body.cells[axiom.subject]
        return f"cell:{name} SubClassOf: {cell.character} only {_filler(snapshot.knowledge, cell.character, cell.region)}"
    return {
        TAXON: lambda: f"{name} SubClassOf: {objects[0]}",
        BINDING: lambda: f"{name} SubClassOf: cell:{objects[0]}",
        BROADER: lambda: f"{name} SubPropertyOf: {objects[0]}",
        CONDITION: lambda: f"{name} Domain: {objects[0]} some {_either(objects[1:])}",
        RANGE: lambda: f"{name} Range: {snapshot.knowledge.broadest(name)}/value",
        STATE: lambda: f"{name} SubClassOf: {values[0]}",
        DISJOINT: lambda: f"DisjointClasses: {', '.join(objects)}",
        COVER: lambda: f"{value} EquivalentTo: {' or '.join(objects)}",
    }[axiom.kind]()


def in_words(snapshot: Snapshot, axiom: Axiom) -> str:
    """An axiom as a sentence."""
    known = snapshot.knowledge
    if axiom.kind == TAXON:
        return f"Every {plants(known, axiom.subject)} is one of {plants(known, axiom.objects[0])}."
    if axiom.kind == BINDING:
        cell = snapshot.body.cells[axiom.objects[0]]
        usual = " usually" if cell.tier == "typical" else ""
        return (
            f"What {known.taxa[cell.taxon].scientific_name}{usual} shows of the {_label(known, cell.character)} holds for every {plants(known, axiom.subject)}."
        )
    if axiom.kind == CELL:
        cell = snapshot.body.cells[axiom.subject]
        return f"That is, of the {_label(known, cell.character)}, nothing but: {region_text(snapshot.body, known.characters[cell.character], [cell])}."
    if axiom.kind in (BROADER, CONDITION, RANGE):
        return _of_character(known, axiom)
    states = [_state_label(known, each) for each in axiom.objects]
    subject = _state_label(known, axiom.subject)
    if axiom.kind == STATE:
        return f"“{subject}” is a kind of {states[0]}."
    if axiom.kind == DISJOINT:
        return f"Of these, one excludes the others: {', '.join(states)}."
    return f"Every {subject} is one of: {', '.join(states)}."


def _of_character(known: Knowledge, axiom: Axiom) -> str:
    label = _label(known, axiom.subject)
    if axiom.kind == BROADER:
        return f"What is shown of the {label} is shown of the {_label(known, axiom.objects[0])}."
    if axiom.kind == RANGE:
        return f"Whatever is shown of the {label} is a value of it."
    target, *states = axiom.objects
    return f"Only plants with {_label(known, target)}: {' or '.join(states)} can show the {label}."


def claimed(snapshot: Snapshot, claim: Claim) -> str:
    """What a claim says, in Manchester syntax."""
    known = snapshot.knowledge
    seen = [f"({part.character} some {_seen(known, part)})" for part in claim.parts]
    if claim.shown:
        kind = known.characters[claim.shown].kind
        top = {"states": "owl:Thing", "measure": "xsd:decimal"}.get(kind, "xsd:integer")
        seen = [f"({claim.shown} some {top})"]
    classes = " and ".join(claim.classes)
    return f"{classes} SubClassOf: not {_either(seen)}" if len(claim.classes) == 1 else f"{classes} and {_either(seen)} SubClassOf: owl:Nothing"


def because(snapshot: Snapshot, claim: Claim, force: str, drawn: Sequence[Drawn]) -> str:
    """Why a taxon is out, as one says it in the field."""
    known = snapshot.knowledge
    seen = " or ".join(f"{_label(known, part.character)}: {part.text}" for part in claim.parts)
    apart = [key for key in dict.fromkeys(character for _, character, _, _ in drawn) if key not in {part.character for part in claim.parts}]
    means = f", which bears on the {' and the '.join(_label(known, key) for key in apart)}" if apart else ""
    wild = " and the plant is taken as wild" if force == "wild" else ""
    return f"It is out because you saw {seen}{means}{wild}; {_all_lines(known, drawn)}."


def separated(known: Knowledge, claim: Claim, force: str, drawn: Sequence[Drawn]) -> str:
    """Why two taxa are apart, as one says it in the field."""
    one, other = (known.taxa[each.partition("/")[0]].scientific_name for each in claim.classes)
    head = {"decisive": "No plant is both", "wild": "No wild plant is both", "typical": "What is usual parts"}[force]
    lines = _all_lines(known, drawn, "a usual" if force == "typical" else "every")
    return f"{head} {one} and {other}, if it shows the {_label(known, claim.shown)} at all: {lines}."


def _all_lines(known: Knowledge, drawn: Sequence[Drawn], every: str = "every") -> str:
    return "; ".join(
        f"{every} {known.taxa[taxon].scientific_name} has {_label(known, character)}: {shown} ({_cited(said)})" for taxon, character, shown, said in drawn
    )


def _cited(said: Sequence[Citation]) -> str:
    places = list(dict.fromkeys(f"{each.short}, {each.locator}" for each in said))
    return "; ".join(places[:CITED]) + (f"; and {len(places) - CITED} more" if len(places) > CITED else "")


def plants(known: Knowledge, cls: str) -> str:
    """A class of plants in words."""
    taxon, _, tier = cls.partition("/")
    return f"{'usual' if tier == 'typical' else tier} {known.taxa[taxon].scientific_name}".strip()


def _label(known: Knowledge, character: str) -> str:
    return known.characters[character].label


def _state_label(known: Knowledge, key: str) -> str:
    return known.states[key].label if key in known.states else f"value of the {_label(known, key)}"


def _either(words: Iterable[str]) -> str:
    chosen = list(words)
    return chosen[0] if len(chosen) == 1 else f"({' or '.join(chosen)})"


def _seen(known: Knowledge, part: Part) -> str:
    character = known.characters[part.character]
    if character.kind == "states":
        return _filler(known, part.character, StateRegion((), part.chosen) if part.denied else StateRegion(part.chosen))
    if character.kind == "month":
        return _filler(known, part.character, frozenset(int(month) for month in part.chosen))
    return _either(_filler(known, part.character, span) for span in part.spans)


def _filler(known: Knowledge, character: str, region: Region) -> str:
    if isinstance(region, StateRegion):
        root = known.broadest(character)
        denied = [] if region.denied is None else [f"not {_either(f'{root}/{state}' for state in region.denied)}"]
        return _either([*(f"{root}/{state}" for state in region.allowed), *denied])
    datatype = "xsd:decimal" if known.characters[character].kind == "measure" else "xsd:integer"
    if isinstance(region, Interval):
        return _span(datatype, region)
    return _either(f"{datatype}[>= {first}, <= {last}]" for first, last in runs(region))


def _span(datatype: str, span: Interval) -> str:
    ends = [f"{sign} {plain(end)}" for sign, end in ((">=", span.lo), ("<=", span.hi)) if end is not None]
    return datatype if span == ANY else f"{datatype}[{', '.join(ends)}]"
