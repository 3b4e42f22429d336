"""Malformed requests about the invented workshop, in a fixed order: lists, not chance, so that every run asks the same.

The knowledge has the characters thread and head (states), length and pitch (mm), turns (a count) and stocked (months).
"""

from __future__ import annotations

from tests.hostile import addresses, bodies, meanings
from tests.hostile.case import Case

FAMILIES = (
    meanings.wrong_types,
    meanings.conflicts,
    meanings.unknown_terms,
    meanings.quantities,
    bodies.broken_json,
    bodies.encodings,
    bodies.odd_characters,
    bodies.sizes,
    bodies.costly,
    bodies.content_types,
    addresses.methods,
    addresses.queries,
    addresses.places,
    addresses.paths,
)
CASES: list[Case] = [case for family in FAMILIES for case in family()]
