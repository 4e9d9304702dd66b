"""Signing in and out, and one's own password."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from standfast.desk import access
from standfast.desk.access import LONGEST_SECRET
from standfast.problems import Refused
from standfast.web.forms import NO, Returned, form_of, returned
from standfast.web.house import house_of
from standfast.web.pages import page
from standfast.web.visitor import (
    Visitor,
    allowed,
    give_cookie,
    local_path,
    take_cookie,
    visitor_if_any,
)

router = APIRouter(include_in_schema=False)

ENDED = (
    "you were signed out before that was sent, so it entered nothing; if it was sent twice, the"
    " first may have counted, a new password or PIN too. Sign in, and the page from which it was"
    " sent comes back"
)
KEPT = "; what you typed stands there again, for an hour, when it is you who signs in"
WRONG = "login and password do not belong together; mind capital letters, and try again"


class SignIn(BaseModel):
    """The form at the door."""

    model_config = ConfigDict(extra="forbid")

    login: str
    password: str
    next: str = "/"


@router.get("/sign-in", name="sign_in_page")
async def sign_in_page(
    request: Request,
    next: str = "/",  # noqa: A002 - the usual word
    ended: bool = False,
    kept: bool = False,
) -> Response:
    """The door; `ended`: something was sent after the session's end; `kept`: it waits."""
    wrong = f"{ENDED}{KEPT if kept else ''}" if ended else None
    return page(request, "sign-in", None, next=local_path(next), wrong=wrong, login="")


@router.post("/sign-in")
async def sign_in(request: Request) -> Response:
    """Lets somebody in who has the password; a new session, whatever cookie was there."""
    form = await form_of(request, SignIn)
    house = house_of(request)
    trying = access.begin_sign_in(house.desk(), form.login.strip(), _address(request))
    async with house.hashing:
        matched = await run_in_threadpool(access.matches, trying.kept, form.password)
    token = access.sign_in(house.desk(), trying, matched=matched)
    if token is None:
        again = {"next": local_path(form.next), "wrong": WRONG, "login": form.login[:64]}
        return page(request, "sign-in", None, status=403, **again)
    response = RedirectResponse(local_path(form.next), 303)
    give_cookie(response, token)
    return response


@router.post("/sign-out")
async def sign_out(request: Request) -> Response:
    """Ends the session; whoever has none is out already."""
    visitor = visitor_if_any(request)
    if visitor is not None:
        visitor.desk.book.access.end_session(visitor.token)
    response = RedirectResponse("/sign-in", 303)
    take_cookie(response)
    return response


def _address(request: Request) -> str:
    """Where the request comes from."""
    return request.client.host if request.client else "nowhere"


async def _shown(request: Request, visitor: Visitor, password: str) -> access.Trying:
    """That it is the visitor's password, for `access.change_account`.

    Raises:
        TooSoon: too many tries went wrong.
        Refused: it is another.
    """
    trying = access.begin_sign_in(visitor.desk, visitor.account.login, _address(request))
    async with house_of(request).hashing:
        matched = await run_in_threadpool(access.matches, trying.kept, password)
    if not matched:
        access.count_failure(visitor.desk, trying.counted)
        raise Refused("nothing was changed", ["the old password is another"])
    return trying


async def _change(request: Request, visitor: Visitor, shown: access.Trying, **new: str) -> None:
    """Changes password or PIN, by the password that was shown."""
    desk, login = visitor.desk, visitor.account.login
    change = partial(access.change_account, desk, login, shown=shown, **new)  # type: ignore[arg-type]
    async with house_of(request).hashing:
        await run_in_threadpool(change)


class NewPin(BaseModel):
    """The form for one's own PIN."""

    model_config = ConfigDict(extra="forbid")

    password: str
    pin: str


@router.post("/pin")
async def change_pin(
    request: Request, visitor: Annotated[Visitor, Depends(allowed("assessor"))]
) -> Response:
    """Sets the PIN with which she confirms on a shared device; she signs in again."""
    try:
        form = await form_of(request, NewPin)
        shown = await _shown(request, visitor, form.password)
        await _change(request, visitor, shown, pin=form.pin)
    except NO as error:
        return _password(request, visitor, await returned(request, error), "pin")
    response = RedirectResponse("/sign-in", 303)
    take_cookie(response)
    return response


class NewPassword(BaseModel):
    """The form for one's own password."""

    model_config = ConfigDict(extra="forbid")

    old: str
    new: str
    again: str


@router.get("/password")
async def password_page(
    request: Request, visitor: Annotated[Visitor, Depends(allowed())]
) -> Response:
    """Where one changes one's own password."""
    return _password(request, visitor)


def _password(
    request: Request, visitor: Visitor, back: Returned | None = None, of: str = ""
) -> Response:
    """`of` is the form that comes back."""
    told = {"shortest": access.SHORTEST_PASSWORD, "longest": LONGEST_SECRET, "back": back, "of": of}
    return page(request, "password", visitor, status=back.status if back else 200, **told)


@router.post("/password")
async def change_password(
    request: Request, visitor: Annotated[Visitor, Depends(allowed())]
) -> Response:
    """Changes it; every session of the account ends, this one too."""
    try:
        form = await form_of(request, NewPassword)
        shown = await _shown(request, visitor, form.old)
        if form.new != form.again:
            raise Refused("nothing was changed", ["the new password was typed in two ways"])
        await _change(request, visitor, shown, password=form.new)
    except NO as error:
        return _password(request, visitor, await returned(request, error), "password")
    response = RedirectResponse("/sign-in", 303)
    take_cookie(response)
    return response
