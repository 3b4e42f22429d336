"""What a caller sends: the JSON form of a question, read strictly."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from lenticel.claims import MAX_CLAIMS
from lenticel.errors import BadQuestion, suggest
from lenticel.identify import Context
from lenticel.notation import LISTED, Misfit, pointer, read_json
from lenticel.quantity import MAX_DIGITS, tidy

MAX_OBSERVATIONS = 200
HELPED = 4  # wrong names for which those are looked up that may stand there, since that takes milliseconds each
WAYS = ("value", "states", "not_states", "measured", "low", "high", "absent")
FIGURE = re.compile(r"\d+(?: \d+/\d+|/\d+|\.\d+)?")


class WrongType(BadQuestion):
    """The body is of a type that is not read here; send `content-type: application/json`."""

    code = "wrong-type"


class StaleCursor(BadQuestion):
    """A cursor that another release gave out; the list of this one may be another."""

    code = "stale-cursor"


class UnknownRelease(BadQuestion):
    """A release that is not kept here; the fix names those that are."""

    code = "unknown-release"


class GoneRelease(BadQuestion):
    """A release that was kept here and is no more, or is damaged; the fix names those that are there."""

    code = "gone-release"


def _number(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError("give a number, or a number as text")
    if isinstance(value, str):
        if not FIGURE.fullmatch(tidy(value[: MAX_DIGITS + 1])):
            raise ValueError("write a number such as 7.5 or 7 1/2")
    elif not math.isfinite(value) if isinstance(value, float) else abs(value) >= 10**MAX_DIGITS:
        raise ValueError("the number is too large")
    if isinstance(value, str | float) and len(_plain(value)) > MAX_DIGITS:
        raise ValueError(f"use at most {MAX_DIGITS} characters for a number")
    return value


def _one_state(word: str) -> str:
    if "|" in word or re.match(r"\s*(not\s|!)", word):
        raise ValueError("name one state by its identifier or label, without `|` or a leading `not`; use more items, or not_states")
    return word


Word = Annotated[str, Field(min_length=1, max_length=200)]
StateWord = Annotated[Word, AfterValidator(_one_state)]
Number = Annotated[int | float | str, BeforeValidator(_number)]


class Strict(BaseModel):
    """Refuses what it does not know, and does not turn one type into another."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


class ObservationIn(Strict):
    """One observation: a character, and what was seen, said in one of several ways.

    Numbers may be given as text (`7.50`, `7 1/2`), at most 30 characters long; text keeps the last place, which tells how exact they are.
    """

    character: Word = Field(description="Identifier, label or synonym of a character; several joined by `|` mean this or that of them.")
    value: str | None = Field(None, max_length=400, description="Text form: `serrate|crenate`, `not milky`, `7.5±0.5 cm`, `5-8`, `absent`.")
    states: list[StateWord] | None = Field(None, min_length=1, max_length=60, description="It shows one of these states.")
    not_states: list[StateWord] | None = Field(None, min_length=1, max_length=60, description="It shows none of these states.")
    measured: Number | None = Field(None, description="A measured or counted value.")
    uncertainty: Number | None = Field(None, description="Plus or minus, in the same unit; without it the last place of `measured` tells.")
    low: Number | None = Field(None, description="It is at least this.")
    high: Number | None = Field(None, description="It is at most this.")
    unit: str | None = Field(None, max_length=20, pattern=r"^(\[?[A-Za-z_]+\]?|°|1)$", description="Unit of the numbers; the character's own if left out.")
    absent: bool | None = Field(None, description="True: it was looked for and is not there.")

    @model_validator(mode="after")
    def _one_way(self) -> ObservationIn:
        given = [name for name in WAYS if getattr(self, name) is not None]
        if len(given) != 1 and given != ["low", "high"]:
            raise ValueError("say what was seen in exactly one way: value, states, not_states, measured, low and high, or absent")
        if self.absent is False:
            raise ValueError("absent is either true or left out")
        if self.uncertainty is not None and self.measured is None:
            raise ValueError("uncertainty goes with measured")
        if self.unit is not None and given[0] not in ("measured", "low", "high"):
            raise ValueError("unit goes with numbers")
        return self

    def row(self) -> tuple[str, str]:
        """The observation in its text form."""
        unit = f" {self.unit}" if self.unit else ""
        if self.value is not None:
            return self.character, self.value
        if self.states is not None:
            return self.character, "|".join(self.states)
        if self.not_states is not None:
            return self.character, "not " + "|".join(self.not_states)
        if self.absent:
            return self.character, "absent"
        if self.measured is not None:
            margin = f"±{_plain(self.uncertainty)}" if self.uncertainty is not None else ""
            return self.character, f"{_plain(self.measured)}{margin}{unit}"
        if self.low is not None and self.high is not None:
            return self.character, f"{_plain(self.low)}-{_plain(self.high)}{unit}"
        if self.low is not None:
            return self.character, f">={_plain(self.low)}{unit}"
        return self.character, f"<={_plain(self.high)}{unit}"


