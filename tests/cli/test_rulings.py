"""Suspend, reinstate, withdraw: what follows from it on screen, on paper and in the book."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run

WHY = "asked to stop while a complaint is looked into"


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def test_a_suspended_award_gets_no_certificate_until_it_is_reinstated(
    awarded: Path, standfast: Run
) -> None:
    said = standfast("suspend", INES, "--certifier", MARIT, "--because", WHY, "--on", "2026-11-21")

    assert said.code == 0, said.err
    assert "stands as suspended: suspended on 2026-11-21" in said.out
    refused = standfast("print", "certificate", INES, "--on", "2026-11-22")
    assert (refused.code, "is suspended" in refused.err) == (1, True)
    assert standfast("print", "certificates", "--all", "--on", "2026-11-22", "--json").json == {
        "files": []
    }
    # Nor is one of the day before given out, which somebody could show.
    assert standfast("print", "certificate", INES, "--on", ON, "--out", "paper").code == 1
    again = ("reinstate", "LT1-2026-0001", "--certifier", MARIT, "--because", "nothing was found")
    assert standfast(*again, "--on", "2026-11-25").code == 0
    assert standfast("print", "certificate", INES, "--on", "2026-11-25").code == 0


def test_why_stands_in_the_history_and_on_no_paper(awarded: Path, standfast: Run) -> None:
    standfast("withdraw", INES, "--certifier", MARIT, "--because", WHY, "--on", "2026-11-21")

    assert WHY in standfast("history", INES).out
    file = standfast("print", "record", INES, "--on", "2026-11-22", "--json").json["files"][0]
    words = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout
    flat = " ".join(words.decode().split())
    assert "withdrawn: withdrawn on 21 November 2026" in flat or "withdrawn on 2026-11-21" in flat
    assert "complaint" not in flat
    items = standfast("due", "--next", "36m", "--on", "2026-11-22", "--json").json["items"]
    assert [item for item in items if item["role"] == "holder"] == []


def test_a_ruling_that_may_not_be_is_refused_and_nothing_is_entered(
    awarded: Path, standfast: Run
) -> None:
    before = standfast("book", "audit", "--json").json["entries"]

    by_other = standfast(
        "suspend", INES, "--certifier", "hana-dvorakova", "--because", WHY, "--on", ON
    )
    too_soon = standfast("reinstate", INES, "--certifier", MARIT, "--because", WHY, "--on", ON)

    assert (by_other.code, "may not rule on its awards" in by_other.err) == (1, True)
    assert (too_soon.code, "is not suspended" in too_soon.err) == (1, True)
    assert standfast("book", "audit", "--json").json["entries"] == before


def test_nothing_is_ruled_from_before_what_was_ruled_last(awarded: Path, standfast: Run) -> None:
    rule = ("--certifier", MARIT, "--because", WHY, "--on")
    standfast("suspend", INES, *rule, "2026-11-21")
    standfast("reinstate", INES, *rule, "2026-11-25")

    early = standfast("withdraw", INES, *rule, "2026-11-24")

    assert (early.code, "it was reinstated on 2026-11-25" in early.err) == (1, True)
    assert standfast("withdraw", INES, *rule, "2026-11-25").code == 0


def test_the_book_is_sound_and_rebuilds_with_rulings(awarded: Path, standfast: Run) -> None:
    standfast("suspend", INES, "--certifier", MARIT, "--because", WHY, "--on", ON)

    assert standfast("book", "rebuild").code == 0
    assert standfast("book", "audit").code == 0
    refused = standfast("print", "certificate", INES, "--on", "2026-11-22")
    assert "is suspended" in refused.err
