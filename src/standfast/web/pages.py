"""Templates to HTML: what every page has, and its own values."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import HTMLResponse

from standfast.engine.phrases import count
from standfast.model.caution import caution
from standfast.paper.view.words import day, in_words, month
from standfast.web.house import house_of
from standfast.web.naming import named, names_of

if TYPE_CHECKING:
    import jinja2

    from standfast.model.account import Role
    from standfast.web.visitor import Visitor

HERE = Path(__file__).parent

ANYBODY: tuple[Role, ...] = ("assessor", "certifier", "lead", "office", "reader")

RECORDS: tuple[Role, ...] = ("office", "certifier", "lead", "reader")
"""Who may read everybody's record; assessors judge, and read no more than what they judge."""

PARTS: tuple[tuple[str, str, tuple[Role, ...]], ...] = (
    ("/", "Today", ANYBODY),
    ("/mat", "Score", ("assessor",)),
    ("/due", "Due", RECORDS),
    ("/people", "People", RECORDS),
    ("/practicals", "Practicals", (*RECORDS, "assessor")),
    ("/decisions", "Decisions", RECORDS),
    ("/appeals", "Appeals", RECORDS),
    ("/assessors", "Assessors", ("lead",)),
    ("/rubrics", "Rubrics", ANYBODY),
    ("/book", "Book", RECORDS),
)
"""The parts of the house in the order of the menu: address, word, and who may go there."""

CAUTION = caution("This records what was seen on certain days.")


@cache
def environment() -> jinja2.Environment:
    """The templates of the web pages, and the charts of paper; an unknown variable is an error."""
    import jinja2

    from standfast.desk.schools import shipped

    found = jinja2.Environment(
        loader=jinja2.FileSystemLoader([HERE / "templates", shipped("templates")]),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_as_read,
    )
    found.filters["in_words"] = in_words
    found.filters["month"] = month
    found.globals["count"] = count
    return found


def _as_read(value: object) -> object:
    """A day as a person reads it; all else as it is."""
    return day(value) if isinstance(value, date) and not isinstance(value, datetime) else value


def _within(path: str, part: str) -> bool:
    """Whether a page belongs to that part of the house."""
    return path == part or (part != "/" and path.startswith(f"{part}/"))


def page(
    request: Request,
    name: str,
    visitor: Visitor | None,
    /,
    *,
    status: int = 200,
    **values: object,
) -> HTMLResponse:
    """The page of that template; `visitor` is whose menu it shows."""
    house = house_of(request)
    menu = [
        (address, word, _within(request.url.path, address))
        for address, word, roles in PARTS
        if visitor is not None and visitor.may(*roles)
    ]
    desk = visitor.desk if visitor else house.desk()
    common = {
        "visitor": visitor,
        "menu": menu,
        "school": desk.school,
        "today": desk.today,
        "caution": CAUTION,
    }
    text = environment().get_template(f"{name}.html").render(common | values)
    if visitor is not None:  # nobody else is told a name
        text = named(text, names_of(desk))
    return HTMLResponse(text, status)
