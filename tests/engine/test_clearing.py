"""Let go or held back: what was right follows from the syllabus and the log."""

from __future__ import annotations

import pytest
from tests.engine.made import skill, student, syllabus

from standfast.engine.clearing import Verdict, missing, verdict
from standfast.model.evidence import Clearance, Student

SYLLABUS = syllabus(skill("hang"), skill("sit", "hang", times=3), skill("turn", "sit", "hang"))


def choice(made: str, to: str = "sit", at: int = 600) -> Clearance:
    return Clearance.model_validate({"at": at, "student": "S1", "skill": to, "choice": made})


@pytest.mark.parametrize(
    ("log", "made", "found"),
    [
        pytest.param(3, "let-go", "true clear", id="ready, let go"),
        pytest.param(3, "held-back", "false hold", id="ready, held back"),
        pytest.param(2, "let-go", "false clear", id="one short, let go"),
        pytest.param(2, "held-back", "true hold", id="one short, held back"),
    ],
)
def test_the_log_decides_and_not_an_opinion(log: int, made: str, found: Verdict) -> None:
    assert verdict(choice(made), student(hang=log), SYLLABUS) == found


@pytest.mark.parametrize(
    ("seen_at", "found"),
    [
        pytest.param(599, "true clear", id="seen a second before"),
        pytest.param(600, "false clear", id="seen in that second"),
    ],
)
def test_a_repetition_counts_once_it_was_seen(seen_at: int, found: Verdict) -> None:
    one_short = student("S1", (seen_at, "hang"), hang=2)

    assert verdict(choice("let-go"), one_short, SYLLABUS) == found


def test_every_prerequisite_must_be_in_the_log() -> None:
    turn = SYLLABUS.skill("turn")

    assert turn is not None
    assert [p.skill for p in missing(turn, student(sit=3), 0)] == ["hang"]
    assert [p.skill for p in missing(turn, Student(student="S1"), 0)] == ["sit", "hang"]


def test_a_skill_outside_the_syllabus_is_nothing_to_be_ready_for() -> None:
    assert verdict(choice("let-go", "drop"), student(hang=9), SYLLABUS) == "false clear"
    assert verdict(choice("held-back", "drop"), student(hang=9), SYLLABUS) == "true hold"


def test_a_skill_without_prerequisites_is_open_to_everybody() -> None:
    assert verdict(choice("let-go", "hang"), student(), SYLLABUS) == "true clear"
