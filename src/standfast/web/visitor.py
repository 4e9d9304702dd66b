"""Who is asking, and what they may see."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from starlette.requests import Request

from standfast.desk import access
from standfast.desk.opening import Desk
from standfast.model.account import Account, Device, Role
from standfast.web.house import house_of

if TYPE_CHECKING:
    from starlette.responses import Response

COOKIE = "__Host-standfast"
"""Sent by the browser only to this host, over HTTPS or to the machine itself."""

NEXT_TO_NOTHING = "/"


@dataclass(frozen=True)
class Visitor:
    """Somebody who signed in, at the desk."""

    account: Account
    desk: Desk
    token: bytes

    def may(self, *roles: Role) -> bool:
        """Whether the account has one of these roles."""
        return self.account.may(*roles)


class NotSignedIn(Exception):  # noqa: N818 - leads to the door, is no fault
    """Nobody is signed in, or the session has ended; `was` is whose it was, when that is known."""

    def __init__(self, words: str = "sign in first", was: Account | None = None) -> None:
        self.was = was
        super().__init__(words)


class NotAllowed(Exception):  # noqa: N818 - an answer
    """Signed in, without any of the roles that this needs."""

    def __init__(self, roles: tuple[Role, ...]) -> None:
        self.roles = roles
        super().__init__(f"this is for: {', '.join(roles)}")


def visitor_of(request: Request) -> Visitor:
    """Who is signed in.

    Raises:
        NotSignedIn: nobody.
    """
    token = token_in(request.cookies.get(COOKIE, ""))
    house = house_of(request)
    try:
        found = access.session_of(house.desk(), token) if token else None
    except access.Ended as ended:
        raise NotSignedIn(was=ended.account) from None
    if found is None:
        raise NotSignedIn
    return Visitor(found.account, house.desk(found.account.actor), token)


def visitor_if_any(request: Request) -> Visitor | None:
    """Who is signed in, on a page that is for anybody."""
    try:
        return visitor_of(request)
    except NotSignedIn:
        return None


def visitor_with(request: Request, *roles: Role) -> Visitor:
    """The visitor, who has one of these roles; without roles anybody signed in.

    Raises:
        NotSignedIn: nobody.
        NotAllowed: somebody without any of them.
    """
    visitor = visitor_of(request)
    if roles and not visitor.may(*roles):
        raise NotAllowed(roles)
    return visitor


def allowed(*roles: Role) -> Callable[[Request], Awaitable[Visitor]]:
    """A dependency: as `visitor_with`."""

    async def dependency(request: Request) -> Visitor:
        return visitor_with(request, *roles)

    return dependency


def device_of(request: Request) -> Device | None:
    """The shared device that sends; None when the request names none.

    Raises:
        NotSignedIn: it names one that may not send, or not any more.
    """
    scheme, _, word = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() != "bearer":
        return None
    token = token_in(word.strip())
    found = house_of(request).desk().book.access.device(token) if token else None
    if found is None:
        raise NotSignedIn("this device may not send; the office enrols it")
    return found


def cookie_text(token: bytes) -> str:
    """The token as the cookie has it."""
    return base64.urlsafe_b64encode(token).decode().rstrip("=")


def token_in(text: str) -> bytes:
    """The token that the cookie has; empty when it has none."""
    try:
        return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except (binascii.Error, ValueError):
        return b""


def give_cookie(response: Response, token: bytes) -> None:
    """Lets the browser keep the token until the session ends."""
    response.set_cookie(
        COOKIE,
        cookie_text(token),
        max_age=int(access.LONGEST.total_seconds()),
        path="/",
        secure=True,
        httponly=True,
        samesite="lax",
    )


def take_cookie(response: Response) -> None:
    """Has the browser forget it."""
    response.delete_cookie(COOKIE, path="/", secure=True, httponly=True, samesite="lax")


def local_path(wanted: str | None) -> str:
    """Where to go on after signing in: a path of our own, whatever was asked for.

    >>> local_path("/due?quarter=2026Q4"), local_path("//elsewhere.example"), local_path(None)
    ('/due?quarter=2026Q4', '/', '/')
    """
    if not wanted or not wanted.startswith("/") or wanted[1:2] in {"/", "\\"}:
        return NEXT_TO_NOTHING
    return wanted if wanted.isprintable() else NEXT_TO_NOTHING
