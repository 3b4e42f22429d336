"""The coverage as a picture: a row a taxon, a column a character, the darker the more sources speak."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from itertools import groupby

from lenticel.snapshot import Snapshot

CELL, LEFT, TOP = 8, 190, 120
SHADES = ("#cfd8c4", "#8fae74", "#4f7a3a", "#24451c")  # inherited only, one source, two, three or more


def coverage_picture(snapshot: Snapshot) -> str:
    """The coverage of the lowest taxa as SVG, characters grouped by organ; each cell carries its words as a title."""
    known = snapshot.knowledge
    organs = list(dict.fromkeys(each.organ for each in known.characters.values()))
    characters = sorted(known.characters.values(), key=lambda each: organs.index(each.organ))
    width, height = LEFT + CELL * len(characters) + 10, TOP + CELL * len(known.terminal) + 60
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" font-family="sans-serif" font-size="7">',
        f"<title>{escape(known.about.title)}: which characters are known of which taxa</title>",
        f'<rect width="{width}" height="{height}" fill="#fffdf7"/>',
        *_organs([each.organ for each in characters], height - 60),
    ]
    for row, taxon in enumerate(known.terminal):
        y = TOP + CELL * row
        lines.append(f'<text x="{LEFT - 4}" y="{y + 7}" text-anchor="end" font-style="italic">{escape(known.taxa[taxon].scientific_name)}</text>')
        for column, character in enumerate(characters):
            shade, words = _cell(snapshot, taxon, character.id)
            if shade >= 0:
                title = escape(f"{known.taxa[taxon].scientific_name}, {character.label}: {words}")
                x = LEFT + CELL * column
                lines.append(f'<rect x="{x}" y="{y}" width="{CELL - 1}" height="{CELL - 1}" fill="{SHADES[shade]}"><title>{title}</title></rect>')
    return "\n".join([*lines, *_legend(height - 40), "</svg>"]) + "\n"


def _organs(organs: list[str], bottom: int) -> Iterator[str]:
    at = LEFT
    for organ, group in groupby(organs):
        wide = CELL * len(list(group))
        yield f'<line x1="{at - 0.5}" y1="{TOP - 4}" x2="{at - 0.5}" y2="{bottom}" stroke="#bbb" stroke-width="0.6"/>'
        yield f'<text transform="translate({at + wide / 2 + 3} {TOP - 6}) rotate(-50)" font-size="10">{escape(organ)}</text>'
        at += wide


def _cell(snapshot: Snapshot, taxon: str, character: str) -> tuple[int, str]:
    known = snapshot.knowledge
    sources = {each.source for each in known.statements_on(taxon, character)}
    if sources:
        return min(len(sources), 3), f"{len(sources)} source{'s' if len(sources) > 1 else ''}"
    inherited = any(known.statements_on(rank, character) for rank in known.lineage(taxon))
    return (0, "from a higher rank") if inherited else (-1, "nothing")


def _legend(y: int) -> Iterator[str]:
    for place, (shade, words) in enumerate(zip(SHADES, ("a higher rank only", "one source", "two sources", "three or more"), strict=True)):
        x = LEFT + 130 * place
        yield f'<rect x="{x}" y="{y}" width="10" height="10" fill="{shade}"/><text x="{x + 14}" y="{y + 9}" font-size="10">{words}</text>'
