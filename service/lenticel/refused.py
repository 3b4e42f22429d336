"""Why a query is not answered: each reason with its status, its meaning, and what to do."""

from __future__ import annotations

from typing import Any

from lenticel.errors import LenticelError

REASONS: dict[str, tuple[int, str, str]] = {
    "bad-query-request": (400, "The request holds no single query", "A query comes once: as `query` of a GET or of a form, or alone as the body."),
    "bad-query": (400, "The query cannot be read", "It is no SPARQL 1.1 query; `line`, `column` and `near` say where reading stopped."),
    "no-federation": (400, "Queries may not call other services", "SERVICE is refused: a query is answered from this dataset alone."),
    "bad-parameter": (400, "A parameter does not fit", "A saved question takes the parameters that its description lists, each in its type."),
    "query-failed": (400, "The query cannot be carried out", "It can be read, but what it asks for cannot be worked out."),
    "read-only": (403, "Nothing can be changed here", "Updates are refused; there is no way to write."),
    "not-acceptable": (406, "There is no such form", "None of the forms that the request accepts is there; `forms` lists those that are."),
    "result-too-large": (413, "The answer is too large", "It has more rows or bytes than are sent at once; nothing is cut off silently."),
    "query-too-large": (413, "The query is too long", "The text of a query has a limit."),
    "over-budget": (429, "You have asked for much", "Each client has one query at a time, and a budget of seconds and of errors a minute."),
    "busy": (503, "All who could answer are at work", "The queue is full; the rest of the service answers as ever."),
    "query-not-ready": (503, "Queries cannot be answered yet", "The dataset is being made ready, or could not be."),
    "query-time": (504, "The query took too long", "It was stopped at its deadline."),
    "query-memory": (507, "The query took too much memory", "It was stopped at its limit, or ended the process that ran it."),
}


class Refused(LenticelError):
    """A query that is not answered; `code` is one of `REASONS`, `more` are further members of the problem, `wait` the seconds after which to ask again."""

    def __init__(self, code: str, message: str, fix: str, *, wait: float | None = None, **more: Any) -> None:
        super().__init__(message, fix)
        self.code, self.wait, self.more = code, wait, more

    @property
    def status(self) -> int:
        """The HTTP status."""
        return REASONS[self.code][0]
