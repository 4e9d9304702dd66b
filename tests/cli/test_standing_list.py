"""The list of standings fits the terminal, carries the caution, and says why something lapsed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run

NUMBER = "LT1-2026-0001"
GROUND = "When in doubt, the student stays on the ground."


@pytest.fixture
def held(scored: Path, standfast: Run) -> Path:
    """One award: insurance ends on 31 August 2027, the refresher is due on 20 November 2027."""
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def row(out: str) -> str:
    """The line of the award, with those that its last column goes on in."""
    found = re.search(rf"^.*{NUMBER}.*\n(?: {{40,}}.*\n)*", out, re.MULTILINE)
    assert found
    return " ".join(found[0].split())


@pytest.mark.usefixtures("held")
def test_the_list_carries_the_caution_and_stays_within_100_columns(standfast: Run) -> None:
    for day in (ON, "2028-02-01"):
        out = standfast("standing", "--on", day).out

        assert GROUND in " ".join(out.split())
        assert max(len(line) for line in out.splitlines()) <= 100


@pytest.mark.usefixtures("held")
def test_what_counts_has_its_next_day_and_what_does_not_says_why(standfast: Run) -> None:
    current = row(standfast("standing", "--on", ON).out)
    # The insurance has ended; the refresher's day is ahead and would change nothing.
    lapsed = row(standfast("standing", "--on", "2027-10-01").out)

    assert current.endswith("current 2027-08-31 insurance ends")
    assert lapsed.endswith("lapsed insurance ended on 2027-08-31")


@pytest.mark.usefixtures("held")
def test_a_reduced_award_is_marked(standfast: Run) -> None:
    ruled = ("--certifier", MARIT, "--because", "wrist is hurt", "--on", ON)
    assert standfast("reduce", NUMBER, "--without", "tuck-turn", *ruled).code == 0

    assert "current, reduced 2027-08-31" in row(standfast("standing", "--on", ON).out)


@pytest.mark.usefixtures("held")
def test_the_last_day_that_counts_has_a_line_of_its_own(standfast: Run) -> None:
    out = standfast("standing", INES, "--on", ON).out

    assert "\n  until: 2027-08-31\n" in out
    assert ", until " not in out


@pytest.mark.usefixtures("held")
def test_the_list_of_appeals_stays_within_100_columns(standfast: Run) -> None:
    said = ("--because", "unfair", "--on", "2026-11-21", "--by", "office")
    assert standfast("appeal", INES, "--against", RUBRIC, *said).code == 0
    out = standfast("appeals", "--on", "2026-11-22").out

    assert "decision of 2026-11-20" in out
    assert max(len(line) for line in out.splitlines()) <= 100
