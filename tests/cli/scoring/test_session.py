"""A scripted keyboard scores a small invented practical."""

from __future__ import annotations

import re
import resource
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.cli.scoring.scripted import (
    KEY,
    RUBRIC,
    START,
    SYLLABUS,
    Keyboard,
    score,
    setup,
)

from standfast.cli.scoring import session
from standfast.cli.scoring.drafts import draft_of, finish, unfinished
from standfast.engine.sheets import approval_faults, faults_in
from standfast.model.evidence import Incident, Note, Sample, Student
from standfast.model.people import Approval, Person
from standfast.model.sheet import Sheet
from standfast.problems import Refused

BEFORE = ("3", "all", "4 4", "1 z", "5 l", "2 looked twice", "")
"""Part 1; the lesson begins with its last line, and each line after it is 5 seconds later."""

LESSON = (
    "h 2 3",  # 0:05
    "gt 1 3 yy",  # 0:10
    "y",
    "t 3 1",  # 0:20
    "y",
    "n",
    "l",
    "i 2 1 hand on the arm",  # 0:40
    "+ voice low",
    "u 1 2",  # 0:50
    "e",
    "w 2 1",  # 1:00, when look 1 is due
    "g 3 2",
    "x",
    "g 3 2",  # 1:15
    "t 3 2 yy",  # 1:20
    "a",
    "s",  # 1:30
)
AFTER = ("y", "2", "z", "3", "lesson-7")
SCRIPT = (*BEFORE, *LESSON, *AFTER)


def scored(script: tuple[str, ...], drafts: Path, **more: Any) -> Sheet:  # noqa: ANN401
    sheet = score(Keyboard(script), drafts, **more)
    assert sheet is not None
    return sheet


def test_what_was_typed_is_what_the_sheet_says(tmp_path: Path) -> None:
    sheet = scored(SCRIPT, tmp_path)

    assert (sheet.id, sheet.practical, sheet.source) == (KEY, "lesson-7", "terminal")
    assert sheet.began == START + timedelta(seconds=35)
    assert sheet.minutes == 2
    assert [s.student for s in sheet.students] == ["S1", "S2", "S3", "S4"]
    assert sheet.students[1].log == {"long-hang": 1, "tuck-hang": 0}
    assert sheet.students[2].log == {"long-hang": 5, "tuck-hang": 2}
    assert [(r.at, r.skill) for r in sheet.students[0].repetitions] == [(50, "tuck-hang")]
    assert [(a.at, a.student, a.skill, a.failed, a.answers) for a in sheet.attempts] == [
        (10, "S1", "tuck-invert", False, {"in-place": "yes", "still": "yes"}),
        (20, "S3", "long-hang", True, {"in-place": "yes", "down-first": "yes"}),
        (80, "S3", "tuck-hang", False, {"in-place": "yes"}),
    ]
    assert [(c.at, c.student, c.choice) for c in sheet.clearances] == [
        (5, "S2", "held-back"),
        (10, "S1", "let-go"),
        (75, "S3", "let-go"),
    ]
    assert sheet.samples == (Sample(look=1, at=60, waiting=2, idle=1),)
    assert [(r.criterion, r.level, r.note) for r in sheet.ratings] == [
        ("five-looks", 2, "looked twice"),
        ("log-read", 3, None),
    ]
    assert sheet.incidents == (
        Incident(at=40, criterion="touch-unasked", student="S1", note="hand on the arm"),
    )
    assert sheet.notes == (Note(at=45, text="voice low"),)


def test_a_signed_sheet_contradicts_nothing(tmp_path: Path) -> None:
    day = START.date()
    approved = Approval(rubric="bars-1", since=day, until=day)
    assessor = Person(id="kaz-ito", name="Kaz Ito (invented)", scores=(approved,))

    sheet = scored(SCRIPT, tmp_path)

    assert faults_in(sheet, RUBRIC, SYLLABUS) == ()
    assert [*approval_faults(sheet, assessor)] == []


