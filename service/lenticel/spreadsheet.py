"""Cells that a spreadsheet would take for formulas (OWASP, CSV Injection), and how they are written so that it does not."""

from __future__ import annotations

FORMULA = ("=", "+", "-", "@", "\t", "\r")


def neutral(cell: str) -> str:
    """The cell with an apostrophe before it where it would begin a formula; to have it back, take that one away."""
    return f"'{cell}" if cell.startswith(FORMULA) else cell
