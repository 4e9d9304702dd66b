"""Whether a student was rightly let go or rightly held back."""

from __future__ import annotations

from typing import Literal

from standfast.model.evidence import Clearance, Student
from standfast.model.syllabus import Prerequisite, Skill, Syllabus

Verdict = Literal["true clear", "true hold", "false clear", "false hold"]
WORST_FIRST: tuple[Verdict, ...] = ("false clear", "false hold", "true hold", "true clear")


def missing(skill: Skill, student: Student, before: int) -> tuple[Prerequisite, ...]:
    """The prerequisites that the student's log does not show at that second of the lesson.

    The log counts unassisted repetitions only, so it shows assisted prerequisites too.
    """
    return tuple(
        needed
        for needed in skill.prerequisites
        if student.unassisted(needed.skill, before) < needed.times
    )


def verdict(clearance: Clearance, student: Student, syllabus: Syllabus) -> Verdict:
    """What the choice was, by the syllabus and the student's log; no opinion enters.

    A skill that the syllabus does not have has nothing that could show a student ready for it:
    letting go is a false clear.
    """
    skill = syllabus.skill(clearance.skill)
    ready = skill is not None and not missing(skill, student, clearance.at)
    if clearance.choice == "let-go":
        return "true clear" if ready else "false clear"
    return "false hold" if ready else "true hold"
