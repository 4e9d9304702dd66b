"""Suspend, reinstate, withdraw: what follows from it on screen, on paper and in the book."""

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

    assert WHY in standfast("history", INES).flat
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


RULE = ("--certifier", MARIT, "--because", WHY)


@pytest.mark.usefixtures("awarded")
def test_what_does_not_count_covers_nothing(standfast: Run) -> None:
    stopped = ("suspend", INES, *RULE, "--on", "2026-11-21")
    words, value = standfast(*stopped), standfast("standing", INES, "--on", "2026-11-21", "--json")
    back = ("reinstate", INES, *RULE, "--on", "2026-11-22", "--json")

    assert "covers" not in words.out
    assert "student stays on the ground" in value.json["caution"]
    counts = standfast(*back).json
    assert "long hang" in counts["skills"]
    assert "student stays on the ground" in counts["caution"]
    over = standfast("withdraw", INES, *RULE, "--on", "2026-11-23", "--json").json
    assert over["skills"] == []


@pytest.mark.usefixtures("awarded")
def test_a_number_may_be_typed_in_small_letters(standfast: Run) -> None:
    small = "lt1-2026-0001"

    assert standfast("suspend", small, *RULE, "--on", "2026-11-21").code == 0
    told = standfast("standing", small, "--on", "2026-11-22")
    assert (told.code, "SUSPENDED" in told.out) == (0, True)
    against = ("appeal", INES, "--against", small, "--because", WHY, "--on", "2026-11-22")
    assert standfast(*against).code == 0
    assert standfast("holds", small, "--on", "2026-11-20").code == 0


@pytest.mark.usefixtures("awarded")
def test_nothing_is_ruled_before_the_day_of_the_award(standfast: Run) -> None:
    early = standfast("suspend", "LT1-2026-0001", *RULE, "--on", "2026-11-19")

    assert (early.code, "was granted on 2026-11-20" in early.err) == (1, True)


def test_the_trainer_may_suspend_but_reinstates_only_where_the_school_allows_it(
    awarded: Path, standfast: Run
) -> None:
    file = awarded / "candidates" / "people.yaml"
    head, mark, rest = file.read_text("utf-8").partition("    name: Tendai Mukwashi\n")
    certifies = (
        "    certifies:\n      - {rubric: low-trapeze-1, since: 2026-01-01, until: 2027-01-01}\n"
    )
    file.write_text(head + mark + certifies + rest, "utf-8")
    by_trainer = ("--certifier", "tendai-mukwashi", "--because", WHY)
    assert standfast("suspend", INES, *by_trainer, "--on", "2026-11-21").code == 0
    back = ("reinstate", INES, *by_trainer, "--on", "2026-11-22")

    refused = standfast(*back)

    assert refused.code == 1
    assert "tendai-mukwashi trained the candidate; somebody who took no part" in refused.err
    settings = awarded / "school.yaml"
    said = settings.read_text("utf-8")
    settings.write_text(said.replace("taken_part: false", "taken_part: true"), "utf-8")
    assert standfast(*back).code == 0
    assert "by Tendai Mukwashi, who trained the candidate" in standfast("history", INES).flat
    pdf = standfast("print", "record", INES, "--on", "2026-11-22", "--json").json["files"][0]
    words = subprocess.run(["pdftotext", pdf, "-"], check=True, capture_output=True).stdout
    flat = " ".join(words.decode().split())
    assert "reinstated on 22 November 2026 by somebody who trained the candidate" in flat


def test_of_several_awards_the_number_must_be_named(awarded: Path, standfast: Run) -> None:
    for assessor, day in (
        ("aurelio-tamm-nieminen", date(2026, 10, 5)),
        ("leilani-kahananui", date(2026, 11, 9)),
    ):
        with open_desk(awarded, moment(str(day))) as desk:
            texts = written(desk, "floor-tumbling-1")
            take_sheet(desk, lesson(texts.rubric, texts.syllabus, assessor, day))
    second = ("award", INES, "floor-tumbling-1", "--certifier", MARIT, "--on", "2026-11-21")
    assert standfast(*second).err == ""

    refused = standfast("suspend", INES, *RULE, "--on", "2026-11-22")

    assert refused.code == 1
    assert f"{INES} holds 2 awards; name the certificate:" in refused.err
    assert "  LT1-2026-0001, " in refused.err
    assert "  FT1-2026-0001, " in refused.err
    assert standfast("suspend", "FT1-2026-0001", *RULE, "--on", "2026-11-22").code == 0
    assert "CURRENT" in standfast("standing", "LT1-2026-0001", "--on", "2026-11-22").out
