"""Made lessons of the size that the shipped rubrics are written for."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from uuid import NAMESPACE_URL, uuid5

from standfast.model.evidence import (
    Answer,
    Attempt,
    Clearance,
    Incident,
    Rating,
    Sample,
    Student,
)
from standfast.model.rubric import AttemptsCriterion, RatingCriterion, Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus

MINUTES = 50
ATTEMPTS = 24
STUDENTS = ("S1", "S2", "S3", "S4", "S5", "S6")
FAILED = (4, 10, 16, 22)
"""The attempts of a lesson, counted from 0, that the student did not complete."""


def asked(rubric: Rubric, skill: str, *, failed: bool) -> list[str]:
    """The questions that the rubric asks of such an attempt."""
    return [
        c.id
        for c in rubric.criteria()
        if isinstance(c, AttemptsCriterion)
        and (not c.skills or skill in c.skills)
        and (failed or c.asked == "every")
    ]


def lesson(
    rubric: Rubric,
    syllabus: Syllabus,
    assessor: str,
    day: date,
    *,
    lapses: Mapping[str, int] | None = None,
    incidents: tuple[Incident, ...] = (),
    logged: int = 3,
) -> Sheet:
    """One lesson: 24 attempts, every third at a skill that does not invert, 4 failed, 50 looks.

    `lapses` says of which criterion how many answers are no; `logged` how often each student had
    done each skill unassisted.
    """
    upside = [s.id for s in syllabus.skills if s.inverts]
    upright = [s.id for s in syllabus.skills if not s.inverts and "none" not in s.spot.controls]
    upright = upright or [s.id for s in syllabus.skills if not s.inverts]
    left = dict(lapses or {})
    attempts, clearances = [], []
    for n in range(ATTEMPTS):
        at, student = 60 + n * 110, STUDENTS[n % len(STUDENTS)]
        skill = upright[n % len(upright)] if n % 3 == 0 else upside[n % len(upside)]
        answers: dict[str, Answer] = {}
        for question in asked(rubric, skill, failed=n in FAILED):
            answers[question] = "no" if left.get(question, 0) > 0 else "yes"
            left[question] = left.get(question, 0) - 1
        clearances.append(Clearance(at=at - 10, student=student, skill=skill, choice="let-go"))
        attempts.append(
            Attempt(at=at, student=student, skill=skill, failed=n in FAILED, answers=answers)
        )
    practical = f"lesson-{day.isoformat()}"
    return Sheet(
        id=str(uuid5(NAMESPACE_URL, f"{rubric.id}/{practical}/{assessor}")),
        practical=practical,
        rubric=rubric.id,
        rubric_version=rubric.version,
        candidate="ines-carvalho-teles",
        assessor=assessor,
        began=datetime.combine(day, time(17), UTC),
        minutes=MINUTES,
        students=tuple(
            Student(student=code, log={skill.id: logged for skill in syllabus.skills})
            for code in STUDENTS
        ),
        attempts=tuple(attempts),
        clearances=tuple(clearances),
        samples=tuple(
            Sample(look=look, at=look * 60, waiting=5, idle=1 if look % 4 == 0 else 0)
            for look in range(1, MINUTES + 1)
        ),
        ratings=tuple(
            Rating(criterion=c.id, level=3)
            for c in rubric.criteria()
            if isinstance(c, RatingCriterion)
        ),
        incidents=incidents,
    )
