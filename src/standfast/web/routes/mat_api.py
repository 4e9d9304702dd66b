"""What the page beside the mat asks for and sends."""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.security import APIKeyCookie
from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from standfast.desk import mat
from standfast.desk.mat import MOST_AT_ONCE
from standfast.model.base import KEY
from standfast.web.pages import CAUTION
from standfast.web.visitor import COOKIE, Visitor, allowed


class Refusal(BaseModel):
    """Why something was not done."""

    error: str


class Answers(BaseModel):
    """What became of each record of a batch, in the order in which they were sent."""

    answers: list[mat.Answer]


REFUSED: dict[int | str, dict[str, Any]] = {
    401: {"model": Refusal, "description": "nobody is signed in"},
    403: {"model": Refusal, "description": "for assessors; or sent by a page of another site"},
    503: {"model": Refusal, "description": "the record book cannot be reached; try again"},
}
ASKED: dict[int | str, dict[str, Any]] = {
    404: {"model": Refusal, "description": "nothing of that name"},
    409: {"model": Refusal, "description": "the answer is no"},
}
SENT: dict[int | str, dict[str, Any]] = {
    200: {"model": Answers},
    408: {"model": Refusal, "description": "it took too long to arrive"},
    413: {"model": Refusal, "description": "more than is taken at once"},
    422: {"model": Refusal, "description": "no list of records with ids"},
}

router = APIRouter(
    prefix="/api",
    tags=["beside the mat"],
    responses=REFUSED,
    # `allowed` is what keeps others out; this only tells the description how one signs in.
    dependencies=[Depends(APIKeyCookie(name=COOKIE, scheme_name="session", auto_error=False))],
)

Assessor = Annotated[Visitor, Depends(allowed("assessor"))]

DEEPEST = 50
"""Levels of a batch; a record has five."""
TOO_DEEP = f"nested deeper than {DEEPEST} levels"

BATCH = {
    "type": "object",
    "required": ["records"],
    "properties": {
        "records": {
            "type": "array",
            "maxItems": MOST_AT_ONCE,
            "items": {
                "type": "object",
                "description": "One tap. Whatever does not fit beside its id is held, and told.",
                "required": ["id"],
                "properties": {"id": {"type": "string", "pattern": KEY}},
            },
        }
    },
}
TAKES = {"requestBody": {"required": True, "content": {"application/json": {"schema": BATCH}}}}


@router.get("/kits", responses=ASKED)
async def kits(visitor: Assessor) -> dict[str, Any]:
    """Under which rubrics the assessor may score today, and whom."""
    return mat.kits(visitor.desk, visitor.account)


@router.get("/lesson-kit", responses=ASKED)
async def lesson_kit(visitor: Assessor, rubric: str, candidate: str) -> dict[str, Any]:
    """Everything that a lesson needs without a network."""
    return {**mat.kit(visitor.desk, visitor.account, rubric, candidate), "caution": CAUTION}


@router.get("/sheets")
async def sheets(visitor: Assessor) -> list[dict[str, Any]]:
    """The assessor's sheets as the server has them."""
    return mat.sheets_of(visitor.desk, visitor.account)


@router.get("/sheets/{sheet}", responses=ASKED)
async def sheet(visitor: Assessor, sheet: str) -> mat.SheetState:
    """How one of them stands."""
    return mat.state_of(visitor.desk, visitor.account, sheet)


@router.post("/records", responses=SENT, openapi_extra=TAKES)
async def take(request: Request, visitor: Assessor) -> Response:
    """Keeps records; what cannot be taken is held for the office, and acknowledged."""
    try:
        sent = _records(await request.body())
    except ValueError as error:
        return JSONResponse({"error": str(error)}, 422)
    answers = mat.take_records(visitor.desk, visitor.account, sent)
    return JSONResponse({"answers": [asdict(one) for one in answers]})


def _records(body: bytes) -> list[dict[str, Any]]:
    """The records of a batch; each has an id that can be read.

    Raises:
        ValueError: what is wrong with the batch as a whole.
    """
    try:
        sent = json.loads(body, parse_constant=_no_number)
    except RecursionError:
        raise ValueError(TOO_DEEP) from None
    if _deeper_than(DEEPEST, sent):
        raise ValueError(TOO_DEEP)
    records = sent.get("records") if isinstance(sent, dict) else None
    if not isinstance(records, list):
        raise ValueError('write {"records": [...]}')  # noqa: TRY004 - told to whoever sent it
    if len(records) > MOST_AT_ONCE:
        raise ValueError(f"{len(records)} records; send at most {MOST_AT_ONCE} at once")
    bad = [
        f"record {place}: no id that can be read"
        for place, one in enumerate(records)
        if not (isinstance(one, dict) and re.fullmatch(KEY, str(one.get("id"))))
    ]
    if bad:
        raise ValueError("; ".join(bad))
    return records


def _deeper_than(levels: int, value: object) -> bool:
    """Whether lists and objects stand in each other in more levels than that."""
    if isinstance(value, dict):
        value = list(value.values())
    if not isinstance(value, list):
        return False
    return not levels or any(_deeper_than(levels - 1, part) for part in value)


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is no number")
