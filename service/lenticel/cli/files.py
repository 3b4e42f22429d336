"""Files on the command line, read whole, with what to do where they cannot be."""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path

from lenticel.errors import LenticelError

MAX_FILE = 1 << 20


def text_of(file: str, error: type[LenticelError], too_large: str) -> str:
    """The text of a file, or of standard input for "-".

    Args:
        file: its name.
        error: what to raise if it cannot be read, is not UTF-8, or is larger than MAX_FILE bytes.
        too_large: what to do in the last case.
    """
    try:
        data = sys.stdin.buffer.read(MAX_FILE + 1) if file == "-" else Path(file).read_bytes()
        text = data.decode("utf-8-sig")
    except OSError as fault:
        raise error(f"The file {file!r} cannot be read: {fault.strerror}.", "Check its name.") from None
    except UnicodeDecodeError:
        raise error(f"The file {file!r} is not UTF-8.", 'Save it as UTF-8; spreadsheets call that form "CSV UTF-8".') from None
    if len(data) > MAX_FILE:
        raise error(f"The file {file!r} is larger than {MAX_FILE} bytes.", too_large)
    return text


def csv_rows(text: str, header: list[str], error: type[LenticelError]) -> list[list[str]]:
    """The rows of CSV below its header, those that are empty left out; `error` is raised if it is not sound, or begins otherwise.

    What parts the cells may be a comma, a semicolon or a tab, as spreadsheets write it in one country or another.
    """
    try:
        for mark in ",;\t":
            lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True))
            if lines and [cell.strip().casefold() for cell in lines[0][: len(header)]] == header:
                return [line for line in lines[1:] if any(line)]
    except csv.Error as fault:
        raise error(f"The file is not sound CSV: {fault}.", "Close every quote.") from None
    begins = text.partition("\n")[0].strip()[:60]
    raise error(f"The file begins with {begins!r}, not with the header {','.join(header)}.", "Write that header as its first line, above the rows.")
