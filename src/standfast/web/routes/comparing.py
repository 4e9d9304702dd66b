"""Are the assessors in step?  For whoever leads them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from standfast.problems import BadInput, Place, Problem, Refused
from standfast.web.downloads import sent
from standfast.web.house import house_of
from standfast.web.pages import page
from standfast.web.visitor import Visitor, allowed

if TYPE_CHECKING:
    from standfast.desk.comparing import Comparison

router = APIRouter(include_in_schema=False)

Lead = Annotated[Visitor, Depends(allowed("lead"))]


@dataclass(frozen=True)
class Asked:
    """Which lessons are compared."""

    rubric: str | None
    since: date | None


def asked(rubric: str = "", since: str = "") -> Asked:
    """From the form above the figures."""
    try:
        first = date.fromisoformat(since) if since else None
    except ValueError:
        cure = "write it as YYYY-MM-DD"
        raise BadInput([Problem(Place("form"), f"'{since}' is no day", cure)]) from None
    return Asked(rubric or None, first)


Wanted = Annotated[Asked, Depends(asked)]


def _compared(visitor: Visitor, wanted: Asked) -> Comparison:
    from standfast.desk.comparing import compare
    from standfast.desk.marks import marks_of_book

    marks = marks_of_book(visitor.desk, wanted.rubric, wanted.since)
    return compare(marks, visitor.desk, wanted.rubric)


async def _comparison(request: Request, visitor: Visitor, wanted: Asked) -> Comparison:
    """Worked out once for each state of the book and day: it takes seconds."""
    known = house_of(request).compared
    key = (visitor.desk.book.size(), visitor.desk.today, wanted.rubric, wanted.since)
    if key not in known:
        found = await run_in_threadpool(_compared, visitor, wanted)
        known.clear()
        known[key] = found
    return known[key]


@router.get("/assessors")
async def assessors(request: Request, visitor: Lead, wanted: Wanted) -> Response:
    """Three sentences, then each question with its chart and its table."""
    view = told = None
    try:
        found = await _comparison(request, visitor, wanted)
    except Refused as error:
        told = str(error).splitlines()
    else:
        from standfast.desk.comparison_report import report_view

        view = await run_in_threadpool(report_view, found, visitor.desk.today, visitor.desk.school)
    rubrics = sorted({one.rubric for one in visitor.desk.book.lessons()})
    return page(
        request,
        "assessors",
        visitor,
        view=view,
        told=told,
        wanted=wanted,
        rubrics=rubrics,
        query=request.url.query,
    )


@router.get("/assessors/report.pdf")
async def report(request: Request, visitor: Lead, wanted: Wanted) -> Response:
    """The same on paper."""
    from standfast.desk.comparison_report import ReportFiles, write_report

    found = await _comparison(request, visitor, wanted)

    def make(out: Path) -> Path:
        files = ReportFiles(pdf=out / "assessors.pdf")
        return write_report(visitor.desk, found, visitor.desk.today, files)[0]

    return await sent(make)
