"""What falls due: the list, on paper, as tables and as a calendar."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from standfast.desk.appeals import waiting
from standfast.desk.due import Asked, due
from standfast.desk.due_files import Files, write
from standfast.desk.printing import print_due, print_letters
from standfast.engine.quarters import Quarter
from standfast.problems import NotFound
from standfast.web.downloads import sent
from standfast.web.pages import RECORDS, page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

Reads = Annotated[Visitor, Depends(allowed(*RECORDS))]

AHEAD = (("30d", "The next 30 days"), ("90d", "The next 90 days"), ("12m", "The next 12 months"))


def asked(span: str = "", quarter: str = "", site: str = "", rubric: str = "") -> Asked:
    """Which list is wanted; `span` is a choice of the form, a quarter or days ahead."""
    wanted = span.strip() or quarter.strip()
    if wanted in {ahead for ahead, _ in AHEAD}:
        return Asked(None, wanted, site or None, rubric or None)
    return Asked(wanted or None, None, site or None, rubric or None)


Wanted = Annotated[Asked, Depends(asked)]


@router.get("/due")
async def due_list(request: Request, visitor: Reads, wanted: Wanted) -> Response:
    """What falls due, by what is to be done."""
    desk = visitor.desk
    found = await run_in_threadpool(due, desk, wanted)
    rubrics = sorted({one.rubric for one in found.rows} | set(desk.book.rubrics_held()))
    return page(
        request,
        "due",
        visitor,
        found=found,
        wanted=wanted,
        spans=_spans(visitor),
        sites=desk.book.sites(),
        rubrics=rubrics,
        query=request.url.query,
        appeals={state: len(group) for state, group in waiting(desk).items()},
    )


def _spans(visitor: Visitor) -> list[tuple[str, str]]:
    """What can be asked for: this quarter, the four after it, the one before, days ahead."""
    school = visitor.desk.school
    this = Quarter.of(visitor.desk.today, school.year_starts, school.year_named_by)
    others = [str(this.shifted(by)) for by in (-1, 1, 2, 3, 4)]
    return [(str(this), f"{this} (now)"), *((one, one) for one in others), *AHEAD]


@router.get("/due/list.pdf")
async def due_on_paper(visitor: Reads, wanted: Wanted) -> Response:
    """The list on paper."""
    return await sent(lambda out: print_due(visitor.desk, wanted, out))


@router.get("/due/letters/{slug}.pdf")
async def letter(visitor: Reads, wanted: Wanted, slug: str) -> Response:
    """The letter to one person about all that is on the list for her."""
    found = await run_in_threadpool(due, visitor.desk, wanted)
    rows = tuple(row for row in found.rows if row.person == slug)
    if not rows:
        raise NotFound("person on this list", slug, {row.person for row in found.rows})
    hers = replace(found, rows=rows)
    return await sent(lambda out: print_letters(visitor.desk, hers, out, lambda *_: None)[0])


@router.get("/due/table.{kind}")
async def due_as_table(
    visitor: Reads, wanted: Wanted, kind: Literal["csv", "xlsx", "ics"]
) -> Response:
    """The list as a table for a spreadsheet, or as a calendar of the whole school."""

    def make(out: Path) -> Path:
        file = out / f"due.{kind}"
        of = Asked(wanted.quarter, wanted.ahead) if kind == "ics" else wanted
        files = Files(**{{"ics": "calendar"}.get(kind, kind): file})
        write(visitor.desk, due(visitor.desk, of), of, files, lambda _done, _all: None)
        return file

    return await sent(make)
