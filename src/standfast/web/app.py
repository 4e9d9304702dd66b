"""The application, put together."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import date, datetime
from pathlib import Path
from urllib.parse import urlsplit

from fastapi import FastAPI
from fastapi.exception_handlers import (
    http_exception_handler,
    request_validation_exception_handler,
)
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.staticfiles import StaticFiles

import standfast
from standfast.desk.access import TooSoon, forget_old_sessions
from standfast.desk.opening import Moment, open_desk
from standfast.problems import BadInput, NotFound, RecordBookError, Refused, StandfastError
from standfast.web import pages
from standfast.web.forms import keep_typed
from standfast.web.guard import Guard, Scope
from standfast.web.house import House
from standfast.web.routes import (
    appeals,
    comparing,
    decisions,
    due,
    forecast,
    keeping,
    mat_api,
    mat_pages,
    outside,
    people,
    planning,
    practicals,
    rubrics,
    signing_in,
    today,
)
from standfast.web.visitor import NotAllowed, NotSignedIn, visitor_of

ROUTERS = (
    signing_in.router,
    today.router,
    due.router,
    forecast.router,
    people.router,
    practicals.router,
    planning.router,
    decisions.router,
    appeals.router,
    comparing.router,
    rubrics.router,
    keeping.router,
    outside.router,
    mat_api.router,
    mat_pages.router,
)

_OUTPUT = logging.getLogger("uvicorn.error")

RETRY_SECONDS = 5
CACHE_MIB = 2
"""Of each of some five connections, which stay; what is asked for is a few pages of the book."""
MOST_TOLD = 200
"""Lines of one page; a file can have more faults than anybody mends at once."""
NOT_THIS_WAY = "This address takes only what a page of ours sends to it. Begin at the first page."


def create_app(
    root: Path,
    now: Callable[[], datetime],
    random: Callable[[int], bytes],
    on: date | None = None,
) -> Guard:
    """The application for the school in that folder.  Clock and randomness are handed in.

    `on` is the day that counts as today, for the invented school.  The book is opened when the
    server starts and closed when it stops.

    Raises (at start):
        RecordBookError: the book cannot be opened.
    """

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        with open_desk(root, Moment(now(), "web", random), cache_mib=CACHE_MIB) as desk:
            house = House(root, desk.book, now, random, on)
            forget_old_sessions(house.desk())
            app.state.house = house
            yield

    app = FastAPI(
        title="Standfast",
        version=standfast.__version__,
        description=pages.CAUTION,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        redirect_slashes=False,  # it would lead to whatever host the request names
    )
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=pages.HERE / "static"))
    app.add_exception_handler(NotSignedIn, _to_the_door)
    app.add_exception_handler(NotAllowed, _not_allowed)
    app.add_exception_handler(StandfastError, _told)
    app.add_exception_handler(404, _no_such_page)
    app.add_exception_handler(HTTPException, _not_this_way)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(Exception, _broken)
    return Guard(app, _refused(app))


def _is_api(request: Request) -> bool:
    return request.url.path.startswith("/api/")


async def _to_the_door(request: Request, error: Exception) -> Response:
    """The way to sign in; a page leads there, what a script asked for only says so."""
    if _is_api(request):
        return JSONResponse({"error": str(error)}, 401)
    address = request.url_for("sign_in_page")
    if request.method == "GET":
        wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        address = address.include_query_params(next=wanted)
    else:
        assert isinstance(error, NotSignedIn)  # noqa: S101 - how the handler is registered
        kept = error.was is not None and await keep_typed(request, error.was)
        told = {"ended": "true", **({"kept": "true"} if kept else {})}
        address = address.include_query_params(next=_came_from(request), **told)
    return RedirectResponse(f"{address.path}?{address.query}", 303)


def _came_from(request: Request) -> str:
    """The page of ours that sent the form; the first one when the browser does not say."""
    told = urlsplit(request.headers.get("referer", ""))
    if told.netloc != request.url.netloc:
        return "/"
    return told.path + (f"?{told.query}" if told.query else "")


async def _not_allowed(request: Request, error: Exception) -> Response:
    if _is_api(request):
        return JSONResponse({"error": str(error)}, 403)
    return _page_told(request, 403, "Not for this account", [str(error)])


async def _no_such_page(request: Request, _: Exception) -> Response:
    if _is_api(request):
        return JSONResponse({"error": "there is nothing at this address"}, 404)
    return _page_told(request, 404, "Nothing here", ["There is no page at this address."])


async def _not_this_way(request: Request, error: Exception) -> Response:
    """An address that is there, and is asked for in a way for which it is not."""
    assert isinstance(error, HTTPException)  # noqa: S101 - how the handler is registered
    if _is_api(request):
        return await http_exception_handler(request, error)
    words = NOT_THIS_WAY if error.status_code == 405 else str(error.detail)  # noqa: PLR2004
    response = _page_told(request, error.status_code, "Not in this way", [words])
    response.headers.update(error.headers or {})
    return response


async def _not_understood(request: Request, error: Exception) -> Response:
    """A part of the address that is not what stands there: a word instead of a number."""
    assert isinstance(error, RequestValidationError)  # noqa: S101 - how the handler is registered
    if _is_api(request):
        return await request_validation_exception_handler(request, error)
    lines = [
        f"'{one.get('input')}' cannot be '{one['loc'][-1]}' in the address of a page; mend it, or"
        " begin at the first page"
        for one in error.errors()
    ]
    return _page_told(request, 422, "This address cannot be read", lines)


def _refused(app: FastAPI) -> Callable[[Scope, int, str], Response]:
    """How what is not let in at all is told to a person."""

    def told(scope: Scope, status: int, words: str) -> Response:
        request = Request({**scope, "app": app})
        title = "This was not taken"
        return pages.page(request, "told", None, status=status, title=title, lines=[words])

    return told


async def _broken(request: Request, _: Exception) -> Response:
    """What nobody thought of: told plainly; the server's own output has what happened."""
    if _is_api(request):
        return JSONResponse({"error": "something went wrong here; nothing of this was kept"}, 500)
    words = (
        "Nothing of what was sent was kept. Try again; if it comes back, tell whoever keeps the"
        " server: what happened stands in its output."
    )
    return _page_told(request, 500, "Something went wrong here", [words])


