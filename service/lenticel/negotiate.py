"""Content negotiation: which of the forms and languages there are a client wants (RFC 9110, 12.5), and in which form it sends."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"')
_WEIGHT = re.compile(r"(?:0(?:\.\d{0,3})?|1(?:\.0{0,3})?)")
_MOST = 64  # ranges of a header that are read; the rest of a longer one is ignored


@dataclass(frozen=True, slots=True)
class Form:
    """A form of an answer: its short name, its media type, further types that mean it, what is sent after the type, and further words that mean it."""

    name: str
    media_type: str
    also: tuple[str, ...] = ()
    parameters: str = ""
    words: tuple[str, ...] = ()

    @property
    def content_type(self) -> str:
        """The header that goes out with it."""
        return self.media_type + self.parameters


@dataclass(frozen=True, slots=True)
class Range:
    """One media range of an Accept header, with its weight and its parameters."""

    kind: str
    subtype: str
    weight: float
    parameters: Mapping[str, str]

    def matches(self, media_type: str) -> int:
        """How exactly it names a type: 3 by name, 2 by its kind, 1 as anything, 0 not at all."""
        kind, _, subtype = media_type.partition("/")
        if (self.kind, self.subtype) == (kind, subtype):
            return 3
        if self.subtype != "*":
            return 0
        return 2 if self.kind == kind else int(self.kind == "*")


def ranges_of(accept: str) -> list[Range]:
    """The media ranges of an Accept header; what cannot be read as one is left out."""
    found: list[Range] = []
    for each in _QUOTED.sub(lambda quoted: quoted[0].replace(",", " ").replace(";", " "), accept).split(",")[:_MOST]:
        name, *rest = (part.strip() for part in each.split(";"))
        kind, slash, subtype = name.lower().partition("/")
        if not (slash and kind.strip() and subtype.strip()) or (kind == "*" and subtype != "*"):
            continue
        parameters = {key.strip().lower(): value.strip().strip('"') for key, _, value in (part.partition("=") for part in rest)}
        weight = parameters.pop("q", "1")
        found.append(Range(kind, subtype, float(weight) if _WEIGHT.fullmatch(weight) else 0.0, parameters))
    return found


def chosen(accept: str, forms: Sequence[Form]) -> Form | None:
    """The form that a client wants most.

    The most exact range decides the weight of each form, and what is said of the type that would be sent goes before what is said of another that means it;
    among equal weights the more exact range, then the order of `forms`, decides.

    Args:
        accept: the Accept header; "" stands for anything.
        forms: what there is, the preferred first.

    Returns:
        None if nothing of it is acceptable.
    """
    ranges = ranges_of(accept) if accept.strip() else [Range("*", "*", 1.0, {})]
    best: tuple[float, int] = (0.0, 0)
    found: Form | None = None
    for form in forms:
        rated = max(((each.matches(form.media_type), each.weight) for each in ranges), default=(0, 0.0))
        if rated[0] < 3:
            others = [(3, each.weight) for each in ranges if f"{each.kind}/{each.subtype}" in form.also]  # a wildcard means what is sent
            rated = max([rated, *others])
        exact, weight = rated
        if exact and weight > 0 and (weight, exact) > best:
            best, found = (weight, exact), form
    return found


def language_wanted(accept: str, there: Collection[str]) -> str:
    """The language that a client wants most of those that there are; "" if it names none of them.

    A range that there is nothing for stands for the broader ones, its last parts left out (RFC 4647, 3.4).

    Args:
        accept: the Accept-Language header, or one language tag.
        there: language tags in small letters.
    """
    wanted: list[tuple[float, str]] = []
    for each in accept.lower().split(",")[:_MOST]:
        name, _, weight = each.replace(" ", "").partition(";q=")
        if not weight or _WEIGHT.fullmatch(weight):
            wanted.append((float(weight or 1), name))
    for share, name in sorted(wanted, key=lambda each: -each[0]):
        while name and share:
            if name in there:
                return name
            name = name.rpartition("-")[0]
    return ""


def named(word: str, forms: Sequence[Form]) -> Form | None:
    """The form that a short name or a media type means."""
    wanted = word.strip().lower()
    return next((form for form in forms if wanted in (form.name, form.media_type, *form.also, *form.words)), None)


def sent_as(content_type: str) -> str:
    """The media type of a body, in small letters; "" if it is in another charset than UTF-8.

    Args:
        content_type: the header, or "".
    """
    kind, _, charset = content_type.lower().partition(";")
    return kind.strip() if charset.replace(" ", "").replace('"', "") in ("", "charset=utf-8") else ""