def _plain(value: float | str | None) -> str:
    if isinstance(value, float):
        return format(Decimal(repr(value)), "f")
    return str(value)


class SeenRequest(Strict):
    """What was seen, and what else is known of the plant: the part that several questions share."""

    observations: list[ObservationIn] = Field(max_length=MAX_OBSERVATIONS, description="What was seen, in any order.")
    month: int | None = Field(
        None, ge=1, le=12, description="The month in which it was seen; it makes some observations doubtful and never excludes.", examples=[2]
    )
    wild: bool = Field(False, description="True if nobody planted it, so that habitat and region exclude too.")
    region: Annotated[str, Field(max_length=80)] | None = Field(
        None, description="Where it stands, a state of the region characters; it orders and never excludes.", examples=["ont"]
    )

    def rows(self) -> list[tuple[str, str]]:
        """The observations in their text form."""
        return [each.row() for each in self.observations]

    def context(self) -> Context:
        """What else is known of the plant."""
        return Context(self.wild, self.month or 0, self.region or "")


class IdentifyRequest(SeenRequest):
    """The question what a plant is."""

    every_rank: bool = Field(False, description="Judge genera and families as well.")
    explain: int | None = Field(
        None,
        ge=0,
        le=10000,
        description="How many of the taxa that remain, and of those that are out, to give with their marks; all if left out.",
    )
    excluded: int | None = Field(
        None,
        ge=0,
        le=10000,
        description="How many of the taxa that are out to list, those with the fewest contradictions first; all if left out.",
        examples=[10],
    )


class PlantLine(SeenRequest):
    """A line of many: the question what one plant is."""

    plant: Word | None = Field(None, description="What you call the plant; the answer gives it back.")
    taxon: Word | None = Field(None, description="Identifier or name of the taxon that it is said to be; the answer says whether what was seen allows that.")


class DoubtRequest(SeenRequest):
    """The question what to doubt."""

    most: int = Field(3, ge=1, le=3, description="The most slips of a set of observations to withdraw.")


class WhyRequest(Strict):
    """The question why a taxon is out (one taxon, and what was seen), or why two are apart (two taxa, and a character)."""

    taxa: list[Word] = Field(min_length=1, max_length=2, description="Identifier or name of the taxon that is out, or of the two that are apart.")
    observations: list[ObservationIn] = Field([], max_length=MAX_OBSERVATIONS, description="What was seen, for one taxon.")
    character: Word | None = Field(None, description="Identifier, label or synonym of the character that separates two taxa.")
    wild: bool = Field(False, description="True if nobody planted it, so that habitat and region exclude too.")

    @model_validator(mode="after")
    def _one_question(self) -> WhyRequest:
        if len(self.taxa) == 1 and self.character is not None:
            raise ValueError("name two taxa for a character to separate, or leave the character out")
        if len(self.taxa) == 2 and (self.character is None or self.observations):
            raise ValueError("for two taxa give the character that separates them, and no observations")
        return self

    def rows(self) -> list[tuple[str, str]]:
        """The observations in their text form."""
        return [each.row() for each in self.observations]


class ClaimIn(Strict):
    """One claim of a description."""

    taxon: Word = Field(description="Identifier or name of a taxon.")
    character: Word = Field(description="Identifier, label or synonym of a character.")
    value: Word = Field(description="What is claimed: `red|yellow` (it shows both), `not milky`, or a range as floras print it, `(3-)5-12(-15) cm`.")


class ClaimLine(ClaimIn):
    """A line of many: one claim."""

    claim: Word | None = Field(None, description="What you call the claim; the answer gives it back.")


class ClaimsRequest(Strict):
    """The question whether a description is right."""

    claims: list[ClaimIn] = Field(max_length=MAX_CLAIMS, description="The claims, in any order; each is judged on its own.")

    def rows(self) -> list[tuple[str, str, str]]:
        """The claims as rows."""
        return [(each.taxon, each.character, each.value) for each in self.claims]


class Looking(Strict):
    """With what one looks."""

    month: int | None = Field(None, ge=1, le=12, description="The month; it gives the season, if none is named.", examples=[2])
    season: Literal["spring", "summer", "autumn", "winter"] | None = Field(None, description="Only what can be seen then; any season if left out.")
    kit: list[Word] = Field(
        [],
        max_length=20,
        description="What is at hand besides the eye, as characters name it: `ruler`, `hand lens`, `knife` ...; a look with it then costs less, and none "
        "that needs more is asked for. If empty, anything.",
    )
    parts: list[Word] = Field(
        [], max_length=20, description="The parts of the plant within reach, as characters name them: `leaf`, `twig`, `bark` ...; any if empty."
    )
    wild: bool = Field(False, description="True if nobody planted it, so that habitat and region exclude too.")