async def _told(request: Request, error: Exception) -> Response:
    """What stops the desk, in words; with the number that says whose turn it is to act."""
    assert isinstance(error, StandfastError)  # noqa: S101 - how the handler is registered
    status, title = _kind_of(error)
    headers = _headers_of(error)
    words = str(error)
    if isinstance(error, RecordBookError):  # names the file or the database
        _OUTPUT.warning("%s", error)
        words = error.told
    if _is_api(request):
        return JSONResponse({"error": words}, status, headers)
    lines = words.splitlines()
    more = [f"and {len(lines) - MOST_TOLD} more like these"] if len(lines) > MOST_TOLD else []
    response = _page_told(request, status, title, [*lines[:MOST_TOLD], *more])
    response.headers.update(headers)
    return response


def _kind_of(error: StandfastError) -> tuple[int, str]:
    for kind, status, title in (
        (NotFound, 404, "Nothing of that name"),
        (Refused, 409, "The answer is no"),
        (BadInput, 422, "This cannot be taken"),
        (TooSoon, 429, "Wait a moment"),
        (RecordBookError, 503, "The record book cannot be reached"),
    ):
        if isinstance(error, kind):
            return status, title
    return 400, "This could not be done"


def _headers_of(error: StandfastError) -> dict[str, str]:
    if isinstance(error, TooSoon):
        return {"retry-after": str(max(1, round(error.wait.total_seconds())))}
    return {"retry-after": str(RETRY_SECONDS)} if isinstance(error, RecordBookError) else {}


def _page_told(request: Request, status: int, title: str, lines: list[str]) -> Response:
    try:
        visitor = visitor_of(request)
    except (NotSignedIn, RecordBookError):
        visitor = None
    return pages.page(request, "told", visitor, status=status, title=title, lines=lines)
