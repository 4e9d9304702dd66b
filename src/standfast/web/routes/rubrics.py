"""Rubrics: what is looked for, what suffices, and the score sheet that follows from it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from standfast.desk.blank_sheets import print_score_sheet, score_sheet_of
from standfast.desk.definitions import standards_of, written
from standfast.desk.people import person
from standfast.web.downloads import sent
from standfast.web.pages import page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

Anybody = Annotated[Visitor, Depends(allowed())]

SHOWN_TRIES = 4
"""Lines for tries in the preview."""
KINDS = {
    "attempts": "asked of each try",
    "clearances": "let go or held back",
    "samples": "looks at those who wait",
    "rating": "a level",
    "incident": "an incident",
}


@router.get("/rubrics")
async def rubrics(request: Request, visitor: Anybody) -> Response:
    """The rubrics of the school's files, every version, newest first."""
    known = [placed.noun for placed in visitor.desk.definitions.rubrics]
    found = sorted(known, key=lambda one: (one.title.casefold(), one.id, -one.version))
    problems = sorted(visitor.desk.definitions.problems)
    return page(request, "rubrics", visitor, found=found, problems=problems)


@router.get("/rubrics/{rubric}")
async def rubric_page(
    request: Request, visitor: Anybody, rubric: str, version: int | None = None
) -> Response:
    """One rubric in words, and the sheet that it makes."""
    texts = written(visitor.desk, rubric, version)
    view = score_sheet_of(visitor.desk, texts, SHOWN_TRIES)
    return page(
        request,
        "rubric",
        visitor,
        rubric=texts.rubric,
        syllabus=texts.syllabus,
        sheet=view,
        standards=standards_of(texts),
        titles={skill.id: skill.title for skill in texts.syllabus.skills},
        kinds=KINDS,
    )


@router.get("/rubrics/{rubric}/sheet.pdf")
async def sheet_on_paper(visitor: Anybody, rubric: str, candidate: str = "") -> Response:
    """A blank score sheet; for a candidate that of her refresher asks only what it covers."""
    from standfast.paper.view.score_sheet import Lesson

    name = person(visitor.desk, candidate).name if candidate else ""
    lesson = Lesson(candidate=name)
    return await sent(
        lambda out: print_score_sheet(visitor.desk, rubric, lesson, out, candidate or None)
    )