@pytest.mark.parametrize("k", range(len(SCRIPT)))
def test_ctrl_c_at_any_prompt_changes_nothing(tmp_path: Path, k: int) -> None:
    whole = scored(SCRIPT, tmp_path / "whole")
    stopped = Keyboard(SCRIPT, stop=k)

    assert score(stopped, tmp_path / "cut") is None
    assert "To go on: standfast score" in stopped.screen
    assert score(Keyboard(SCRIPT, typed=k), tmp_path / "cut") == whole


@pytest.mark.parametrize("k", range(len(SCRIPT)))
def test_end_of_input_at_any_prompt_changes_nothing(tmp_path: Path, k: int) -> None:
    whole = scored(SCRIPT, tmp_path / "whole")

    assert score(Keyboard(SCRIPT[:k]), tmp_path / "cut") is None
    assert score(Keyboard(SCRIPT, typed=k), tmp_path / "cut") == whole


def test_the_next_question_after_resuming_is_the_one_left(tmp_path: Path) -> None:
    for k in range(len(SCRIPT)):
        drafts = tmp_path / str(k)
        left = Keyboard(SCRIPT, stop=k)
        score(left, drafts)
        back = Keyboard(SCRIPT, stop=k, typed=k)
        score(back, drafts)

        assert back.prompts == [left.prompts[-1]]


WRONG = ("zz", "99999", "t", "t 9 1", "t 1 99", "g 1", "h 1 nothing", "i 77", "w 9 9", "x 99", "@")


@pytest.mark.parametrize("wrong", [*WRONG, "\x1b[A"])
def test_a_wrong_line_at_any_prompt_changes_nothing(tmp_path: Path, wrong: str) -> None:
    typed = tuple(text for line in SCRIPT for text in (wrong, line))
    slow = Keyboard(SCRIPT)
    keyboard = Keyboard(typed)
    whole = score(slow, tmp_path / "whole")

    def clock() -> datetime:
        return START + timedelta(seconds=5 * ((keyboard.typed + 1) // 2))

    assert score(keyboard, tmp_path / "wrong", clock=clock) == whole


def test_a_wrong_key_is_told_what_is_expected(tmp_path: Path) -> None:
    keyboard = Keyboard((*BEFORE, "t 1 1", "k"))
    score(keyboard, tmp_path)

    assert "'k' is none of y yes, n no, - not seen, l later" in keyboard.screen


def test_every_prompt_names_its_keys(tmp_path: Path) -> None:
    keyboard = Keyboard(SCRIPT)
    score(keyboard, tmp_path)
    lines = keyboard.screen.split("\n")

    assert all("[" in p or p.endswith("> ") for p in keyboard.prompts)
    lesson_prompts = [p for p in keyboard.prompts if " kept" in p]
    assert len(lesson_prompts) == sum(line.startswith("t try, g let go") for line in lines)


def test_nothing_shown_says_how_the_candidate_does(tmp_path: Path) -> None:
    keyboard = Keyboard(SCRIPT)
    score(keyboard, tmp_path)
    shown = (keyboard.screen + "\n".join(keyboard.prompts)).lower()

    for word in ("pass", "fail", "met", "true clear", "false", "%", "standard", "score:"):
        assert not re.search(rf"\b{re.escape(word)}\b", shown), word


def test_no_line_shown_is_wider_than_the_terminal(tmp_path: Path) -> None:
    keyboard = Keyboard((*SCRIPT[:-1], "?", "??", "e 99", "lesson-7"))
    score(keyboard, tmp_path)

    assert max(len(line) for text in keyboard.shown for line in text.split("\n")) < 80
    assert max(map(len, keyboard.prompts)) <= 80


class TestUndo:
    def test_as_often_as_wanted_back_to_the_begin(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "h 2 3", "t 1 1", "yy", *["x"] * 5))
        score(keyboard, tmp_path)

        assert "undone 14: of 12: completed" in keyboard.screen
        assert "undone 12: S1 long hang" in keyboard.screen
        assert "undone 11: S2 held back: tuck invert" in keyboard.screen
        assert "nothing is left to undo here" in keyboard.screen

    def test_of_one_entry_further_back_leaves_the_others(self, tmp_path: Path) -> None:
        script = (*SCRIPT[:-1], "x 11", "lesson-7")
        keyboard = Keyboard(script)
        sheet = score(keyboard, tmp_path)

        assert "undone 11: S2 held back: tuck invert" in keyboard.screen
        assert sheet is not None
        assert [c.student for c in sheet.clearances] == ["S1", "S3"]

    def test_of_a_rating_asks_it_again(self, tmp_path: Path) -> None:
        sheet = scored((*SCRIPT[:-1], "x", "1", "lesson-7"), tmp_path)

        assert sheet.ratings[-1].level == 1

    def test_of_the_end_goes_on_with_the_lesson(self, tmp_path: Path) -> None:
        sheet = scored((*BEFORE, "s", "x", "t 1 1 yy", "s", "0", "1", "lesson-7"), tmp_path)

        assert [a.at for a in sheet.attempts] == [15]

    def test_is_itself_kept(self, tmp_path: Path) -> None:
        score(Keyboard((*BEFORE, "h 2 3", "x")), tmp_path)

        assert '"undo","of":11' in draft_of(tmp_path, KEY).read_text()

    def test_cannot_take_the_frame_of_the_lesson(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "x 1", "x 10"))
        score(keyboard, tmp_path)

        assert "students and skills stay once the lesson has begun" in keyboard.screen
        assert "entry 10 is not there, or stays as it is" in keyboard.screen


