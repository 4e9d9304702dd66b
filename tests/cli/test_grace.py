"""In grace: what may still be done is said wherever the award could be read as permission."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run

NUMBER = "LT1-2026-0001"
LIMIT = "does not teach alone until refreshed"
DUE, LATE, LAST, OVER = "2027-11-20", "2027-11-21", "2027-12-20", "2027-12-21"


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    """An award of 20 November 2026 whose holder's documents last; refreshed within a year."""
    people = scored / "candidates" / "people.yaml"
    text = people.read_text("utf-8")
    here = text.index(f"- person: {INES}")
    end = text.index("- person:", here + 1)
    hers = re.sub(r"last_day: \d{4}-\d\d-\d\d", "last_day: 2030-12-31", text[here:end])
    people.write_text(text[:here] + hers + text[end:], "utf-8")
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def on_paper(file: Path) -> str:
    words = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout
    return " ".join(words.decode().split())


@pytest.mark.parametrize(
    ("on", "state", "says"),
    [
        pytest.param(DUE, "refresher due", False, id="on the due day"),
        pytest.param(LATE, "in grace", True, id="a day late"),
        pytest.param(LAST, "in grace", True, id="last day of grace"),
        pytest.param(OVER, "lapsed", False, id="a day after"),
    ],
)
@pytest.mark.usefixtures("awarded")
def test_the_limit_is_told_while_grace_runs(
    standfast: Run, on: str, state: str, says: bool
) -> None:
    told = standfast("standing", NUMBER, "--on", on)
    (award,) = standfast("standing", NUMBER, "--on", on, "--json").json["awards"]

    assert award["state"] == state
    assert (LIMIT in told.out) == says
    assert (award["limit"] == LIMIT) == says


@pytest.mark.usefixtures("awarded")
def test_an_outsider_learns_the_limit_and_the_last_day_of_grace(standfast: Run) -> None:
    before, in_grace, after = (standfast("holds", NUMBER, "--on", on) for on in (DUE, LAST, OVER))

    assert (before.code, in_grace.code, after.code) == (0, 0, 1)
    assert f"last day {LAST}" in in_grace.out
    assert f"last day {LAST}" in before.out  # unless more is done
    assert f"condition: Now in grace: {LIMIT}." in in_grace.out
    assert "grace" not in before.out + after.out


def test_a_certificate_printed_in_grace_ends_with_it(awarded: Path, standfast: Run) -> None:
    ran = standfast("print", "certificate", NUMBER, "--on", LATE, "--json")

    words = on_paper(awarded / ran.json["files"][0])
    assert f"Until a refresher is passed: {LIMIT}." in words
    assert "until 20 December 2027" in words
    assert standfast("print", "certificate", NUMBER, "--on", OVER).code == 1


@pytest.mark.usefixtures("awarded")
def test_the_due_list_and_the_letter_say_what_may_be_done_until_when(
    awarded: Path, standfast: Run
) -> None:
    found = standfast("due", "--on", LATE, "--letters", "letters", "--json").json

    (item,) = [one for one in found["items"] if one["certificate"] == NUMBER]
    assert (item["what"], item["by"]) == ("in grace", LAST)
    letter = " ".join((awarded / "letters" / f"letter-{INES}.txt").read_text("utf-8").split())
    assert "by 20 December 2027: in grace, pass a refresher now" in letter
    assert f"it was due on 20 November 2027; until then: {LIMIT}" in letter
    assert "nobody teaches under that award" not in letter


@pytest.mark.usefixtures("awarded")
def test_past_grace_the_letter_says_that_nobody_teaches(awarded: Path, standfast: Run) -> None:
    assert standfast("due", "--on", OVER, "--letters", "letters").code == 0

    letter = (awarded / "letters" / f"letter-{INES}.txt").read_text("utf-8")
    assert "Until what is late is done, nobody teaches under that award." in letter
