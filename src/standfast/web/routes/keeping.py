"""Looking after the book: audit, records that were held, devices that may send."""

from __future__ import annotations

import re
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
from standfast.model.base import LARGEST_WHOLE, Key, Line, Text
from standfast.problems import Refused
from standfast.web.batches import records_in
from standfast.web.forms import NO, Returned, form_of, returned, typed_before
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
    return _held(request, visitor, None, typed_before(request, visitor))


def _held(
    request: Request,
    visitor: Visitor,
    taken: Mapping[str, int] | None,
    back: Returned | None = None,
) -> Response:
    waiting, settled = held_records(visitor.desk)
    key = _record_of(back)
    told = {"waiting": waiting, "settled": settled, "taken": taken, "back": back, "key": key}
    return page(request, "held", visitor, status=back.status if back else 200, **told)


def _record_of(back: Returned | None) -> int | None:
    """The record whose form comes back; None for that of the copy."""
    found = re.match(r"/book/held/(\d+)/", back.path) if back else None
    return int(found[1]) if found else None


@router.post("/book/copies")
async def copy_of_a_sheet(request: Request, visitor: Office) -> Response:
    """Takes the copy of a sheet that was saved on a device which cannot send any more."""
    try:
        taken = await _handed_in(request, visitor)
    except NO as error:
        return _held(request, visitor, None, await returned(request, error))
    return _held(request, visitor, taken)


async def _handed_in(request: Request, visitor: Visitor) -> Mapping[str, int]:
    async with request.form(max_files=1, max_fields=1) as form:
        file = form.get("file")
        content = b"" if file is None or isinstance(file, str) else await file.read()
    try:
        records = records_in(content, MOST_IN_A_COPY)
    except ValueError as error:
        cure = "choose the file that 'Save a copy' wrote on the device"
        raise Refused("this is no copy of a sheet", [f"{error}; {cure}"]) from None
    return await run_in_threadpool(hand_in, visitor.desk, visitor.account, records)


class Taking(BaseModel):
    """The form that tries a held record once more."""

    model_config = ConfigDict(extra="forbid")

    record: Key
    """Its id: the number may have been that of another, which was erased."""


class Settling(Taking):
    """The form that settles a held record."""

    because: Text


@router.post("/book/held/{key}/settle")
async def settle_held(request: Request, visitor: Office, key: HeldKey) -> Response:
    """Keeps what was done about a held record."""
    try:
        form = await form_of(request, Settling)
        settle(visitor.desk, key, form.record, visitor.account.login, form.because)
    except NO as error:
        return _held(request, visitor, None, await returned(request, error))
    return RedirectResponse("/book/held", 303)


@router.post("/book/held/{key}/take")
async def take_held(request: Request, visitor: Office, key: HeldKey) -> Response:
    """Tries it once more."""
    try:
        form = await form_of(request, Taking)
        take_again(visitor.desk, key, form.record, visitor.account.login)
    except NO as error:
        return _held(request, visitor, None, await returned(request, error))
    return RedirectResponse("/book/held", 303)


@router.get("/book/devices")
async def devices_page(request: Request, visitor: Office) -> Response:
    """Devices that several assessors use."""
    return _devices(request, visitor, back=typed_before(request, visitor))


def _devices(
    request: Request,
    visitor: Visitor,
    name: str | None = None,
    word: str = "",
    back: Returned | None = None,
) -> Response:
    known = visitor.desk.book.access.devices()
    key = visitor.desk.new_key()
    told = {"devices": known, "enrolled": name, "word": word, "back": back, "new": key}
    return page(request, "devices", visitor, status=back.status if back else 200, **told)


class NewDevice(BaseModel):
    """The form for a device."""

    model_config = ConfigDict(extra="forbid")

    id: Key
    """Made with the form, so that the form enrols one device, however often it comes."""
    name: Line


@router.post("/book/devices")
async def enrol(request: Request, visitor: Office) -> Response:
    """Enrols a device; its word is shown once, on this page.

    The same once more, by a page that is loaded anew, finds the name taken and enrols nothing.
    """
    try:
        form = await form_of(request, NewDevice)
        device, token = enrol_device(visitor.desk, form.id, form.name, visitor.account)
    except NO as error:
        return _devices(request, visitor, back=await returned(request, error))
    return _devices(request, visitor, device.name, cookie_text(token))


@router.post("/book/devices/{device}/revoke")
async def revoke(visitor: Office, device: str) -> Response:
    """Nothing is taken from the device any more."""
    visitor.desk.book.access.revoke(device, visitor.desk.moment.now)
    return RedirectResponse("/book/devices", 303)
