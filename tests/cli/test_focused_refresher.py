"""A refresher covers what is always named and what was weakest: on screen, paper, in the book."""

from __future__ import annotations

import subprocess
from datetime import date, timedelta
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run
from tests.content.lessons import lesson

from standfast.cli.options import moment
from standfast.desk.focusing import ahead
from standfast.desk.opening import open_desk
from standfast.desk.sheets import take_sheet
from standfast.engine.narrowing import asked
from standfast.model.evidence import Incident

REFRESHER = "trapeze-refresher"
LESSON = "2027-10-20"
"""In the window before 20 November 2027, a year after the award."""
ALWAYS = ["look-over", "prerequisite-checking", "spotting-position"]


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    people = scored / "candidates" / "people.yaml"
    text = people.read_text("utf-8")
    for year in ("2026-12-31", "2027-06-30", "2027-08-31"):
        text = text.replace(year, "2028-12-31")
    people.write_text(text, "utf-8")
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def teach(
    school: Path, day: str = LESSON, *, whole: bool = False, lapses: dict[str, int] | None = None
) -> None:
    """Takes in a good lesson of what the refresher covers, with so many lapses in a criterion."""
    with open_desk(school, moment(day)) as desk:
        coming = ahead(desk, INES, REFRESHER)
        rubric, syllabus = coming.texts.rubric, coming.texts.syllabus
        part = rubric if whole else asked(rubric, coming.covers)
        made = lesson(part, syllabus, "hana-dvorakova", date.fromisoformat(day), lapses=lapses)
        kinds = {criterion.kind for criterion in part.criteria()}
        less = {"covers": () if whole else coming.covers}
        less |= {} if "samples" in kinds else {"samples": ()}
        take_sheet(desk, made.model_copy(update=less))


def covered(standfast: Run, on: str = LESSON) -> dict[str, str]:
    decision = standfast("decide", INES, REFRESHER, "--on", on, "--json").json["decision"]
    return {one["competency"]: one["because"] for one in decision["focus"]["covered"]}


def test_before_the_lesson_it_says_what_will_be_covered_and_why(
    awarded: Path, standfast: Run
) -> None:
    found = covered(standfast)
    said = standfast("decide", INES, REFRESHER, "--on", LESSON).out

    assert len(found) == 5
    assert [name for name in found if found[name] == "always covered"] == ALWAYS
    assert sum("weakest last time: '" in because for because in found.values()) == 2
    assert "this refresher covers, beside every incident:\n    - look-over: always covered" in said


def test_the_paper_asks_only_that_and_says_why(awarded: Path, standfast: Run) -> None:
    weakest = [one for one in covered(standfast) if one not in ALWAYS]

    ran = standfast("print", "sheet", REFRESHER, "--candidate", INES, "--on", LESSON, "--json")
    blank = standfast("print", "sheet", REFRESHER, "--practical", "hall-1", "--json")

    def words(file: str) -> str:
        text = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout
        return " ".join(text.decode().split())

    partly, whole = words(ran.json["files"][0]), words(blank.json["files"][0])
    assert "Covers only: Look-over of bar and area before the lesson (always covered)" in partly
    assert "In the spotting place before the move began?" in partly
    assert "Touch after a student has said no" in partly  # an incident counts whatever it covers
    assert "Covers only" not in whole
    for competency, question in (
        ("failed-attempt", "Brought down before she explained?"),
        ("briefing-consent", "Consent to touch asked for"),
        ("exit-recovery", "Ten seconds head-up in reach before walking off?"),
    ):
        assert question in whole
        assert (question in partly) is (competency in weakest)


def test_a_lesson_of_that_part_passes_renews_and_replays(awarded: Path, standfast: Run) -> None:
    teach(awarded)
    before = covered(standfast)

    said = standfast("decide", INES, REFRESHER, "--on", LESSON)
    assert said.code == 0, said.out
    granted = standfast("award", INES, REFRESHER, "--certifier", MARIT, "--on", LESSON, "--json")
    assert granted.json["award"]["dates"]["refresher_due"] == "2028-11-20"  # the anniversary

    history = standfast("history", INES).flat
    assert "the refresher covered look-over (always covered)" in history
    assert covered(standfast) == before  # the same evidence is decided on the same part
    assert standfast("book", "replay").code == 0
    assert standfast("book", "audit").code == 0


def test_the_next_refresher_asks_for_others(awarded: Path, standfast: Run) -> None:
    teach(awarded)
    standfast("award", INES, REFRESHER, "--certifier", MARIT, "--on", LESSON)

    found = covered(standfast, "2028-10-20")

    assert [name for name in found if found[name] == "always covered"] == ALWAYS
    assert len(found) == 5


def test_a_sheet_of_everything_suffices_and_a_lapse_outside_changes_nothing(
    awarded: Path, standfast: Run
) -> None:
    lapses = {"failed-attempt": {"down-first": 4}, "exit-recovery": {"settled": 1}}
    outside = next(one for one in lapses if one not in covered(standfast))
    teach(awarded, whole=True, lapses=lapses[outside])

    assert standfast("decide", INES, REFRESHER, "--on", LESSON).code == 0


def test_a_stop_counts_whatever_is_covered(awarded: Path, standfast: Run) -> None:
    with open_desk(awarded, moment(LESSON)) as desk:
        coming = ahead(desk, INES, REFRESHER)
        part = asked(coming.texts.rubric, coming.covers)
        day = date.fromisoformat(LESSON)
        happened = (Incident(at=2990, criterion="touch-after-no", student="S1"),)
        made = lesson(part, coming.texts.syllabus, "hana-dvorakova", day, incidents=happened)
        looks = tuple(s for s in made.samples if s.at < 2990) if "busy" in coming.covers else ()
        take_sheet(desk, made.model_copy(update={"covers": coming.covers, "samples": looks}))

    said = standfast("decide", INES, REFRESHER, "--on", LESSON)

    assert said.out.splitlines()[0].endswith("STOPPED FOR SAFETY")


def test_a_lesson_that_leaves_out_what_is_covered_is_not_enough(
    awarded: Path, standfast: Run
) -> None:
    covers = ("in-place", "contact-kept")
    with open_desk(awarded, moment(LESSON)) as desk:
        coming = ahead(desk, INES, REFRESHER)
        part = asked(coming.texts.rubric, covers)
        made = lesson(part, coming.texts.syllabus, "hana-dvorakova", date.fromisoformat(LESSON))
        bare = {"covers": covers, "samples": (), "clearances": ()}
        take_sheet(desk, made.model_copy(update=bare))

    said = standfast("decide", INES, REFRESHER, "--on", LESSON)

    assert said.code == 1
    assert said.out.splitlines()[0].endswith("MORE EVIDENCE NEEDED")
    assert "Lets go on those who are ready" in " ".join(said.out.split())


def test_days_before_the_award_nothing_is_known_and_all_is_covered(
    scored: Path, standfast: Run
) -> None:
    day = str(date.fromisoformat(ON) - timedelta(days=1))

    told = standfast("decide", INES, REFRESHER, "--on", day, "--json").json["decision"]

    assert told["focus"] is None
