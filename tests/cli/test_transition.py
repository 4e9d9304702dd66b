"""A second version of a rubric while an award runs: honoured until a day, and topped up."""

from __future__ import annotations

import subprocess
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Ran, Run
from tests.content.lessons import lesson

from standfast.cli.options import moment
from standfast.desk.focusing import ahead
from standfast.desk.opening import open_desk
from standfast.desk.sheets import take_sheet
from standfast.desk.standings import standings
from standfast.engine.narrowing import asked
from standfast.problems import BadInput

UNTIL, AFTER = "2027-08-31", "2027-09-01"
LESSON = "2027-06-10"
STEP = "top-up practical under version 2 on 'Helper told', 'In the spotting place before the move'"
NEW = """\
      - id: helper-told
        kind: rating
        title: Helper told
        look_for: >-
          There: she tells each helper the place and the limb before the student leaves the mat.
          Not there: a helper stands by untold.
        levels:
          - {level: 1, title: Untold, words: No helper is told.}
          - {level: 2, title: Some told, words: One helper is told.}
          - {level: 3, title: All told, words: Every helper is told.}
        standard: {least: 3, floor: 2}
      - id: in-place
"""
STRICTER = (
    "{share: 0.85, assurance: 0.8, least: 20,",
    "{share: 0.9, assurance: 0.8, least: 18,",
)
TRANSITION = f"transition: {{honoured_until: {UNTIL}, top_up: true}}\n"


@pytest.fixture
def changed(scored: Path, standfast: Run) -> Path:
    """The school with an award under version 1, and the file of a version 2."""
    people = scored / "candidates" / "people.yaml"
    text = people.read_text("utf-8")
    for day in ("2027-08-31", "2028-04-12", "2029-03-01"):
        text = text.replace(day, "2029-12-31")
    people.write_text(text, "utf-8")
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    first = (scored / "rubrics" / f"{RUBRIC}.yaml").read_text("utf-8")
    second = (
        first.replace("version: 1\n", "version: 2\n", 1)
        .replace("in_force: 2023-09-01\n", f"in_force: 2027-01-01\n{TRANSITION}", 1)
        .replace("      - id: in-place\n", NEW, 1)
        .replace(*STRICTER, 1)
    )
    (scored / "rubrics" / f"{RUBRIC}-2.yaml").write_text(second, "utf-8")
    return scored


@pytest.fixture
def entered(changed: Path, standfast: Run) -> Path:
    said = standfast("people")
    assert f"{RUBRIC} version 2 counts from now on" in said.out
    return changed


def stands(standfast: Run, on: str, *more: str) -> Ran:
    return standfast("standing", INES, "--on", on, *more)


def taught(school: Path, day: str = LESSON, assessor: str = "hana-dvorakova") -> None:
    """Takes in a good lesson of what is new."""
    with open_desk(school, moment(day)) as desk:
        coming = ahead(desk, INES, RUBRIC, top_up=True)
        part = asked(coming.texts.rubric, coming.covers)
        made = lesson(part, coming.texts.syllabus, assessor, date.fromisoformat(day))
        bare = {"covers": coming.covers, "samples": (), "clearances": ()}
        take_sheet(desk, made.model_copy(update=bare))


def said_on(file: str) -> str:
    """What a page says, spaces made one."""
    text = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout
    return " ".join(text.decode().split())


def words_of(standfast: Run, what: str) -> str:
    return said_on(standfast("print", what, INES, "--on", LESSON, "--json").json["files"][0])


def test_both_files_are_right_together(changed: Path, standfast: Run) -> None:
    assert standfast("check").code == 0, standfast("check").out


def test_before_it_is_entered_nothing_changes(changed: Path, standfast: Run) -> None:
    award = stands(standfast, UNTIL, "--json").json["awards"][0]

    assert award["ends"] == "2028-11-20"


@pytest.mark.parametrize(
    ("on", "state"),
    [("2027-08-30", "current"), (UNTIL, "current"), (AFTER, "lapsed")],
    ids=["before", "on", "after"],
)
def test_the_award_counts_until_the_day(entered: Path, standfast: Run, on: str, state: str) -> None:
    award = stands(standfast, on, "--json").json["awards"][0]
    said = " ".join(stands(standfast, on).out.split())

    assert (award["state"], award["ends"]) == (state, UNTIL)
    assert "version 1" in award["because"]
    assert f"ends: {UNTIL} (version 1 of the rubric)" in said
    assert (STEP in said) is (state == "lapsed")
    assert "student stays on the ground" in said
    assert standfast("holds", "LT1-2026-0001", "--on", on).code == (state == "lapsed")
    printed = standfast("print", "certificate", INES, "--on", on)
    assert printed.code == (state == "lapsed")


def test_it_falls_due_with_everything_that_is_made_of_the_list(
    entered: Path, standfast: Run
) -> None:
    asked_for = ("due", "--next", "3m", "--on", "2027-06-15")

    rows = standfast(*asked_for, "--json").json["items"]
    made = standfast(*asked_for, "--letters", "post", "--calendar", "due.ics")

    assert made.code == 0
    [row] = [row for row in rows if row["what"] == "version ends"]
    assert (row["by"], row["name"]) == (UNTIL, "Inês Carvalho Teles")
    assert row["to_do"] == f"version 1 is honoured until then: {STEP}"
    letter = " ".join(Path(f"post/letter-{INES}.txt").read_text("utf-8").split())
    assert STEP in letter
    assert "20270831" in Path("due.ics").read_text("utf-8")
    late = standfast("due", "--next", "1d", "--on", AFTER, "--json").json["items"]
    assert [row["what"] for row in late if row["certificate"]] == ["late"]


