"""Practicals: who scored, whose sheet is awaited, and where assessors part."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from standfast.desk.practicals import practicals, side_by_side
from standfast.problems import Refused
from standfast.web.pages import RECORDS, page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

Scores = Annotated[Visitor, Depends(allowed(*RECORDS, "assessor"))]

RULES = {
    "lower": "the lower mark counts",
    "majority": "the mark of most counts, of a tie the lower one",
    "higher": "the higher mark counts",
}


def _only_of(visitor: Visitor) -> str | None:
    """Whose practicals the visitor may see; None for everybody's."""
    return None if visitor.may(*RECORDS) else visitor.account.person


@router.get("/practicals")
async def practicals_page(request: Request, visitor: Scores) -> Response:
    """Those that wait for a second sheet, those to talk through, and the rest."""
    found = await run_in_threadpool(practicals, visitor.desk, _only_of(visitor))
    return page(
        request,
        "practicals",
        visitor,
        waiting=[one for one in found if one.waits],
        differing=[one for one in found if one.differences],
        others=[one for one in found if not one.waits and not one.differences],
        reads=visitor.may(*RECORDS),
    )


@router.get("/practicals/{practical}")
async def practical_page(request: Request, visitor: Scores, practical: str) -> Response:
    """The sheets of one practical side by side.

    An assessor sees those that she scored herself, and only when another sheet is in: nobody is
    led by what somebody else marked.
    """
    found = await run_in_threadpool(side_by_side, visitor.desk, practical)
    own = _only_of(visitor)
    if own is not None and own not in {one.assessor for one in found.sheets}:
        raise Refused("you did not score this practical")
    return page(request, "practical", visitor, found=found, reads=own is None, rules=RULES)
