"""What spreadsheets of another country do to a table: letters that are not UTF-8, and rows that a decimal comma splits in two."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Sequence

from lenticel.ranges import with_points

_FIGURES = re.compile(r"[\d\s.()<=>–-]+[a-z_°\[\]]*\.?", re.IGNORECASE)
_WORD = re.compile(r'[^\s,;"]+')
_NEAR = 30  # bytes to either side of the one that is amiss
UNREADABLE = 'Save it anew where it was made, as "CSV UTF-8".'


def is_utf16(content: bytes) -> bool:
    """Whether a file begins with the byte order mark of UTF-16, whose bytes are in no UTF-8 (Unicode Standard, 23.8)."""
    return content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) and not content.startswith(codecs.BOM_UTF32_LE)


def text_of(content: bytes) -> str:
    """The text of a file in UTF-8 or in UTF-16 with its mark, without the mark.

    Raises:
        UnicodeDecodeError: it is neither.
    """
    return content.decode("utf-16" if is_utf16(content) else "utf-8-sig")


def not_utf8(content: bytes, start: int) -> tuple[str, str]:
    """What to say of a file that is not UTF-8, and what to do; `start` is the first byte that is amiss.

    Only UTF-16 tells of itself. Any bytes at all are sound in the encodings of one byte a letter, so that only a person sees which it was.
    """
    if is_utf16(content):
        try:
            text_of(content)
        except UnicodeDecodeError:
            return "The file is in UTF-16, and damaged.", UNREADABLE
        return "The file is in UTF-16, not in UTF-8.", '`lenticel check --fix` writes it anew if its header is right; or save it as "CSV UTF-8".'
    line = content[:start].count(b"\n") + 1
    near = content[max(0, start - _NEAR) : start + _NEAR].decode("windows-1252", errors="replace")
    word = next((found[0] for found in _WORD.finditer(near) if found.end() > min(start, _NEAR)), near.strip())
    message = f"The file is not UTF-8: line {line} holds {word!r}, if it is in Windows-1252 (Latin-1)."
    return message, f'Import it as Windows-1252; if {word!r} then reads as it should, save it as "CSV UTF-8" under the same name.'


def rejoined(cells: Sequence[str], place: int, surplus: int) -> str:
    """A row that decimal commas split at one of its cells, as it should be written; "" if that is not what split it.

    Args:
        cells: the row as it was read.
        place: where the cell stands that may hold figures.
        surplus: how many cells it has too many.
    """
    end = place + 1 + surplus
    value = with_points(",".join(cells[place:end]))
    if surplus < 1 or "," in value or not _FIGURES.fullmatch(value):
        return ""
    row = io.StringIO()
    csv.writer(row, lineterminator="").writerow([*cells[:place], value, *cells[end:]])
    return row.getvalue()
