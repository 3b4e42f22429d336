"""Observations on the command line: one by one, or in a file."""

from __future__ import annotations

import argparse

from lenticel.cli.files import csv_rows, text_of
from lenticel.errors import BadObservation
from lenticel.identify import Context


def take_observations(sub: argparse.ArgumentParser) -> None:
    """Let a command take what was seen, whether the plant is wild, and the month."""
    sub.add_argument("file", nargs="?", help="observations: CSV with the columns character,value, or JSON as the API takes it; - for standard input")
    sub.add_argument("-o", "--observe", action="append", default=[], metavar="CHARACTER=VALUE", help="one observation; repeat it for more")
    sub.add_argument("--wild", action="store_true", help="nobody planted it, so that habitat excludes too")
    sub.add_argument(
        "--month", type=int, choices=range(1, 13), default=0, metavar="1-12", help="when it was seen: doubts what cannot be seen then, tells what is due"
    )
    sub.add_argument("--region", default="", metavar="REGION", help="where it stands, such as Ontario or ont; it orders and never excludes")


def observed(options: argparse.Namespace) -> tuple[list[tuple[str, str]], Context]:
    """The rows (character, value) that a command line gives, and what else is known of the plant.

    Raises:
        BadObservation: the file or an observation cannot be read.
    """
    rows: list[tuple[str, str]] = []
    known = Context()
    if options.file:
        text = text_of(options.file, BadObservation, "Give the observations of one plant.")
        if text.lstrip().startswith("{"):
            from lenticel.requests import IdentifyRequest, parse_request

            request = parse_request(text, IdentifyRequest)
            rows, known = request.rows(), request.context()
        else:
            rows = _csv_rows(text)
    for word in options.observe:
        character, equals, value = word.partition("=")
        if not equals:
            raise BadObservation(f"{word[:60]!r} is no observation.", "Write CHARACTER=VALUE.")
        rows.append((character, value))
    return rows, Context(options.wild or known.wild, options.month or known.month, options.region or known.region)


def _csv_rows(text: str) -> list[tuple[str, str]]:
    rows = csv_rows(text, ["character", "value"], BadObservation)
    if any(len(row) < 2 for row in rows):
        raise BadObservation("A row has no value.", "Write character,value in each row.")
    return [(row[0], row[1]) for row in rows]
