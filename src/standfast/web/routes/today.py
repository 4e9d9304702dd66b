"""The first page: what needs somebody today."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from standfast.desk.appeals import Listed, unanswered
from standfast.desk.approvals import Approved, approvals
from standfast.desk.deciding import to_decide
from standfast.desk.due import Asked, DueList, due
from standfast.desk.holding import held_records
from standfast.desk.mat import confirm, sheets_of
from standfast.model.base import Hash
from standfast.web.forms import form_of
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
    appeals: list[Listed]
    """Those without an answer."""
    to_decide: int
    """Candidates who wait for a decision or an award."""
    held: int
    """Records from beside the mat that the office must look at."""


@router.get("/")
async def today(request: Request, visitor: Annotated[Visitor, Depends(allowed())]) -> Response:
    """What needs somebody today."""
    known = await run_in_threadpool(_known, visitor) if visitor.may(*RECORDS) else None
    own, to_confirm = _own(visitor), _to_confirm(visitor)
    return page(request, "today", visitor, known=known, first=FIRST, own=own, to_confirm=to_confirm)


def _to_confirm(visitor: Visitor) -> list[dict[str, Any]]:
    """The visitor's sheets that were signed on a shared device and not confirmed yet."""
    if not visitor.may("assessor"):
        return []
    return [one for one in sheets_of(visitor.desk, visitor.account) if one["state"] == "to confirm"]


class Confirming(BaseModel):
    """The form that confirms what was signed on a shared device."""

    model_config = ConfigDict(extra="forbid")

    sha256: Hash


@router.post("/sheets/{sheet}/confirm")
async def confirm_sheet(
    request: Request, visitor: Annotated[Visitor, Depends(allowed("assessor"))], sheet: str
) -> Response:
    """Whoever signed on a shared device confirms it where she is signed in."""
    form = await form_of(request, Confirming)
    confirm(visitor.desk, visitor.account, sheet, form.sha256)
    return RedirectResponse("/", 303)


def _known(visitor: Visitor) -> Today:
    desk = visitor.desk
    found = due(desk, Asked(ahead=AHEAD))
    late = sum(row.by < desk.today for row in found.rows)
    return Today(
        found,
        late,
        len(desk.book.people()),
        len(desk.book.lessons()),
        unanswered(desk),
        len(to_decide(desk)),
        len(held_records(desk)[0]),
    )


def _own(visitor: Visitor) -> tuple[Approved, ...]:
    """How the visitor's own approvals stand."""
    own = visitor.account.person
    return approvals(visitor.desk, own) if own else ()


@router.get("/health")
async def health() -> dict[str, str]:
    """That the server answers; asks nothing of the book."""
    return {"standfast": "answers"}
