"""For anybody: does this certificate count?  Nothing else is told."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from standfast.desk.outside import outside
from standfast.problems import Refused
from standfast.web.house import house_of
from standfast.web.pages import page
from standfast.web.visitor import visitor_if_any

router = APIRouter(include_in_schema=False)

LONGEST_NUMBER = 64


@router.get("/certificate")
async def certificate(request: Request, number: str = "") -> Response:
    """The answer for one number, today; a form without one."""
    wanted, visitor = number.strip()[:LONGEST_NUMBER], visitor_if_any(request)
    told = None
    if wanted:
        try:
            told = outside(house_of(request).desk(), wanted)
        except Refused:
            return page(
                request, "certificate-counts", visitor, status=404, number=wanted, told=None
            )
    return page(request, "certificate-counts", visitor, number=wanted, told=told)
