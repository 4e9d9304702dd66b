"""The page that checks says of a paper what `verify` says of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Playwright, sync_playwright
from tests.cli.conftest import NUMBER, Run
from tests.cli.test_painted_over import (
    CHANGES,
    a_later_version_behind_it,
    another_byte_beside_the_receipt,
    changed,
)
from tests.cli.test_sealing import LISTS, PAPER, believing, found
from tests.seal import conftest as page
from tests.seal.conftest import QUESTIONS, Answers, Case
from tests.web.browser import forgetful

from standfast.desk import issuing
from standfast.paper.opened import opened
from standfast.seal import check_page

pytestmark = pytest.mark.xdist_group("chromium")

NOW = datetime.fromisoformat("2026-11-24T10:00:00Z")


@pytest.fixture(scope="module")
def browsers() -> Iterator[tuple[Playwright, Browser]]:
    with sync_playwright() as started, forgetful(started) as browser:
        yield started, browser


@pytest.fixture
def by_page(browsers: tuple[Playwright, Browser], tmp_path: Path) -> Callable[..., list[Answers]]:
    """What the page says of papers, with the lists and the keys that the school gives."""

    def says(*papers: bytes) -> list[Answers]:
        file = tmp_path / "verify.html"
        file.write_bytes(check_page.page())
        lists = tuple(Path(one).read_bytes() for one in LISTS[1::2])
        keys = Path("keys/trust.json").read_bytes()
        with page.believing(*browsers, file, keys, NOW) as checking:
            said = checking.each([Case(one, lists) for one in papers], "whole")
        return [
            {QUESTIONS[asked]: one for asked, one in answers.items()}
            for whole in said
            for answers in whole["said"] or [{}]
        ]

    return says


def by_python(standfast: Run, *papers: bytes) -> list[Answers]:
    told = []
    for one in papers:
        PAPER.write_bytes(one)
        told.append(found(standfast("verify", PAPER, *LISTS, "--json")))
    return told


@pytest.mark.usefixtures("keyed")
def test_one_as_the_school_made_it_is_a_yes_and_no_other_is(
    typed: Run, standfast: Run, by_page: Callable[..., list[Answers]]
) -> None:
    believing(standfast, typed)
    whole = PAPER.read_bytes()
    papers = [whole]
    changes = [lambda change=one: changed(change) for one in CHANGES]
    for change in (*changes, a_later_version_behind_it, another_byte_beside_the_receipt):
        PAPER.write_bytes(whole)
        change()
        papers.append(PAPER.read_bytes())
    told = by_python(standfast, *papers)

    assert by_page(*papers) == told
    assert [one["paper"] for one in told] == ["yes", *["not known"] * (len(papers) - 2), "yes"]


@pytest.mark.usefixtures("keyed")
def test_each_byte_beside_the_receipt_counts(
    typed: Run, standfast: Run, by_page: Callable[..., list[Answers]]
) -> None:
    believing(standfast, typed)
    whole = PAPER.read_bytes()
    places = range(0, len(whole), len(whole) // 100)
    papers = [whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :] for at in places]
    answers = [one.get("paper") for one in by_page(*papers)]

    assert len(answers) >= len(papers)
    assert set(answers) <= {"not known", None}
    assert answers.count("not known") > 50


@pytest.mark.usefixtures("keyed")
def test_one_without_a_hash_of_its_paper_is_not_known_in_this_alone(
    typed: Run,
    standfast: Run,
    by_page: Callable[..., list[Answers]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    entered: Callable[..., object] = issuing.entered
    monkeypatch.setattr(
        "standfast.desk.giving.entered", lambda desk, draft, _paper: entered(desk, draft, None)
    )
    believing(standfast, typed)
    whole = PAPER.read_bytes()
    (told,) = by_page(whole)

    assert [told] == by_python(standfast, whole)
    assert {question for question, answer in told.items() if answer != "yes"} == {"paper"}


@pytest.mark.usefixtures("keyed")
def test_a_receipt_that_is_not_believed_or_is_of_another_paper_makes_none_of_it(
    typed: Run, standfast: Run, by_page: Callable[..., list[Answers]]
) -> None:
    believing(standfast, typed)
    first = PAPER.read_bytes()
    typed("sign", NUMBER, "--out", "out")
    own, other = (opened(one).attached["receipt.json"] for one in (first, PAPER.read_bytes()))
    put = first.replace(own, other.rstrip(b" ").ljust(len(own)))
    swapped = by_page(put)
    swapped_by_python = by_python(standfast, put)
    typed("keys", "lost", "--stolen")
    standfast("trust", "keys/trust.json")
    stolen = by_page(first)

    assert swapped == swapped_by_python
    assert stolen == by_python(standfast, first)
    assert [one["paper"] for one in (*swapped, *stolen)] == ["not known"] * 2
