"""What the page beside the mat asks for and sends."""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, StringConstraints, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from standfast.desk import mat
from standfast.desk.access import begin_pin, matches, pin_told
from standfast.desk.mat import MOST_AT_ONCE
from standfast.desk.opening import Desk
from standfast.model.account import Account
from standfast.web.house import house_of
from standfast.web.pages import CAUTION
from standfast.web.visitor import Visitor, allowed, device_of, visitor_with

router = APIRouter(prefix="/api", tags=["beside the mat"])

Assessor = Annotated[Visitor, Depends(allowed("assessor"))]

REFUSED: dict[int | str, dict[str, Any]] = {
    401: {"description": "nobody is signed in, and no device that may send is named"},
    403: {"description": "the account scores nothing"},
    422: {"description": "what was sent is not of this shape"},
}


class Confirmation(BaseModel):
    """A PIN, as typed on a shared device."""

    model_config = ConfigDict(extra="forbid")

    pin: Annotated[str, StringConstraints(pattern=r"^\d{4,8}$")]


KEY = re.compile(r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")


@router.get("/kits")
async def kits(visitor: Assessor) -> dict[str, Any]:
    """Under which rubrics the assessor may score today, and whom."""
    return mat.kits(visitor.desk, visitor.account)


@router.get("/lesson-kit")
async def lesson_kit(visitor: Assessor, rubric: str, candidate: str) -> dict[str, Any]:
    """Everything that a lesson needs without a network."""
    return {**mat.kit(visitor.desk, visitor.account, rubric, candidate), "caution": CAUTION}


@router.get("/sheets")
async def sheets(visitor: Assessor) -> list[dict[str, Any]]:
    """The assessor's sheets as the server has them."""
    return mat.sheets_of(visitor.desk, visitor.account)


@router.get("/sheets/{sheet}")
async def sheet(request: Request, sheet: str) -> dict[str, Any]:
    """How one of them stands; a shared device may ask about any that it knows by its id."""
    desk, account = _of_sheet(request, sheet)
    return asdict(mat.state_of(desk, account, sheet))


@router.post("/sheets/{sheet}/confirm", responses=REFUSED)
async def confirm(request: Request, sheet: str) -> Response:
    """Whoever signed on a shared device shows who she is: by her session there, or by her PIN."""
    desk, account = _of_sheet(request, sheet)
    if device_of(request) is not None:
        try:
            sent = Confirmation.model_validate_json(await request.body(), strict=True)
        except ValidationError:
            return JSONResponse({"error": 'write {"pin": "..."}, 4 to 8 digits'}, 422)
        trying = begin_pin(desk, account)
        async with house_of(request).hashing:
            matched = await run_in_threadpool(matches, trying.kept, sent.pin)
        pin_told(desk, trying, matched=matched)
    return JSONResponse(asdict(mat.confirm(desk, account, sheet)))


def _of_sheet(request: Request, sheet: str) -> tuple[Desk, Account]:
    """The desk of whose sheet it is: the visitor's, or for a device the assessor's."""
    if device_of(request) is None:
        visitor = visitor_with(request, "assessor")
        return visitor.desk, visitor.account
    account = mat.account_of(house_of(request).desk(), sheet)
    return house_of(request).desk(account.actor), account


@router.post("/records", responses=REFUSED)
async def take(request: Request) -> Response:
    """Keeps records; what cannot be taken is held for the office, and acknowledged."""
    device = device_of(request)
    if device is None:
        visitor = visitor_with(request, "assessor")
        desk, sender = visitor.desk, mat.own(visitor.account)
    else:
        desk = house_of(request).desk()
        sender = mat.for_all(desk, device)
    try:
        sent = _records(await request.body())
    except ValueError as error:
        return JSONResponse({"error": str(error)}, 422)
    answers = mat.take_records(desk, sender, sent)
    return JSONResponse({"answers": [asdict(one) for one in answers]})


def _records(body: bytes) -> list[dict[str, Any]]:
    """The records of a batch; each has an id that can be read.

    Raises:
        ValueError: what is wrong with the batch as a whole.
    """
    sent = json.loads(body, parse_constant=_no_number)
    records = sent.get("records") if isinstance(sent, dict) else None
    if not isinstance(records, list):
        raise ValueError('write {"records": [...]}')  # noqa: TRY004 - told to whoever sent it
    if len(records) > MOST_AT_ONCE:
        raise ValueError(f"{len(records)} records; send at most {MOST_AT_ONCE} at once")
    bad = [
        f"record {place}: no id that can be read"
        for place, one in enumerate(records)
        if not (isinstance(one, dict) and isinstance(one.get("id"), str) and KEY.match(one["id"]))
    ]
    if bad:
        raise ValueError("; ".join(bad))
    return records


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is no number")