class TestTries:
    def test_by_a_student_held_back_are_warned_of_and_cannot_be_signed(
        self, tmp_path: Path
    ) -> None:
        keyboard = Keyboard((*BEFORE, "h 2 3", "t 2 3 yyy", "s", "0", "1", "lesson-7"))
        sheet = score(keyboard, tmp_path)

        assert sheet is None
        assert "CAREFUL: S2 was held back from tuck invert at 0:05" in keyboard.screen
        assert "not signed: 1 contradictions to mend first" in keyboard.screen
        assert "x 12 undoes" in re.sub(r"\s+", " ", keyboard.screen)

    def test_by_a_student_let_go_since_are_not_warned_of(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "h 2 3", "gt 2 3 yyy"))
        score(keyboard, tmp_path)

        assert "CAREFUL" not in keyboard.screen

    def test_of_a_skill_with_no_choice_marked_are_warned_of(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "t 2 3", "t 2 1"))
        score(keyboard, tmp_path)

        assert keyboard.screen.count("CAREFUL: no mark yet") == 1

    def test_are_asked_only_what_applies(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "t 1 1", "y", "y", "gt 1 3", "y", "y", "n", "n"))
        score(keyboard, tmp_path)
        asked = [
            p.strip().split(" [")[0][2:] for p in keyboard.prompts if p.rstrip().endswith("x ?]")
        ]

        assert asked == [
            "In place before the move?",
            "Did the student complete the skill?",
            "In place before the move?",
            "Still through the move?",
            "Did the student complete the skill?",
            "Down before words?",
        ]

    def test_with_too_many_answers_are_kept_not_at_all(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "t 1 1 yyyy"))
        score(keyboard, tmp_path)

        assert "more answers than there are questions; none kept" in keyboard.screen
        assert '"try"' not in draft_of(tmp_path, KEY).read_text()

    def test_left_open_must_be_answered_before_signing(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "t 1 1 yl", "s", "l", "0", "1", "lesson-7 because I left"))

        assert score(keyboard, tmp_path) is None
        assert "not signed: 1 to answer first (o)" in keyboard.screen

    def test_of_a_new_student_leave_the_open_questions_for_later(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "t 1 1", "y", "t 3 1", "-", "y", "s", "n"))
        score(keyboard, tmp_path)

        assert "left open before: 1" in keyboard.screen
        assert "Down before words?" in keyboard.prompts[-1]

    def test_at_a_time_to_come_are_refused(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "t 1 1 @0:06"))
        score(keyboard, tmp_path)

        assert "0:06 is later than 0:05: it is 0:05" in keyboard.screen


