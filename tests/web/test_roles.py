"""Which account may go where: every route of the application against every role."""

from __future__ import annotations

import re
from collections.abc import Iterator

import httpx
import pytest
from fastapi.routing import APIRoute
from tests.web.conftest import Served, Visit, filled_in

from standfast.model.account import ROLES
from standfast.web.app import ROUTERS

OPEN: tuple[str, ...] = ("nobody", *ROLES)
SIGNED_IN: tuple[str, ...] = ROLES
RECORDS: tuple[str, ...] = ("office", "certifier", "lead", "reader")

TABLE: dict[str, tuple[str, ...]] = {
    "GET /health": OPEN,
    "GET /sign-in": OPEN,
    "POST /sign-in": OPEN,
    "POST /sign-out": OPEN,
    "GET /password": SIGNED_IN,
    "POST /password": SIGNED_IN,
    "POST /pin": ("assessor",),
    "GET /": SIGNED_IN,
    "GET /mat": ("assessor",),
    "GET /mat/lesson": ("assessor",),
    "GET /mat/review": ("assessor",),
    "GET /mat/quick": ("assessor",),
    "GET /sw.js": OPEN,
    "GET /static/mat/{name}.js": OPEN,
    "GET /api/kits": ("assessor",),
    "GET /api/lesson-kit": ("assessor",),
    "GET /api/sheets": ("assessor",),
    "GET /api/sheets/{sheet}": ("assessor",),
    "POST /api/records": ("assessor",),
    "GET /due": RECORDS,
    "GET /due/list.pdf": RECORDS,
    "GET /due/forecast": RECORDS,
    "GET /due/forecast.csv": RECORDS,
    "GET /due/table.{kind}": RECORDS,
    "GET /plan": ("office", "certifier", "lead"),
    "GET /plan/day.pdf": ("office", "certifier", "lead"),
    "GET /people": RECORDS,
    "GET /people/import": ("office",),
    "POST /people/import": ("office",),
    "GET /people/{slug}": RECORDS,
    "GET /people/{slug}/record.pdf": RECORDS,
    "POST /people/{slug}/documents": ("office",),
    "POST /people/{slug}/documents/correct": ("office",),
    "GET /certificates/{number}.pdf": RECORDS,
    "POST /api/sheets/{sheet}/confirm": ("assessor",),
    "POST /sheets/{sheet}/confirm": ("assessor",),
    "GET /due/letters/{slug}.pdf": RECORDS,
    "GET /practicals": (*RECORDS, "assessor"),
    "GET /practicals/{practical}": (*RECORDS, "assessor"),
    "GET /decisions": RECORDS,
    "GET /decisions/{candidate}/{rubric}": RECORDS,
    "POST /decisions/{candidate}/{rubric}/keep": ("certifier",),
    "POST /decisions/{candidate}/{rubric}/award": ("certifier",),
    "GET /awards/{number}": RECORDS,
    "POST /awards/{number}/rule": ("certifier",),
    "POST /awards/{number}/reduce": ("certifier",),
    "GET /appeals": RECORDS,
    "GET /appeals/{number}": RECORDS,
    "POST /appeals/{number}/answer": ("certifier",),
    "GET /appeals/new/{kind}/{slug}": ("office", "certifier"),
    "POST /appeals/new/{kind}/{slug}": ("office", "certifier"),
    "GET /assessors": ("lead",),
    "GET /assessors/report.pdf": ("lead",),
    "GET /rubrics": SIGNED_IN,
    "GET /rubrics/{rubric}": SIGNED_IN,
    "GET /rubrics/{rubric}/sheet.pdf": SIGNED_IN,
    "GET /book": RECORDS,
    "POST /book/audit": ("lead", "office"),
    "GET /book/held": ("office",),
    "POST /book/held/{key}/settle": ("office",),
    "POST /book/held/{key}/take": ("office",),
    "POST /book/copies": ("office",),
    "GET /book/devices": ("office",),
    "POST /book/devices": ("office",),
    "POST /book/devices/{device}/revoke": ("office",),
    "GET /certificate": OPEN,
}
"""Route to who may use it; a new route is not done until it stands here."""

LOGIN = {"assessor": "hana", "certifier": "marit"}

A_TABLET = {
    "GET /api/sheets/{sheet}",
    "POST /api/records",
    "POST /api/sheets/{sheet}/confirm",
}
"""All that the word of a shared device is good for."""


def routes() -> Iterator[str]:
    """Every route of the application, with each of its methods."""
    for router in ROUTERS:
        for route in router.routes:
            assert isinstance(route, APIRoute)
            yield from (f"{method} {route.path}" for method in route.methods or ())


def test_every_route_says_who_may_use_it() -> None:
    found = set(routes())

    assert len(found) > 10
    assert found == set(TABLE)


def filled(path: str) -> str:
    """The path with names in it; of what is there or not, since roles are asked about first."""
    return path.format(
        kind="csv",
        name="store",
        slug="ines-carvalho-teles",
        candidate="ines-carvalho-teles",
        rubric="low-trapeze-1",
        practical="none",
        number="LT1-2026-0001",
        sheet="none",
        key="0",
        device="none",
    )


@pytest.mark.parametrize("role", ["nobody", *ROLES])
@pytest.mark.parametrize("route", sorted(TABLE))
def test_each_role_may_go_where_the_table_says_and_nowhere_else(
    visit: Visit, route: str, role: str
) -> None:
    if route == "POST /sign-out":
        pytest.skip("tests/web/test_signing_in.py signs out")
    method, path = route.split(" ", 1)
    visitor = visit("" if role == "nobody" else LOGIN.get(role, role))
    answer = visitor.request(method, filled(path))

    if role in TABLE[route]:
        assert answer.status_code not in {401, 403}
        assert "/sign-in" not in answer.headers.get("location", "")
    elif role == "nobody":
        assert answer.status_code in {303, 401}
    else:
        assert answer.status_code == 403


@pytest.fixture(scope="session")
def tablet(visit: Visit, reading_house: Served) -> httpx.Client:
    """A shared device with its word, on which nobody is signed in."""
    told = filled_in(visit("office"), "/book/devices", name="Tablet of the table").text
    (word,) = re.findall(r'<code class="word">([^<]+)</code>', told)
    found = reading_house.visitor()
    found.headers["authorization"] = f"Bearer {word}"
    return found


@pytest.mark.parametrize("route", sorted(TABLE))
def test_the_word_of_a_tablet_opens_nothing_that_is_not_open_to_all(
    tablet: httpx.Client, route: str
) -> None:
    method, path = route.split(" ", 1)
    answer = tablet.request(method, filled(path))

    if route in A_TABLET:
        assert answer.status_code in {404, 422}  # no such sheet, nothing sent: it may ask
    elif TABLE[route] == OPEN:
        assert answer.status_code not in {401, 403}
    else:
        assert answer.status_code in {303, 401}
        assert "/sign-in" in answer.headers.get("location", "/sign-in")