def test_the_paper_of_a_top_up_asks_only_what_is_new(entered: Path, standfast: Run) -> None:
    ran = standfast(
        *("print", "sheet", RUBRIC, "--candidate", INES, "--top-up", "--on", LESSON, "--json")
    )

    words = said_on(ran.json["files"][0])
    assert "low-trapeze-1, version 2" in words
    assert "Spotting position (new in version 2: 'Helper told'; changed in version 2:" in words
    assert "In the spotting place before the move began?" in words
    assert "Helper told" in words
    assert "Assessor stepped in" in words  # an incident counts whatever it covers
    assert "Still through the move?" not in words


def test_a_top_up_brings_the_award_over_and_leaves_its_days(entered: Path, standfast: Run) -> None:
    before = standfast("history", INES).flat
    taught(entered)

    decided = standfast("decide", INES, RUBRIC, "--top-up", "--on", LESSON)
    assert decided.code == 0, decided.out
    assert "this top-up covers, beside every incident:" in decided.out
    made = standfast(
        *("award", INES, RUBRIC, "--top-up", "--certifier", MARIT, "--on", LESSON, "--json")
    )
    assert made.code == 0, made.err

    award = made.json["award"]
    assert award["rubric"]["version"] == 2
    assert award["dates"]["last_day"] == "2028-11-20"
    assert award["dates"]["refresher_due"] == "2027-11-20"
    assert award["dates"]["counted_from"] == ON
    assert award["dates"]["first_day"] == LESSON
    assert stands(standfast, AFTER, "--json").json["awards"][0]["state"] == "current"
    assert (
        "topped up, now under version 2: certificate LT1-2027-0001"
        in standfast("history", INES).flat
    )
    assert "topped up" not in before
    record, paper = (words_of(standfast, what) for what in ("record", "certificate"))
    assert "Instructor, low static trapeze: pass" in record
    assert "Instructor, low static trapeze, top-up: pass" in record
    assert "new in version 2: 'Helper told'" in record
    assert "seen on 13 October 2026, 3 November 2026 and 10 June 2027" in paper
    assert standfast("book", "replay").code == 0
    assert standfast("book", "audit").code == 0
    later = standfast("decide", INES, RUBRIC, "--top-up", "--on", "2028-01-01")
    assert "award LT1-2027-0001 is under version 2 already" in later.err
    again = standfast("award", INES, RUBRIC, "--top-up", "--certifier", MARIT, "--on", LESSON)
    assert again.code == 1
    assert "already stands on the same sheets" in again.err


def test_a_top_up_is_no_full_practical(entered: Path, standfast: Run) -> None:
    taught(entered)

    said = standfast("decide", INES, RUBRIC, "--on", LESSON)

    assert said.code == 1
    assert "it covers only a part of the rubric" in " ".join(said.out.split())


def test_after_the_day_a_refresher_does_not_do_but_a_top_up_does(
    entered: Path, standfast: Run
) -> None:
    day = "2027-10-20"
    with open_desk(entered, moment(day)) as desk:
        coming = ahead(desk, INES, "trapeze-refresher")
        texts = coming.texts
        made = lesson(texts.rubric, texts.syllabus, "hana-dvorakova", date.fromisoformat(day))
        take_sheet(desk, made)
    refreshing = ("award", INES, "trapeze-refresher", "--certifier", MARIT, "--on", day)

    refused = standfast(*refreshing)
    assert refused.code == 1
    assert (
        "honoured until 2027-08-31; a refresher does not bring it under a later one" in refused.err
    )
    assert STEP in refused.err
    taught(entered, "2027-10-21", "aurelio-tamm-nieminen")
    topped = standfast(
        *("award", INES, RUBRIC, "--top-up", "--certifier", MARIT, "--on", "2027-10-21")
    )
    assert topped.code == 0, topped.err
    later = standfast(*refreshing[:-1], "2027-10-22")
    assert later.code == 0, later.err
    award = stands(standfast, "2027-10-22", "--json").json["awards"][0]
    assert (award["state"], award["ends"]) == ("current", "2029-11-20")


def test_why_there_is_no_top_up_is_said(changed: Path, standfast: Run) -> None:
    other = standfast("decide", "sasaki-hinano", RUBRIC, "--top-up", "--on", LESSON)
    early = standfast("decide", INES, RUBRIC, "--top-up", "--on", "2026-12-31")
    nobody = standfast("print", "sheet", RUBRIC, "--top-up", "--on", LESSON)

    assert (other.code, early.code, nobody.code) == (1, 1, 1)
    assert "sasaki-hinano holds no award under low-trapeze-1" in other.err
    assert "version 1 offers none" in early.err
    assert "say whose with --candidate" in nobody.err


def test_after_it_began_nobody_scores_under_the_version_before(
    entered: Path, standfast: Run
) -> None:
    with open_desk(entered, moment(LESSON)) as desk:
        from standfast.desk.definitions import written

        old = written(desk, RUBRIC, 1)
        late, early = (
            lesson(old.rubric, old.syllabus, "hana-dvorakova", day)
            for day in (date(2027, 1, 1), date(2026, 12, 31))
        )
        with pytest.raises(BadInput, match="version 2 was in force"):
            take_sheet(desk, late)
        assert not take_sheet(desk, early).again


def test_what_was_not_known_yet_did_not_count(entered: Path) -> None:
    with open_desk(entered, moment(AFTER)) as desk:
        [kept] = [e for e in desk.book.history() if e.kind == "text-kept" and e.seq > 20]
        before = datetime.fromisoformat(kept.at) - timedelta(milliseconds=1)
        with desk.book.as_it_stood(before) as past:
            [then] = standings(desk.on_past(past), INES)
        [now] = standings(desk, INES)

    assert (then.standing.state, now.standing.state) == ("current", "lapsed")