class TestLooks:
    def lesson(self, tmp_path: Path, waits: int, *lines: str) -> tuple[Sheet | None, Keyboard]:
        """The first line comes that many seconds into the lesson."""
        keyboard = Keyboard((*BEFORE, *lines, "s", "0", "1", "lesson-7"))

        def clock() -> datetime:
            late = waits - 5 if keyboard.typed > len(BEFORE) else 0
            return START + timedelta(seconds=5 * keyboard.typed + late)

        return score(keyboard, tmp_path, clock=clock), keyboard

    @pytest.mark.parametrize(
        ("second", "samples"),
        [
            pytest.param(60, (Sample(look=1, at=60, waiting=3, idle=0),), id="when due"),
            pytest.param(90, (Sample(look=1, at=90, waiting=3, idle=0),), id="as it closes"),
            pytest.param(91, (Sample(look=1, at=60),), id="a second past its window"),
        ],
    )
    def test_are_missed_once_their_window_has_closed(
        self, tmp_path: Path, second: int, samples: tuple[Sample, ...]
    ) -> None:
        sheet, _ = self.lesson(tmp_path, second, "w 3 0")

        assert sheet is not None
        assert sheet.samples == samples

    def test_are_not_filled_in_later(self, tmp_path: Path) -> None:
        _, keyboard = self.lesson(tmp_path, 100, "w 3 0")

        assert "look 1 (1:00) not answered: kept as missed" in keyboard.screen
        assert "look 2 is due at 2:00; it is 1:40" in keyboard.screen

    def test_before_they_are_due_are_refused(self, tmp_path: Path) -> None:
        _, keyboard = self.lesson(tmp_path, 59, "w 3 0")

        assert "look 1 is due at 1:00; it is 0:59" in keyboard.screen

    @pytest.mark.parametrize(
        ("line", "told"),
        [
            pytest.param("w 3 4", "4 idle, but 3 waiting", id="more idle than waiting"),
            pytest.param("w 4 0", "4 waiting, but 3 students", id="more waiting than there are"),
        ],
    )
    def test_hold_no_more_than_there_are(self, tmp_path: Path, line: str, told: str) -> None:
        _, keyboard = self.lesson(tmp_path, 60, line)

        assert told in keyboard.screen

    def test_missed_by_the_clock_stay_when_undone(self, tmp_path: Path) -> None:
        sheet, _ = self.lesson(tmp_path, 100, "t 1 1 yy", "x", "x", "x")

        assert sheet is not None
        assert sheet.samples[0] == Sample(look=1, at=60)
        assert sheet.attempts == ()

    def test_due_when_the_lesson_ends_unanswered_are_missed(self, tmp_path: Path) -> None:
        sheet, _ = self.lesson(tmp_path, 120, "w 2 2")

        assert sheet is not None
        assert [(s.look, s.waiting) for s in sheet.samples] == [(1, None), (2, 2)]

    def test_pause_after_an_incident_that_stops(self, tmp_path: Path) -> None:
        sheet, keyboard = self.lesson(tmp_path, 58, "i 1 2", "w 1 0")

        assert "an incident stopped the practical at 0:58; the looks pause" in keyboard.screen
        assert sheet is not None
        assert sheet.samples == ()

    def test_that_fall_due_while_a_prompt_waits_are_called_out(self, tmp_path: Path) -> None:
        keyboard = Keyboard(BEFORE)
        waited: list[float | None] = []

        def ask(prompt: str, seconds: float | None = None, /) -> str | None:
            if seconds is not None and not waited:
                waited.append(seconds)
                return None
            return keyboard.ask(prompt)

        def clock() -> datetime:
            return keyboard.clock() + timedelta(seconds=60 if waited else 0)

        session.run(setup(), tmp_path, ask, keyboard.shown.append, clock, lambda: KEY, lambda: 80)

        assert waited == [60.0]
        assert "LOOK 1 IS DUE, until 1:30" in keyboard.screen


