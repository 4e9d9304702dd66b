"""Reference practicals and approvals: what follows on screen, for sheets, and on the due list."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.cli.conftest import MARIT, RUBRIC, Run, sheet

TENDAI = "tendai-mukwashi"
LESSON = sheet("lesson-2026-11-10-tendai")


def reference(result: str, on: str, *more: str) -> tuple[str, ...]:
    return (
        *("reference", TENDAI, RUBRIC, "--practical", "hall-reference", "--result", result),
        *("--certifier", MARIT, "--because", "4 of 12 marks differ", "--on", on, *more),
    )


@pytest.fixture
def asking(scored: Path) -> Path:
    """The school asks for a reference practical every year."""
    settings = scored / "school.yaml"
    settings.write_text(settings.read_text("utf-8") + "reference_every: P1Y\n", "utf-8")
    return scored


def test_an_assessor_out_of_step_hands_in_no_sheet_until_in_step(
    scored: Path, standfast: Run
) -> None:
    said = standfast(*reference("not-in-step", "2026-11-09"))

    assert said.code == 0, said.err
    assert "stands as lapsed: not in step on 2026-11-09" in said.out
    refused = standfast("score", LESSON)
    assert (refused.code, "approval to score low-trapeze-1 had lapsed" in refused.err) == (2, True)
    assert standfast(*reference("in-step", "2026-11-10")).code == 0
    assert standfast("score", LESSON).code == 0


def test_without_a_reference_practical_in_a_year_no_sheet_is_taken(
    asking: Path, standfast: Run
) -> None:
    refused = standfast("score", LESSON)
    assert (refused.code, "a reference practical was due by 2024-09-01" in refused.err) == (2, True)
    assert standfast(*reference("in-step", "2025-11-10")).code == 0
    assert standfast("score", LESSON).code == 0


def test_a_result_after_the_lesson_leaves_its_sheet_alone(scored: Path, standfast: Run) -> None:
    assert standfast(*reference("not-in-step", "2026-11-11")).code == 0

    assert standfast("score", LESSON).code == 0


def test_the_table_says_state_reason_and_next_step(asking: Path, standfast: Run) -> None:
    standfast(*reference("in-step", "2026-01-10"))

    ran = standfast("assessors", "--on", "2026-11-20")
    told = {
        (one["person"], one["rubric"]): one
        for one in standfast("assessors", "--on", "2026-11-20", "--json").json["approvals"]
        if one["role"] == "assessor"
    }

    assert ran.code == 0
    assert max(map(len, ran.out.splitlines())) <= 100
    own = told[TENDAI, RUBRIC]
    assert (own["state"], own["until"]) == ("reference due", "2027-01-10")
    assert own["next_step"] == "score a reference practical in step by 2027-01-10"
    assert told[TENDAI, "floor-tumbling-1"]["state"] == "lapsed"


def test_what_is_late_of_an_approval_is_listed_and_written_to_its_assessor(
    scored: Path, standfast: Run
) -> None:
    standfast(*reference("not-in-step", "2026-11-09"))
    asked = ("due", "--next", "30d", "--on", "2026-11-20")

    [item] = standfast(*asked, "--letters", "letters", "--json").json["items"]

    assert (item["what"], item["role"], item["by"]) == ("approval late", "assessor", "2026-11-09")
    assert (item["award"], item["certificate"]) == ("", "")
    mail = Path("letters", f"letter-{TENDAI}.txt").read_text("utf-8")
    assert "nobody scores or certifies until that is done" in mail
    assert "for your award to go on" not in mail
    assert "teaches under that award" not in mail
    assert standfast(*asked, "--rubric", "floor-tumbling-1", "--json").json["items"] == []
    assert standfast(*asked, "--site", "Mill studio", "--json").json["items"] == []


def test_an_event_of_the_calendar_stays_the_same_when_the_approval_is_renewed(
    scored: Path, standfast: Run
) -> None:
    asked = ("due", "--next", "90d", "--on", "2026-11-20", "--calendar", "due.ics")
    standfast(*asked)
    before = Path("due.ics").read_text("utf-8")
    people = scored / "candidates" / "people.yaml"
    text = people.read_text("utf-8").replace("until: 2027-01-31", "until: 2027-02-10")
    people.write_text(text, "utf-8")
    standfast("people")
    standfast(*asked)
    after = Path("due.ics").read_text("utf-8")

    def uids(calendar: str) -> list[str]:
        return sorted(line for line in calendar.splitlines() if line.startswith("UID"))

    assert len(uids(before)) == len(set(uids(before))) > 3
    assert uids(after) == uids(before)
    assert "DTSTART;VALUE=DATE:20270210" in after
    assert "SEQUENCE:1" in after


def test_a_result_that_may_not_be_is_refused_with_every_reason(
    scored: Path, standfast: Run
) -> None:
    said = standfast(
        *("reference", TENDAI, RUBRIC, "--practical", f"with-{TENDAI}", "--result", "in-step"),
        *("--certifier", TENDAI, "--because", "well", "--on", "2026-11-20", "--json"),
    )

    assert said.code == 1
    assert len(said.json["reasons"]) == 3


def test_the_story_tells_it_and_the_book_stays_sound(scored: Path, standfast: Run) -> None:
    standfast(*reference("not-in-step", "2026-11-09"))

    told = standfast("history", TENDAI).flat
    assert "not in step in reference practical hall-reference" in " ".join(told.split())
    assert "4 of 12 marks differ" in " ".join(told.split())
    assert standfast("book", "rebuild").code == 0
    assert standfast("book", "audit").code == 0
