"""The first page: what needs somebody today."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from standfast.web.pages import page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)


@router.get("/")
async def today(request: Request, visitor: Annotated[Visitor, Depends(allowed())]) -> Response:
    """What needs somebody today."""
    return page(request, "today", visitor)


@router.get("/health")
async def health() -> dict[str, str]:
    """That the server answers; asks nothing of the book."""
    return {"standfast": "answers"}