class TestClock:
    def test_set_back_does_not_turn_times_round(self, tmp_path: Path) -> None:
        keyboard = Keyboard((*BEFORE, "t 1 1 yy", "+ a", "t 3 1 yy", "s", "0", "1", "lesson-7"))

        def clock() -> datetime:
            back = 3600 if keyboard.typed > len(BEFORE) + 2 else 0
            return START + timedelta(seconds=5 * keyboard.typed - back)

        sheet = score(keyboard, tmp_path, clock=clock)

        assert sheet is not None
        assert [a.at for a in sheet.attempts] == [5, 10]
        assert "clock of this machine was set back" in keyboard.screen

    def test_of_another_day_is_not_taken_for_the_lesson(self, tmp_path: Path) -> None:
        score(Keyboard((*BEFORE, "t 1 1 yy")), tmp_path)
        lines = ("t 3 1", "2:10", "yy", "w 1 0", "s", "1:00", "3:10", "0", "1", "lesson-7")
        late = Keyboard(lines)
        sheet = score(late, tmp_path, clock=lambda: START + timedelta(days=1))

        assert "is long over: from here on times are asked" in re.sub(r"\s+", " ", late.screen)
        assert "never filled in later" in late.screen
        assert "the lesson cannot end at 1:00: an entry is at 2:10" in late.screen
        assert sheet is not None
        assert [a.at for a in sheet.attempts] == [5, 130]
        assert [(s.look, s.at, s.waiting) for s in sheet.samples] == [
            (n, 60 * n, None) for n in (1, 2, 3)
        ]
        assert sheet.minutes == 4


class TestPaper:
    LINES = (
        *BEFORE[:-1],
        "",
        *("h 2 3", "0:40", "gt 1 3", "1:05", "=", "yyy"),
        *("i 2", "2:00", "+ voice low", "s", "1:30", "2:10"),
        *("3 1", "-", "0", "1", "kaz-ito"),
    )

    def test_asks_the_times_and_copies_the_looks(self, tmp_path: Path) -> None:
        keyboard = Keyboard(self.LINES)
        sheet = score(keyboard, tmp_path, paper=True)

        assert sheet is not None
        assert sheet.source == "paper"
        assert sheet.began == START
        assert [(c.at, c.choice) for c in sheet.clearances] == [(40, "held-back"), (65, "let-go")]
        assert [a.at for a in sheet.attempts] == [65]
        assert [i.at for i in sheet.incidents] == [120]
        assert sheet.samples == (Sample(look=1, at=60, waiting=3, idle=1), Sample(look=2, at=120))
        assert sheet.minutes == 3

    @pytest.mark.parametrize("k", range(len(LINES)))
    def test_ctrl_c_at_any_prompt_changes_nothing(self, tmp_path: Path, k: int) -> None:
        whole = score(Keyboard(self.LINES), tmp_path / "whole", paper=True)
        score(Keyboard(self.LINES, stop=k), tmp_path / "cut", paper=True)

        assert score(Keyboard(self.LINES, typed=k), tmp_path / "cut", paper=True) == whole
        assert whole is not None

    def test_copies_several_looks_of_one_line_or_none(self, tmp_path: Path) -> None:
        lines = (*BEFORE[:-1], "", "s", "3:10", "3 1, -, 2 4", "3 1, -, 2 0", "0", "1", "kaz-ito")
        keyboard = Keyboard(lines)
        sheet = score(keyboard, tmp_path, paper=True)

        assert "4 idle, but 2 waiting" in keyboard.screen
        assert sheet is not None
        assert [(s.look, s.waiting, s.idle) for s in sheet.samples] == [
            (1, 3, 1),
            (2, None, None),
            (3, 2, 0),
        ]


