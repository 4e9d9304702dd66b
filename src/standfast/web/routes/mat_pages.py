"""The pages beside the mat, and the worker that keeps them on the device.

They are the same for everybody and hold no name, so that the worker may keep them; who is scored
comes from the lesson's kit, which the page fetches and keeps itself.
"""

from __future__ import annotations

import hashlib
import json
import re
from functools import cache
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from standfast.web.pages import CAUTION, HERE, environment
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

Assessor = Annotated[Visitor, Depends(allowed("assessor"))]

SCRIPTS = HERE / "static" / "mat"
PAGES: dict[str, tuple[str, tuple[str, ...]]] = {
    "/mat": ("begin", ("store", "copy", "replay", "ui", "words", "whole", "worker")),
    "/mat/lesson": ("lesson", ("store", "copy", "replay", "ui", "words", "rate")),
    "/mat/review": (
        "review",
        ("store", "copy", "replay", "ui", "words", "naming", "rate", "whole"),
    ),
    "/mat/quick": ("quick", ("store", "copy", "replay", "ui", "words")),
}
"""Address to script and template of the page, and the modules that the script asks for."""


@cache
def files() -> tuple[str, ...]:
    """Every address that the worker keeps."""
    kept = sorted(path.name for path in SCRIPTS.iterdir() if path.name != "sw.js")
    return (*PAGES, *(f"/static/mat/{name}" for name in kept), "/static/mark.svg")


@cache
def script(name: str) -> str:
    """A script as it is sent: without the lines of comment, a sixth of it, which are read here."""
    return re.sub(r"^ *//.*\n", "", (SCRIPTS / name).read_text("utf-8"), flags=re.MULTILINE)


@cache
def version() -> str:
    """Changes when anything that the worker keeps changes."""
    parts = [*sorted(SCRIPTS.iterdir()), *sorted((HERE / "templates").glob("mat-*.html"))]
    found = hashlib.sha256(b"\0".join(path.read_bytes() for path in parts))
    return found.hexdigest()[:16]


def _page(request: Request) -> Response:
    script, modules = PAGES[request.url.path]
    template = environment().get_template(f"mat-{script}.html")
    text = template.render(caution=CAUTION, script=script, modules=modules)
    return HTMLResponse(text, headers={"x-mat-version": version()})


@router.get("/mat")
async def begin_page(request: Request, _: Assessor) -> Response:
    """My sheets on this device, and the lesson to come."""
    return _page(request)


@router.get("/mat/lesson")
async def lesson_page(request: Request, _: Assessor) -> Response:
    """Where a lesson is scored; which one stands behind the # of the address."""
    return _page(request)


@router.get("/mat/review")
async def review_page(request: Request, _: Assessor) -> Response:
    """Where a sheet is looked at as a whole, and signed."""
    return _page(request)


@router.get("/mat/quick")
async def quick_page(request: Request, _: Assessor) -> Response:
    """Where a sheet that was scored on paper is typed."""
    return _page(request)


@router.get("/sw.js")
async def worker() -> Response:
    """The worker, which names its version and its files; asked for anew each time."""
    names = f"const VERSION = {json.dumps(version())};\nconst FILES = {json.dumps(files())};\n"
    return Response(
        names + script("sw.js"),
        media_type="text/javascript",
        headers={"cache-control": "no-cache"},
    )


@router.get("/static/mat/{name}.js")
async def script_file(name: str) -> Response:
    """A script of these pages."""
    if f"/static/mat/{name}.js" not in files():
        raise HTTPException(404)
    return Response(script(f"{name}.js"), media_type="text/javascript")