class NextRequest(Looking):
    """The question what to look at next."""

    observations: list[ObservationIn] = Field(max_length=MAX_OBSERVATIONS, description="What was seen, in any order.")
    taxa: list[Word] = Field([], max_length=200, description="The plant is one of these, or of what lies in them; any if empty.")
    most: int = Field(10, ge=1, le=50, description="How many characters to give with their outcomes.")
    slips: bool = Field(False, description="True if any observation may be a slip: looks are chosen that tell most of all taxa, those that are out too.")

    def rows(self) -> list[tuple[str, str]]:
        """The observations in their text form."""
        return [each.row() for each in self.observations]


class KeyRequest(Looking):
    """The question for a key to a group."""

    taxa: list[Word] = Field(min_length=1, max_length=60, description="Identifiers or names of the taxa; of a genus or family, all that lie in it.")
    form: Literal["json", "text", "markdown", "html"] = Field("json", description="JSON, plain text, or a page to print.")


# Every question that is sent as a body.
QUESTIONS: tuple[type[Strict], ...] = (IdentifyRequest, DoubtRequest, WhyRequest, NextRequest, KeyRequest, ClaimsRequest)
LINES: tuple[type[Strict], ...] = (PlantLine, ClaimLine)  # those that come many in one body, a line each
Question = TypeVar("Question", bound=Strict)


def parse_request(text: str | bytes, model: type[Question]) -> Question:
    """Read the JSON form of a question.

    Args:
        text: what was sent.
        model: which question it is.

    Raises:
        BadJson: it is not sound JSON.
        Misfit: it does not fit its schema; with every place.
    """
    try:
        return model.model_validate(read_json(text))
    except ValidationError as error:
        wrong = error.errors(include_url=False, include_input=False, include_context=False)
        told = places(wrong[:LISTED])
        for at, each in enumerate(wrong[:HELPED]):
            names = names_at(model, each["loc"][:-1]) if each["type"] == "extra_forbidden" else ()
            if names:
                where, what = told[at]
                told[at] = where, f"{what}; {offered(where.rpartition('/')[2], names)}"
        raise Misfit(told, len(wrong)) from None


@lru_cache(maxsize=len(QUESTIONS + LINES))
def _schema(model: type[BaseModel]) -> dict[str, Any]:
    return model.model_json_schema()


def names_at(model: type[BaseModel], place: tuple[int | str, ...]) -> list[str]:
    """The names that an object at a place of a question may have; none if it is no object."""
    schema = whole = _schema(model)
    for step in (*place, None):
        while "$ref" in schema or "anyOf" in schema:
            schema = schema["anyOf"][0] if "anyOf" in schema else whole["$defs"][schema["$ref"].rpartition("/")[2]]
        if step is not None:
            schema = schema.get("items", {}) if isinstance(step, int) else schema.get("properties", {}).get(step, {})
    return list(schema.get("properties", {}))


def offered(name: str, names: Collection[str]) -> str:
    """What may stand in place of a name: the nearest, else all."""
    near = suggest(name, names)
    if near:
        return near[0].lower() + near[1:]
    return f"use one of: {', '.join(names)}" if names else "leave it out"


def places(errors: Iterable[Mapping[str, Any]], *, skip: int = 0) -> list[tuple[str, str]]:
    """Where a request does not fit, and what is wrong there; nothing of what was sent is repeated at length.

    Args:
        errors: as pydantic lists them.
        skip: how many first steps of each place to leave out.
    """
    return [(pointer(tuple(each["loc"])[skip:]), _said(each)[:200]) for each in errors]


_PLAIN = {
    "missing": "it is missing", "extra_forbidden": "there is no such name here", "model_type": "it must be a JSON object",
    "list_type": "it must be a list, in square brackets", "tuple_type": "it must be a list, in square brackets", "string_type": "it must be a text, in quotes",
    "bool_type": "it must be true or false, without quotes", "int_type": "it must be a whole number, without quotes",
    "int_parsing": "it must be a whole number", "too_short": "it must hold something", "string_unicode": "it holds half of a character",
}  # fmt: skip


def _said(error: Mapping[str, Any]) -> str:
    """What is wrong, in words of JSON rather than of Python."""
    told = str(error["msg"]).removeprefix("Value error, ")
    told = told.replace("Input should be", "it must be", 1).replace("List should have", "it must hold", 1).replace(" after validation", "", 1)
    return _PLAIN.get(error["type"]) or told