class TestSigning:
    def test_with_a_rating_open_needs_a_reason_and_the_sheet_says_it(self, tmp_path: Path) -> None:
        lines = (*BEFORE, "s", "0", "l", "lesson-7", "lesson-7 because the hall closed")
        keyboard = Keyboard(lines)
        sheet = score(keyboard, tmp_path)

        assert "not signed: 1 left open" in keyboard.screen
        assert sheet is not None
        assert [r.criterion for r in sheet.ratings] == ["five-looks"]
        assert sheet.notes == (Note(text="signed with questions left open: the hall closed"),)

    def test_not_seen_is_an_answer_and_kept_apart_from_open(self, tmp_path: Path) -> None:
        sheet = scored((*BEFORE, "s", "0", "-", "lesson-7"), tmp_path)

        assert [(r.criterion, r.level) for r in sheet.ratings][-1] == ("log-read", None)

    def test_twice_gives_the_same_sheet_until_it_is_finished(self, tmp_path: Path) -> None:
        first = scored(SCRIPT, tmp_path)

        assert score(Keyboard(("",)), tmp_path) == first
        finish(draft_of(tmp_path, KEY))
        assert [p.suffix for p in tmp_path.iterdir()] == [".done"]
        assert unfinished(tmp_path) == ()

    def test_can_be_taken_back_while_the_sheet_was_not_taken(self, tmp_path: Path) -> None:
        first = scored(SCRIPT, tmp_path)
        again = Keyboard(("k", "x", "x", "1", "lesson-7"))
        sheet = score(again, tmp_path)

        assert "'k' is none of Enter, x, q" in again.screen
        assert sheet is not None
        assert (first.ratings[-1].level, sheet.ratings[-1].level) == (3, 1)
        assert sheet.id == first.id

    def test_a_log_that_a_choice_needs_is_not_taken_for_none(self, tmp_path: Path) -> None:
        lines = (*BEFORE, "gt 3 3 yyy", "s", "l", "1", "lesson-7 because I forgot")
        keyboard = Keyboard(lines)

        assert score(keyboard, tmp_path) is None
        assert "not signed: 1 to answer first (o): log of S3: tuck hang" in keyboard.screen


class TestStudents:
    def test_given_before_are_not_asked(self, tmp_path: Path) -> None:
        given = (Student(student="S2", log={"long-hang": 3}), Student(student="S5"))
        lines = ("all", "2", "", "gt 5 1 yy", "s", "1", "lesson-7")
        sheet = scored(lines, tmp_path, students=given)

        assert sheet.students == given
        assert [a.student for a in sheet.attempts] == ["S5"]


def test_an_assessor_does_not_score_herself(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="ada-berg is the candidate"):
        score(Keyboard(SCRIPT), tmp_path, assessor="ada-berg")


def test_a_rubric_not_in_force_is_refused_before_anything_is_asked(tmp_path: Path) -> None:
    later = RUBRIC.model_copy(update={"in_force": START.date() + timedelta(days=1)})
    keyboard = Keyboard(SCRIPT)

    with pytest.raises(Refused, match="in force from 2026-03-02, not on 2026-03-01"):
        score(keyboard, tmp_path, rubric=later)
    assert keyboard.prompts == []


def test_a_full_disk_is_said_and_the_answer_asked_again(tmp_path: Path) -> None:
    keyboard = Keyboard((*BEFORE, "t 1 1", "y", "y"))
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    size: list[int] = []

    def ask(prompt: str, seconds: float | None = None, /) -> str | None:
        path = draft_of(tmp_path, KEY)
        if keyboard.typed == len(BEFORE) + 1 and not size:
            size.append(path.stat().st_size)
            resource.setrlimit(resource.RLIMIT_FSIZE, (size[0] + 20, hard))
        elif size:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
            size.append(path.stat().st_size)
        return keyboard.ask(prompt, seconds)

    try:
        session.run(
            setup(), tmp_path, ask, keyboard.shown.append, keyboard.clock, lambda: KEY, lambda: 80
        )
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))

    assert "NOT KEPT" in keyboard.screen
    assert size[1] == size[0]  # the half-written line was cut off again
    back = Keyboard(("e",))
    score(back, tmp_path)
    assert "of 11: In place before the move? yes" in back.screen


def test_of_a_part_only_that_part_and_incidents_are_asked(tmp_path: Path) -> None:
    covers = ("in-place", "still")
    script = ("3", "all", "", "t 1 3 y", "y", "y", "i 2 1 hand on the arm", "e", "s", "lesson-7")
    keyboard = Keyboard(script)

    sheet = score(keyboard, tmp_path, covers=covers)

    assert sheet is not None, keyboard.screen
    assert sheet.covers == covers
    assert (sheet.ratings, sheet.samples, sheet.clearances) == ((), (), ())
    assert sheet.attempts[0].answers == {"in-place": "yes", "still": "yes"}
    assert [incident.criterion for incident in sheet.incidents] == ["touch-unasked"]
    assert "It covers:\n  spotting\nand every incident." in keyboard.screen
    assert faults_in(sheet, RUBRIC, SYLLABUS) == ()
