"""Lists as routes: one declaration each, of which rows there are; how they are given page by page is the same for all."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, get_origin

from fastapi import Depends, FastAPI, Query, Request, Response

from lenticel.api.dress import Dress
from lenticel.api.paging import LISTED, MOST, Cursor, Limit, paged

PAGE = 100  # rows of a list that is too long to be given whole
PageSize = Annotated[int, Query(ge=1, le=MOST, description="How many to give at most.")]
Rows = Callable[..., Awaitable[Sequence[Any]]]


async def _all_unless_told(limit: Limit = None) -> int | None:
    return limit


async def _a_page_unless_told(limit: PageSize = PAGE) -> int:
    return limit


async def _from(cursor: Cursor = "") -> str:
    return cursor


@dataclass(frozen=True, slots=True)
class Lists:
    """Adds lists to a service. A list never changes within a release, which `release`, the digest of the knowledge, names."""

    app: FastAPI
    release: str
    dress: Dress

    def at(self, path: str, operation_id: str, summary: str, model: Any, *, tag: str = "knowledge") -> Callable[[Rows], Rows]:
        """Make a route of the function below it, which gives all rows of a list; its parameters are those by which a client narrows the list.

        Args:
            path: where the list is.
            operation_id: what clients call the operation.
            summary: what the list holds, in a line.
            model: `list[...]` for the bare rows, all of them unless a limit is given; or a class made of the digest, how many there
                are on all pages, and the rows of a page.
            tag: the group of operations.
        """
        bare = get_origin(model) is list
        how_many = Depends(_all_unless_told if bare else _a_page_unless_told)

        def adding(rows: Rows) -> Rows:
            all_rows, where = Depends(rows), Depends(_from)  # each as something that it depends on, so that the document has their parameters in this order

            async def give(request: Request, found: Any = all_rows, limit: Any = how_many, cursor: Any = where) -> Response:
                page = paged(request, self.release, found, limit, cursor)
                return self.dress(request, page.rows if bare else model(self.release, page.total, tuple(page.rows)), page.headers)

            self.app.get(path, operation_id=operation_id, summary=summary, tags=[tag], response_model=model, responses=LISTED)(give)
            return rows

        return adding
