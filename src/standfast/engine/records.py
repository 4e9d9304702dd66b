"""What the single records of a lesson say that contradicts the rubric or another record."""

from __future__ import annotations

from collections.abc import Iterator

from standfast.engine.lesson import Lesson, clock, nothing_asks, unknown
from standfast.engine.timing import after_a_stop, looks, times
from standfast.model.evidence import Attempt, Clearance
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    IncidentCriterion,
    RatingCriterion,
)
from standfast.problems import Fault, Path


def record_faults(lesson: Lesson) -> Iterator[Fault]:
    """Every fault of every record, list by list."""
    for check in (times, _attempts, _clearances, looks, _ratings, _incidents, after_a_stop):
        yield from check(lesson)


# Attempts and choices


def _who_and_what(lesson: Lesson, path: Path, record: Attempt | Clearance) -> Iterator[Fault]:
    if record.student not in lesson.students:
        yield unknown((*path, "student"), "student", record.student, lesson.students)
    if record.skill not in lesson.skills:
        yield unknown((*path, "skill"), "skill", record.skill, lesson.skills)


def _attempts(lesson: Lesson) -> Iterator[Fault]:
    for n, attempt in enumerate(lesson.sheet.attempts):
        path: Path = ("attempts", n)
        unknown_names = [*_who_and_what(lesson, path, attempt)]
        yield from unknown_names
        if not unknown_names:  # else what is asked, and who let go, depends on what was meant
            yield from _answers(lesson, path, attempt)
            yield from _let_go(lesson, path, attempt)


def _answers(lesson: Lesson, path: Path, attempt: Attempt) -> Iterator[Fault]:
    asked = lesson.asked(attempt)
    for criterion in asked:
        if criterion not in attempt.answers:
            yield Fault(
                (*path, "answers"),
                f"no answer to '{criterion}'",
                "answer yes, no or unseen",
            )
    questions = lesson.of_kind(AttemptsCriterion)
    for criterion in attempt.answers:
        here = (*path, "answers", criterion)
        if criterion not in questions:
            yield unknown(here, "question", criterion, questions)
        elif criterion not in asked:
            yield Fault(
                here,
                f"'{criterion}' is asked {_when_asked(lesson, criterion, attempt)} only",
                "leave it out",
            )


def _when_asked(lesson: Lesson, wanted: str, attempt: Attempt) -> str:
    criterion = lesson.rubric.criterion(wanted)
    skills = criterion.skills if isinstance(criterion, AttemptsCriterion) else ()
    if skills and attempt.skill not in skills:
        return f"of attempts at {', '.join(skills)}"
    return "of failed attempts"


def _let_go(lesson: Lesson, path: Path, attempt: Attempt) -> Iterator[Fault]:
    """The last choice up to the attempt must have let the student go."""
    who = (attempt.student, attempt.skill)
    before = [
        choice
        for choice in lesson.sheet.clearances
        if (choice.student, choice.skill) == who and choice.at <= attempt.at
    ]
    # Of two choices in the same second the one written later holds.
    last = max(reversed(before), key=lambda choice: choice.at, default=None)
    if last is not None and last.choice == "held-back":
        yield Fault(
            path,
            f"{who[0]} tries {who[1]} at {clock(attempt.at)}, but was held back from it at"
            f" {clock(last.at)}",
            "mend one of the two, or add the later choice to let the student go",
        )
    skill = lesson.syllabus.skill(attempt.skill)
    judged = lesson.of_kind(ClearancesCriterion)
    meant = any(_may_mean(lesson, choice, who) for choice in lesson.sheet.clearances)
    if last is None and not meant and judged and skill is not None and skill.prerequisites:
        yield Fault(
            path,
            f"{who[0]} tries {who[1]}, which has prerequisites, and no choice to let the student"
            " go was recorded before",
            f"add the choice, at {clock(attempt.at)} or earlier, to the clearances",
        )


def _may_mean(lesson: Lesson, choice: Clearance, who: tuple[str, str]) -> bool:
    """Whether a choice with a wrong name, which is told at its own line, may be about these."""
    student, skill = choice.student in lesson.students, choice.skill in lesson.skills
    return (
        not (student and skill)
        and (choice.student == who[0] or not student)
        and (choice.skill == who[1] or not skill)
    )


def _clearances(lesson: Lesson) -> Iterator[Fault]:
    for n, choice in enumerate(lesson.sheet.clearances):
        yield from _who_and_what(lesson, ("clearances", n), choice)
    if lesson.sheet.clearances and not lesson.of_kind(ClearancesCriterion):
        yield nothing_asks(("clearances",), "choices to let go or hold back")
    for n, student in enumerate(lesson.sheet.students):
        for m, done in enumerate(student.repetitions):
            if done.skill not in lesson.skills:
                path = ("students", n, "repetitions", m, "skill")
                yield unknown(path, "skill", done.skill, lesson.skills)


# Ratings and incidents


def _ratings(lesson: Lesson) -> Iterator[Fault]:
    rated = lesson.of_kind(RatingCriterion)
    seen: set[str] = set()
    for n, rating in enumerate(lesson.sheet.ratings):
        path = ("ratings", n)
        criterion = lesson.rubric.criterion(rating.criterion)
        if not isinstance(criterion, RatingCriterion):
            yield unknown((*path, "criterion"), "rating criterion", rating.criterion, rated)
            continue
        if rating.criterion in seen:
            yield Fault(
                (*path, "criterion"),
                f"'{rating.criterion}' is rated twice",
                "keep one of the two",
            )
        seen.add(rating.criterion)
        levels = [level.level for level in criterion.levels]
        if rating.level is not None and rating.level not in levels:
            yield Fault(
                (*path, "level"),
                f"level {rating.level} of '{rating.criterion}', which has {min(levels)} to"
                f" {max(levels)}",
                "choose one of its levels, or none when it was not seen",
            )


def _incidents(lesson: Lesson) -> Iterator[Fault]:
    known = lesson.of_kind(IncidentCriterion)
    for n, incident in enumerate(lesson.sheet.incidents):
        path = ("incidents", n)
        if incident.criterion not in known:
            yield unknown((*path, "criterion"), "incident", incident.criterion, known)
        if incident.student is not None and incident.student not in lesson.students:
            yield unknown((*path, "student"), "student", incident.student, lesson.students)
