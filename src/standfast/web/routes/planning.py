"""Planning a day of practicals: who sees whom, and when.  Nothing of it is entered."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from standfast.desk.approvals import may_score_on
from standfast.model.caution import caution
from standfast.problems import BadInput, Place, Problem
from standfast.web.downloads import sent
from standfast.web.forms import NO
from standfast.web.house import house_of
from standfast.web.pages import page
from standfast.web.visitor import Visitor, allowed
from standfast.web.wishes import Wishes

if TYPE_CHECKING:
    from standfast.desk.planning import PlannedDay

router = APIRouter(include_in_schema=False)

Plans = Annotated[Visitor, Depends(allowed("office", "certifier", "lead"))]

SECONDS = 20
"""So long may a plan take while somebody waits for the page; the command takes longer."""
CAUTION = caution("A plan says who sees whom; it lets nobody teach.")


def _wishes(request: Request, visitor: Visitor) -> Wishes:
    """What stands in the address, with whoever could score on its day.

    Raises:
        BadInput: the day or the rubric is none.
    """
    typed = dict(request.query_params)
    if not typed.get("day") and not typed.get("rubric"):
        return Wishes(typed)
    desk = visitor.desk
    try:
        day = date.fromisoformat(typed.get("day", ""))
    except ValueError:
        what = f"'{typed.get('day', '')}' is no day"
        raise BadInput([Problem(Place("day"), what, "write it as YYYY-MM-DD")]) from None
    rubric = typed.get("rubric", "")
    return Wishes(typed, may_score_on(desk, rubric, day), desk.book.people())


def _planned(visitor: Visitor, wishes: Wishes) -> PlannedDay:
    from standfast.desk.planning import plan_day
    from standfast.engine.planning.programme import Watch

    until = monotonic() + SECONDS
    watch = Watch(lambda: until - monotonic(), lambda _: None)
    return plan_day(visitor.desk, wishes.asked(), watch)


async def _plan(request: Request, visitor: Visitor, wishes: Wishes) -> PlannedDay:
    """One plan at a time: it takes a core for as long as it takes."""
    async with house_of(request).planning:
        return await run_in_threadpool(_planned, visitor, wishes)


@router.get("/plan")
async def plan_page(request: Request, visitor: Plans) -> Response:
    """The form, and once it is filled the plan; or what is wrong beside its field."""
    from standfast.engine.planning.programme import Unsettled

    planned, told, faults, status = None, list[str](), dict[str, list[str]](), 200
    wishes = Wishes(dict(request.query_params))
    try:
        wishes = _wishes(request, visitor)
        if wishes.sent and wishes.scoring:
            planned = await _plan(request, visitor, wishes)
    except BadInput as error:
        status = 422
        for one in error.problems:
            faults.setdefault(one.place.file, []).append(f"{one.what}; {one.cure}")
    except (*NO, Unsettled) as error:
        status = 409
        told = [line.strip() for line in str(error).splitlines()]
    return page(
        request,
        "plan",
        visitor,
        status=status,
        wishes=wishes,
        planned=planned,
        told=told,
        faults=faults,
        rubrics=_rubrics(visitor),
        caution=CAUTION,
        query=request.url.query,
    )


def _rubrics(visitor: Visitor) -> list[tuple[str, str]]:
    """Each rubric of the school's files, by title."""
    known = {placed.noun.id: placed.noun.title for placed in visitor.desk.definitions.rubrics}
    return sorted(known.items(), key=lambda one: one[1].casefold())


@router.get("/plan/day.pdf")
async def plan_on_paper(request: Request, visitor: Plans) -> Response:
    """The same plan on paper."""
    from standfast.desk.printing import print_plan

    planned = await _plan(request, visitor, _wishes(request, visitor))

    def make(out: Path) -> Path:
        return print_plan(visitor.desk, planned, out)

    return await sent(make)
