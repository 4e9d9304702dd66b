"""A school on its first day: every page says what to do first.  And no office page needs script."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from tests.web.conftest import NOW, PASSWORD, Clock, Visit, served

from standfast.cli.app import run
from standfast.desk.access import add_account
from standfast.desk.opening import Moment, open_desk

FIRST = {
    "/": "Enter people from a file",
    "/due": "Nothing falls due",
    "/due/forecast": "all of it is supposed",
    "/people": "Enter people from a file",
    "/practicals": "An assessor scores one",
    "/decisions": "Nobody waits for a decision",
    "/appeals": "Nothing waits for an answer",
    "/assessors": "a practical that two assessors scored",
    "/book/held": "Nothing waits",
    "/book/devices": "she signs in on it",
}
"""Page to what it says when there is nothing yet."""

PLAIN = (
    *(*FIRST, "/book", "/rubrics"),
    *("/people/ines-carvalho-teles", "/practicals/sandhof-2026-10-13"),
    *("/awards/LT1-2026-0005", "/appeals/appeal-2026-2", "/appeals/new/appeal/sunniva-bakketun"),
)


@pytest.fixture
def first_day(tmp_path: Path) -> Iterator[httpx.Client]:
    """The office and the lead in one, of a school that was made just now."""
    assert run(["new", str(tmp_path / "school"), "--name", "First Day"]) == 0
    with open_desk(tmp_path / "school", Moment(NOW, "test", secrets.token_bytes)) as desk:
        add_account(desk, "office", ("office", "lead"), PASSWORD)
    with served(tmp_path / "school", Clock()) as house:
        yield house.visitor("office")


def test_every_page_of_an_empty_school_says_what_to_do_first(first_day: httpx.Client) -> None:
    for address, words in FIRST.items():
        answer = first_day.get(address)

        assert answer.status_code == 200, address
        (empty,) = re.findall(r'<(p|div) class="empty">(.*?)</\1>', answer.text, re.DOTALL)[:1]
        assert words in " ".join(empty[1].split()), address


def test_an_empty_school_has_rubrics_to_begin_with(first_day: httpx.Client) -> None:
    links = re.findall(r'href="(/rubrics/[^"]+)"', first_day.get("/rubrics").text)

    assert links
    for link in links:
        assert "The sheet that it makes" in first_day.get(link).text


def test_the_pages_of_the_office_carry_no_script_and_no_style_of_their_own(visit: Visit) -> None:
    for address in PLAIN:
        text = visit("all").get(address).text

        assert "<script" not in text, address
        assert "<style" not in text, address
        assert not re.search(r"<[^>]+\s(style|on\w+)=", text), address
