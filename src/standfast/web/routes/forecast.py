"""How many practicals and refreshers the quarters ahead will need, and what that rests on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, Query
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from standfast.desk.forecast import NO_PROMISE, SUPPOSES, Asked, Forecast, forecast
from standfast.desk.forecast_files import export, picture
from standfast.desk.forecast_words import rests_on
from standfast.paper.view.words import day
from standfast.web.downloads import sent
from standfast.web.pages import RECORDS, page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

Reads = Annotated[Visitor, Depends(allowed(*RECORDS))]
Quarters = Annotated[int, Query(ge=1, le=40)]

CHOICES = {4, 8, 12}
"""Of quarters; what is asked for otherwise is one too."""


def asked(quarters: Quarters = 8, site: str = "", rubric: str = "") -> Asked:
    """From the form above the figures."""
    return Asked(quarters, rubric or None, site or None)


Wanted = Annotated[Asked, Depends(asked)]


@router.get("/due/forecast")
async def forecast_page(request: Request, visitor: Reads, wanted: Wanted) -> Response:
    """Quarters and months with their bounds, each rubric, and what the numbers rest on."""
    found = await run_in_threadpool(forecast, visitor.desk, wanted)
    return page(
        request,
        "forecast",
        visitor,
        found=found,
        choices=sorted(CHOICES | {wanted.quarters}),
        sites=visitor.desk.book.sites(),
        drawn=_drawn(found),
        rests_on=tuple(rests_on(found)),
        supposes=SUPPOSES,
        no_promise=NO_PROMISE,
        query=request.url.query,
    )


def _drawn(found: Forecast) -> Markup:
    days = f"{day(found.first)} to {day(found.last)}"
    return Markup(picture(found, f"Lessons to be scored, {days}"))  # noqa: S704 - our own drawing


@router.get("/due/forecast.csv")
async def forecast_as_table(visitor: Reads, wanted: Wanted) -> Response:
    """Every number as a table for a spreadsheet."""

    def make(out: Path) -> Path:
        file = out / "forecast.csv"
        export(visitor.desk, forecast(visitor.desk, wanted), file, None)
        return file

    return await sent(make)
