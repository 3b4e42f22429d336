"""The table for a lesson, claims and practice as routes."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import Depends, FastAPI, Query, Request, Response

from lenticel.api.asking import asked, given
from lenticel.api.dress import Dress
from lenticel.api.parameters import Season, Taxa
from lenticel.cite import taxon_named
from lenticel.claims import Claims, claims
from lenticel.errors import LenticelError
from lenticel.lesson import MOST_ROWS, ROWS, Lesson, lesson
from lenticel.model import Knowledge
from lenticel.practice import COUNT, MOST, Practice, practice
from lenticel.requests import ClaimsRequest
from lenticel.snapshot import Snapshot
from lenticel.text import lesson_csv, lesson_html, lesson_markdown, practice_html, practice_markdown

MEDIA = {"markdown": "text/markdown; charset=utf-8", "html": "text/html; charset=utf-8", "csv": "text/csv; charset=utf-8; header=present"}
TEXT = {"schema": {"type": "string"}}
TABLE: dict[int | str, dict[str, Any]] = {200: {"content": dict.fromkeys(("text/markdown", "text/html", "text/csv"), TEXT)}}
LIST: dict[int | str, dict[str, Any]] = {200: {"content": dict.fromkeys(("text/markdown", "text/html"), TEXT)}}
Rows = Annotated[int, Query(ge=1, le=MOST_ROWS, description="How many characters at most.")]
Group = Annotated[
    list[Annotated[str, Query(max_length=200)]],
    Query(description="One taxon of any rank: its look-alikes; several: those among them; none: all.", max_length=40),
]
Seed = Annotated[int, Query(ge=0, le=2**31, description="The same seed gives the same questions.")]
Count = Annotated[int, Query(ge=1, le=MOST, description="How many questions at most.")]
Level = Annotated[str, Query(max_length=20, description="Only questions of this level: easy, harder or open; all if left out.")]
TableForm = Annotated[Literal["json", "markdown", "html", "csv"], Query(description="As what.")]
ListForm = Annotated[Literal["json", "markdown", "html"], Query(description="As what.")]


def add(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    """Add the routes of this group."""
    known = snapshot.knowledge

    @app.get(
        "/v1/table", operation_id="table", summary="A table for a lesson, telling cells marked", tags=["questions"],
        response_model=Lesson, responses=TABLE,
    )  # fmt: skip
    async def get_table(request: Request, taxa: Taxa, season: Season = "", rows: Rows = ROWS, form: TableForm = "json") -> Response:
        answer = lesson(snapshot, _named(known, taxa, "taxa"), season=season, rows=rows)
        if form == "json":
            return dress(request, answer)
        forms = {"markdown": lambda: "\n".join(lesson_markdown(known, answer)), "html": lambda: lesson_html(known, answer)}
        return dress.bytes(request, forms.get(form, lambda: lesson_csv(known, answer))().encode(), MEDIA[form])

    @asked(
        app,
        "/v1/claims",
        ClaimsRequest,
        operation_id="claims",
        summary="Is this description right?",
        tags=["questions"],
        response_model=Claims,
    )
    async def ask_claims(request: Request, question: Annotated[ClaimsRequest, Depends(given(ClaimsRequest))]) -> Response:
        return dress(request, claims(snapshot, question.rows()))

    @app.get(
        "/v1/practice", operation_id="practice", summary="Questions for learners, from look-alikes", tags=["questions"],
        response_model=Practice, responses=LIST,
    )  # fmt: skip
    def get_practice(
        request: Request,
        group: Group = [],  # noqa: B006
        season: Season = "",
        seed: Seed = 0,
        count: Count = COUNT,
        level: Level = "",
        form: ListForm = "json",
    ) -> Response:
        # Not async: many questions take a second, and run beside the loop so that they do not hold up the other requests.
        answer = practice(snapshot, _named(known, group, "group"), season=season, seed=seed, count=count, level=level)
        if form == "json":
            return dress(request, answer)
        text = practice_html(known, answer) if form == "html" else "\n".join(practice_markdown(known, answer))
        return dress.bytes(request, text.encode(), MEDIA[form])


def _named(known: Knowledge, words: list[str], parameter: str) -> list[str]:
    found: list[str] = []
    for word in words:
        try:
            found.append(taxon_named(known, word))
        except LenticelError as error:
            raise error.at(f"/{parameter}") from None
    return found
