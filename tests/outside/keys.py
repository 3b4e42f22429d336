"""Published keys as they stand in `keys.txt`: each lead with its facts, each taxon with its path."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

FILE = Path(__file__).with_name("keys.txt")
LEAD = re.compile(r"(?P<indent> *)(?P<letter>[a-z]{1,2})\s+(?P<facts>.*?)(?:\s*-> (?P<taxon>[a-z-]+))?")


@dataclass(frozen=True)
class Lead:
    """A lead of a couplet: what it says, in observations and in words that no character here can express; and where it ends, if it does."""

    name: str
    facts: tuple[tuple[str, str], ...]
    unsaid: tuple[str, ...]
    taxon: str


@dataclass(frozen=True)
class Walk:
    """The leads from the top of a key to a taxon."""

    key: str
    source: str
    taxon: str
    leads: tuple[Lead, ...]


def paths() -> Iterator[Walk]:
    """The path of every taxon that a key ends at and that is held here."""
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
        if above[-1].taxon not in ("", "-"):
            yield Walk(key, source, above[-1].taxon, tuple(above))


def _lead(above: list[Lead], found: re.Match[str]) -> Lead:
    said = [each.strip() for each in found["facts"].split(";")]
    facts = tuple((left, right) for left, equals, right in (each.partition("=") for each in said) if equals and not left.startswith("?"))
    unsaid = tuple(each.removeprefix("?").strip() for each in said if each.startswith("?"))
    return Lead("/".join([*(each.name.rpartition("/")[2] for each in above), found["letter"]]), facts, unsaid, found["taxon"] or "")
