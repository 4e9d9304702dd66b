"""What was changed on its way is read by the page as Python reads it, or by neither."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
from playwright.sync_api import sync_playwright
from tests.fuzz.page import LISTS, READERS, differences, papers, trust_of_the_cases
from tests.seal.conftest import Case, Checking, believing
from tests.web.browser import forgetful

pytestmark = pytest.mark.xdist_group("chromium")


@pytest.fixture(scope="module")
def school(page_file: Path) -> Iterator[Checking]:
    """The page, where the school of the cases is believed."""
    with (
        sync_playwright() as started,
        forgetful(started) as browser,
        believing(started, browser, page_file, trust_of_the_cases()) as found,
    ):
        yield found


@pytest.mark.parametrize("name", READERS)
def test_whatever_bytes_it_is_given_the_page_says_what_python_says(
    school: Checking, name: str
) -> None:
    drawn = Random(f"{name} 8259")
    cases = [READERS[name].drawn(drawn) for _ in range(READERS[name].times)]
    found = differences(school, name, cases)

    assert [how for _, how in found] == []


ATTACHED = b" obj /EmbeddedFile /Length 5 0 R stream\n" * 20


@pytest.mark.parametrize(
    ("begins", "goes_on"),
    [
        pytest.param(b"", b"stream\n", id="streams"),
        pytest.param(b"", b" obj /EmbeddedFile stream\n", id="attached files"),
        pytest.param(b"", b" obj /EmbeddedFile /Filter" + b" " * 1900 + b"stream\n", id="blanks"),
        pytest.param(ATTACHED, b" ", id="one object that is far away"),
        pytest.param(ATTACHED, b" 5 0 ", id="many that could be it"),
        pytest.param(ATTACHED, b" 5" + b" " * 2000, id="many far away"),
    ],
)
def test_a_large_file_of_what_a_reader_trips_over_is_answered_soon(
    school: Checking, begins: bytes, goes_on: bytes
) -> None:
    content = b"%PDF-1.7 1 0 obj " + begins + goes_on * (1_500_000 // len(goes_on))

    assert school.each([Case(content)], "whole") == [{"said": [], "inside": []}]


def test_a_paper_as_the_school_made_it_is_a_yes_and_one_that_was_saved_anew_is_none(
    school: Checking,
) -> None:
    cases = [Case(one, LISTS) for one in papers()]
    said = school.each(cases, "whole")

    assert differences(school, "paper", cases) == []
    assert [one["said"][0]["Does the paper go with the file?"] for one in said] == [
        "yes",
        *["not known"] * (len(cases) - 1),
    ]
