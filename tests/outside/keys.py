"""Published keys as they stand in `keys.txt`: each lead with its facts, each taxon with its path."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

FILE = Path(__file__).with_name("keys.txt")
LEAD = re.compile(r"(?P<indent> *)(?P<letter>(?P<first>[a-z])(?P=first)*)\s+(?P<facts>.*?)(?:\s*-> (?P<taxa>[a-z-]+(?:, [a-z-]+)*))?")


@dataclass(frozen=True)
class Lead:
    """A lead of a couplet: what it says, in observations and in words that no character here can express; and the taxa it ends at, if any."""

    name: str
    facts: tuple[tuple[str, str], ...]
    unsaid: tuple[str, ...]
    taxa: tuple[str, ...]

    @property
    def above(self) -> str:
        """The name of the lead that leads to its couplet."""
        return self.name.rpartition("/")[0]


@dataclass(frozen=True)
class Walk:
    """The leads from the top of a key to a taxon."""

    key: str
    source: str
    taxon: str
    leads: tuple[Lead, ...]


def ways() -> Iterator[tuple[str, str, tuple[Lead, ...]]]:
    """Every lead of every key: the key, its source, and the leads from the top down to it."""
    key = source = ""
    above: list[Lead] = []
    for line in FILE.read_text(encoding="utf-8").splitlines():
        if not line.strip() or line.startswith("#"):
            continue
        if line.startswith("key "):
            key, source, _ = (each.strip() for each in line.removeprefix("key ").split("|"))
            continue
        found = LEAD.fullmatch(line)
        assert found, line
        depth = len(found["indent"]) // 2
        above = [*above[:depth], _lead(above[:depth], found)]
        yield key, source, tuple(above)


def paths() -> Iterator[Walk]:
    """The path of every taxon that a key ends at and that is held here."""
    for key, source, leads in ways():
        for taxon in leads[-1].taxa:
            yield Walk(key, source, taxon, leads)


def wrong_turns() -> Iterator[tuple[str, str, Lead]]:
    """Source, taxon and lead, for every lead with facts that stands beside one of the taxon's path and on no path of it, once each."""
    beside: dict[tuple[str, str], list[Lead]] = {}
    for key, _, leads in ways():
        beside.setdefault((key, leads[-1].above), []).append(leads[-1])
    own: dict[tuple[str, str, str], set[str]] = {}
    for walk in paths():
        own.setdefault((walk.key, walk.source, walk.taxon), set()).update(each.name for each in walk.leads)
    for (key, source, taxon), names in own.items():
        for above in sorted({name.rpartition("/")[0] for name in names}):
            yield from ((source, taxon, each) for each in beside[key, above] if each.facts and each.name not in names)


def _lead(above: list[Lead], found: re.Match[str]) -> Lead:
    said = [each.strip() for each in found["facts"].split(";")]
    facts = tuple((left, right) for left, equals, right in (each.partition("=") for each in said) if equals and not left.startswith("?"))
    unsaid = tuple(each.removeprefix("?").strip() for each in said if each.startswith("?"))
    taxa = tuple(each for each in (found["taxa"] or "").split(", ") if each not in ("", "-"))
    return Lead("/".join([*(each.name.rpartition("/")[2] for each in above), found["letter"]]), facts, unsaid, taxa)
