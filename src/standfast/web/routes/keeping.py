"""Looking after the book: audit, records that were held, devices that may send."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Depends, Path
from pydantic import BaseModel, ConfigDict
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from standfast.desk.access import enrol_device
from standfast.desk.books import audit
from standfast.desk.history import newest
from standfast.desk.holding import hand_in, held_records, settle, take_again
from standfast.model.base import LARGEST_WHOLE, Line, Text
from standfast.problems import Refused
from standfast.web.batches import records_in
from standfast.web.forms import form_of
from standfast.web.pages import RECORDS, page
from standfast.web.visitor import Visitor, allowed, cookie_text

router = APIRouter(include_in_schema=False)

Reads = Annotated[Visitor, Depends(allowed(*RECORDS))]
Office = Annotated[Visitor, Depends(allowed("office"))]
HeldKey = Annotated[int, Path(ge=0, le=LARGEST_WHOLE)]
Checks = Annotated[Visitor, Depends(allowed("office", "lead"))]

MOST_IN_A_COPY = 5_000
"""Records of a sheet; a lesson of an hour gives a few hundred."""
LAST = 50
"""So many of the newest entries are listed."""


@router.get("/book")
async def book_page(request: Request, visitor: Reads) -> Response:
    """The newest entries, and the way to the rest."""
    return _book(request, visitor, None)


def _book(request: Request, visitor: Visitor, audited: object) -> Response:
    events = newest(visitor.desk, LAST)
    waiting = len(held_records(visitor.desk)[0]) if visitor.may("office") else 0
    return page(
        request,
        "book",
        visitor,
        events=events,
        size=visitor.desk.book.size(),
        waiting=waiting,
        audited=audited,
    )


@router.post("/book/audit")
async def audit_book(request: Request, visitor: Checks) -> Response:
    """Checks everything that can be checked, and makes every decision again."""
    return _book(request, visitor, await run_in_threadpool(audit, visitor.desk))


@router.get("/book/held")
async def held_page(request: Request, visitor: Office) -> Response:
    """Records from beside the mat that could not be taken."""
    return _held(request, visitor, None)


def _held(request: Request, visitor: Visitor, taken: Mapping[str, int] | None) -> Response:
    waiting, settled = held_records(visitor.desk)
    return page(request, "held", visitor, waiting=waiting, settled=settled, taken=taken)


@router.post("/book/copies")
async def copy_of_a_sheet(request: Request, visitor: Office) -> Response:
    """Takes the copy of a sheet that was saved on a device which cannot send any more."""
    async with request.form(max_files=1, max_fields=1) as form:
        file = form.get("file")
        content = b"" if file is None or isinstance(file, str) else await file.read()
    try:
        records = records_in(content, MOST_IN_A_COPY)
    except ValueError as error:
        cure = "choose the file that 'Save a copy' wrote on the device"
        raise Refused("this is no copy of a sheet", [f"{error}; {cure}"]) from None
    taken = await run_in_threadpool(hand_in, visitor.desk, visitor.account, records)
    return _held(request, visitor, taken)


class Settling(BaseModel):
    """The form that settles a held record."""

    model_config = ConfigDict(extra="forbid")

    because: Text


@router.post("/book/held/{key}/settle")
async def settle_held(request: Request, visitor: Office, key: HeldKey) -> Response:
    """Keeps what was done about a held record."""
    form = await form_of(request, Settling)
    settle(visitor.desk, key, visitor.account.login, form.because)
    return RedirectResponse("/book/held", 303)


@router.post("/book/held/{key}/take")
async def take_held(visitor: Office, key: HeldKey) -> Response:
    """Tries it once more."""
    take_again(visitor.desk, key, visitor.account.login)
    return RedirectResponse("/book/held", 303)


@router.get("/book/devices")
async def devices_page(request: Request, visitor: Office) -> Response:
    """Devices that several assessors use."""
    return _devices(request, visitor, None, "")


def _devices(request: Request, visitor: Visitor, name: str | None, word: str) -> Response:
    known = visitor.desk.book.access.devices()
    return page(request, "devices", visitor, devices=known, enrolled=name, word=word)


class NewDevice(BaseModel):
    """The form for a device."""

    model_config = ConfigDict(extra="forbid")

    name: Line


@router.post("/book/devices")
async def enrol(request: Request, visitor: Office) -> Response:
    """Enrols a device; its word is shown once, on this page."""
    form = await form_of(request, NewDevice)
    device, token = enrol_device(visitor.desk, form.name, visitor.account)
    return _devices(request, visitor, device.name, cookie_text(token))


@router.post("/book/devices/{device}/revoke")
async def revoke(visitor: Office, device: str) -> Response:
    """Nothing is taken from the device any more."""
    visitor.desk.book.access.revoke(device, visitor.desk.moment.now)
    return RedirectResponse("/book/devices", 303)
