"""Reduce and restore a scope: on screen, on paper, and through renewals."""

from __future__ import annotations

import subprocess
from datetime import date
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run
from tests.content.lessons import lesson

from standfast.cli.options import moment
from standfast.desk.definitions import written
from standfast.desk.opening import open_desk
from standfast.desk.sheets import take_sheet

WHY = "her wrist is being treated"
SKILL, TITLE = "knee-hang-rise", "rise from the hang on both knees to the seat"
BY = ("--certifier", MARIT, "--because", WHY)


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    people = scored / "candidates" / "people.yaml"
    people.write_text(people.read_text("utf-8").replace("2027-08-31", "2028-08-31"), "utf-8")
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def on_paper(standfast: Run, what: str, on: str) -> str:
    """What a page says, spaces made one."""
    file = standfast("print", what, INES, "--on", on, "--json").json["files"][0]
    words = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout
    return " ".join(words.decode().split())


def teach_again(school: Path, rubric: str, *days: date) -> None:
    """Takes in good lessons under that rubric, one on each day, by two assessors in turn."""
    assessors = ("hana-dvorakova", "aurelio-tamm-nieminen")
    for n, day in enumerate(days):
        with open_desk(school, moment(str(day))) as desk:
            texts = written(desk, rubric)
            take_sheet(desk, lesson(texts.rubric, texts.syllabus, assessors[n % 2], day))


def test_the_papers_say_what_is_left_and_since_when_but_not_why(
    awarded: Path, standfast: Run
) -> None:
    assert TITLE in on_paper(standfast, "certificate", ON)

    said = standfast("reduce", INES, "--without", SKILL, *BY, "--on", "2026-11-21")

    assert said.code == 0, said.err
    assert "LT1-2026-0001" in said.out.splitlines()[0]
    assert "stands as current" in said.out
    assert TITLE not in said.out
    assert "covers: long hang; " in said.out
    assert "student stays on the ground" in " ".join(said.out.split())
    paper = on_paper(standfast, "certificate", "2026-11-21")
    assert TITLE not in paper
    assert "the scope was reduced on 21 November 2026" in paper
    record = on_paper(standfast, "record", "2026-11-21")
    assert f"scope reduced on 21 November 2026, without {TITLE}" in record
    assert "wrist" not in paper + record
    assert f"reduced without {SKILL} from 2026-11-21" in standfast("history", INES).flat
    assert WHY in standfast("history", INES).flat
    assert "reduced" not in on_paper(standfast, "certificate", ON)


def test_restored_it_is_whole_again(awarded: Path, standfast: Run) -> None:
    standfast("reduce", INES, "--without", SKILL, *BY, "--on", "2026-11-21")

    again = standfast("restore", "LT1-2026-0001", *BY, "--on", "2026-11-30", "--json")

    assert TITLE in again.json["skills"]
    paper = on_paper(standfast, "certificate", "2026-11-30")
    assert (TITLE in paper, "reduced" in paper) == (True, False)
    assert standfast("book", "rebuild").code == 0
    assert standfast("book", "audit").code == 0


def test_every_reason_against_it_is_said_at_once_and_nothing_is_entered(
    awarded: Path, standfast: Run
) -> None:
    size = standfast("book", "audit", "--json").json["entries"]
    wrong = ("--without", "knee-hang-rice", "--without", "long-hank")

    refused = standfast(
        "reduce", INES, *wrong, "--certifier", "hana-dvorakova", "--because", WHY, "--on", ON
    )

    assert refused.code == 1
    assert "did you mean 'knee-hang-rise'?" in refused.err
    assert "did you mean 'long-hang'?" in refused.err
    assert "may not rule on its awards" in refused.err
    assert standfast("book", "audit", "--json").json["entries"] == size
    assert standfast("reduce", INES, *BY, "--on", ON).code == 2


def test_a_refresher_keeps_the_reduction_and_a_full_practical_ends_it(
    awarded: Path, standfast: Run
) -> None:
    standfast("reduce", INES, "--without", SKILL, *BY, "--on", "2026-11-21")
    renew = ("award", INES, "trapeze-refresher", "--certifier", MARIT, "--on", "2027-10-20")
    teach_again(awarded, "trapeze-refresher", date(2027, 10, 11))

    assert standfast(*renew).err == ""
    assert "the scope was reduced on 21 November 2026" in on_paper(
        standfast, "certificate", "2027-10-20"
    )
    old = ("holds", "LT1-2026-0001", "--on")
    assert (standfast(*old, "2027-10-19").code, standfast(*old, "2027-10-20").code) == (0, 1)
    wide = standfast("restore", INES, *BY, "--on", "2027-10-21", "--json").json
    assert TITLE in wide["skills"]
    assert "reduced" not in on_paper(standfast, "certificate", "2027-10-21")


def test_a_full_practical_grants_the_whole_scope_anew(awarded: Path, standfast: Run) -> None:
    standfast("reduce", INES, "--without", SKILL, *BY, "--on", "2026-11-21")
    teach_again(awarded, RUBRIC, date(2027, 5, 24), date(2027, 6, 7))

    granted = standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", "2027-06-08")

    assert granted.code == 0, granted.err
    paper = on_paper(standfast, "certificate", "2027-06-08")
    assert (TITLE in paper, "reduced" in paper) == (True, False)


def test_a_suspension_is_not_got_round_by_passing_again(awarded: Path, standfast: Run) -> None:
    standfast("suspend", INES, *BY, "--on", "2026-11-21")
    teach_again(awarded, RUBRIC, date(2027, 5, 24), date(2027, 6, 7))
    again = ("award", INES, RUBRIC, "--certifier", MARIT, "--on", "2027-06-08")

    refused = standfast(*again)

    assert refused.code == 1
    assert "award LT1-2026-0001 is suspended; reinstate it, or withdraw it, first" in refused.err
    assert standfast("withdraw", INES, *BY, "--on", "2027-06-08").code == 0
    assert standfast(*again).code == 0
