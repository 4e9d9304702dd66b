"""The first page: what needs somebody today."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from standfast.desk.appeals import Listed, waiting
from standfast.desk.approvals import Approved, approvals
from standfast.desk.due import Asked, DueList, due
from standfast.web.pages import RECORDS, page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

AHEAD = "30d"
FIRST = 10
"""So many rows of what falls due; the list has all."""


@dataclass(frozen=True)
class Today:
    """What the first page says of the records."""

    due: DueList
    late: int
    people: int
    lessons: int
    appeals: dict[str, list[Listed]]


@router.get("/")
async def today(request: Request, visitor: Annotated[Visitor, Depends(allowed())]) -> Response:
    """What needs somebody today."""
    known = await run_in_threadpool(_known, visitor) if visitor.may(*RECORDS) else None
    return page(request, "today", visitor, known=known, own=_own(visitor), first=FIRST)


def _known(visitor: Visitor) -> Today:
    desk = visitor.desk
    found = due(desk, Asked(ahead=AHEAD))
    late = sum(row.by < desk.today for row in found.rows)
    return Today(found, late, len(desk.book.people()), len(desk.book.lessons()), waiting(desk))


def _own(visitor: Visitor) -> tuple[Approved, ...]:
    """How the visitor's own approvals stand."""
    own = visitor.account.person
    return approvals(visitor.desk, own) if own else ()


@router.get("/health")
async def health() -> dict[str, str]:
    """That the server answers; asks nothing of the book."""
    return {"standfast": "answers"}
