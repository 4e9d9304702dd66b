"""What the page beside the mat asks for and sends."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.security import APIKeyCookie, HTTPBearer
from pydantic import BaseModel, ConfigDict, StringConstraints, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from standfast.desk import mat
from standfast.desk.access import begin_pin, matches, pin_told
from standfast.desk.mat import MOST_AT_ONCE
from standfast.desk.opening import Desk
from standfast.model.account import Account
from standfast.model.base import KEY, Hash
from standfast.web.batches import records_in
from standfast.web.house import house_of
from standfast.web.pages import CAUTION
from standfast.web.visitor import COOKIE, Visitor, allowed, device_of, visitor_with


class Refusal(BaseModel):
    """Why something was not done."""

    error: str


class Answers(BaseModel):
    """What became of each record of a batch, in the order in which they were sent."""

    answers: list[mat.Answer]


REFUSED: dict[int | str, dict[str, Any]] = {
    401: {"model": Refusal, "description": "nobody is signed in, and no device that may send"},
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
    dependencies=[
        Depends(APIKeyCookie(name=COOKIE, scheme_name="session", auto_error=False)),
        Depends(HTTPBearer(scheme_name="device", auto_error=False)),
    ],
)

Assessor = Annotated[Visitor, Depends(allowed("assessor"))]

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


class Confirmation(BaseModel):
    """What was signed, by its hash; and on a shared device the PIN, as typed."""

    model_config = ConfigDict(extra="forbid")

    sha256: Hash
    pin: Annotated[str, StringConstraints(pattern=r"^\d{4,8}$")] | None = None


CONFIRMS = {
    "requestBody": {
        "required": True,
        "description": "A shared device sends the PIN too; who is signed in needs none.",
        "content": {"application/json": {"schema": Confirmation.model_json_schema()}},
    }
}
CONFIRMED_SO = 'write {"sha256": "...", "pin": "..."}: what was signed, and 4 to 8 digits'
CONFIRMED: dict[int | str, dict[str, Any]] = {
    200: {"model": mat.SheetState},
    422: {"model": Refusal, "description": "no hash, or no PIN of 4 to 8 digits"},
    429: {"model": Refusal, "description": "too many tries went wrong; wait"},
}


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
async def sheet(request: Request, sheet: str) -> mat.SheetState:
    """How one of them stands; a shared device may ask about any that it knows by its id."""
    desk, account = _of_sheet(request, sheet)
    return mat.state_of(desk, account, sheet)


@router.post(
    "/sheets/{sheet}/confirm", responses={**SENT, **ASKED, **CONFIRMED}, openapi_extra=CONFIRMS
)
async def confirm(request: Request, sheet: str) -> Response:
    """Whoever signed on a shared device shows who she is: by her session there, or by her PIN."""
    desk, account = _of_sheet(request, sheet)
    try:
        sent = Confirmation.model_validate_json(await request.body(), strict=True)
    except ValidationError:
        return JSONResponse({"error": CONFIRMED_SO}, 422)
    if device_of(request) is not None:
        if sent.pin is None:
            return JSONResponse({"error": CONFIRMED_SO}, 422)
        trying = begin_pin(desk, account)
        async with house_of(request).hashing:
            matched = await run_in_threadpool(matches, trying.kept, sent.pin)
        pin_told(desk, trying, matched=matched)
    return JSONResponse(asdict(mat.confirm(desk, account, sheet, sent.sha256)))


def _of_sheet(request: Request, sheet: str) -> tuple[Desk, Account]:
    """The desk of whose sheet it is: the visitor's, or for a device the assessor's."""
    if device_of(request) is None:
        visitor = visitor_with(request, "assessor")
        return visitor.desk, visitor.account
    account = mat.account_of(house_of(request).desk(), sheet)
    return house_of(request).desk(account.actor), account


@router.post("/records", responses=SENT, openapi_extra=TAKES)
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
        sent = records_in(await request.body(), MOST_AT_ONCE)
    except ValueError as error:
        return JSONResponse({"error": str(error)}, 422)
    answers = mat.take_records(desk, sender, sent)
    return JSONResponse({"answers": [vars(one) for one in answers]})
