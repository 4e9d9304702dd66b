"""What the single records of a lesson say that contradicts the rubric or another record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from standfast.model.evidence import Attempt, Clearance, Sample
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus
from standfast.problems import Fault, Path, nearest


class _Timed(Protocol):
    @property
    def at(self) -> int: ...


@dataclass(frozen=True)
class Lesson:
    """A sheet with the rubric and the syllabus that it is held to."""

    sheet: Sheet
    rubric: Rubric
    syllabus: Syllabus

    @cached_property
    def students(self) -> tuple[str, ...]:
        """The codes of the students in the lesson."""
        return tuple(student.student for student in self.sheet.students)

    @cached_property
    def skills(self) -> tuple[str, ...]:
        """The ids of the syllabus's skills."""
        return tuple(skill.id for skill in self.syllabus.skills)

    @cached_property
    def stopped_at(self) -> int | None:
        """The second at which an incident stopped the lesson, or None."""
        return min((i.at for i in self.sheet.incidents if self._stops(i.criterion)), default=None)

    def _stops(self, wanted: str) -> bool:
        criterion = self.rubric.criterion(wanted)
        return isinstance(criterion, IncidentCriterion) and criterion.standard.effect == "stops"

    def asked(self, attempt: Attempt) -> tuple[str, ...]:
        """The criteria that ask about this attempt."""
        return tuple(
            criterion.id
            for criterion in self.rubric.criteria()
            if isinstance(criterion, AttemptsCriterion)
            and (not criterion.skills or attempt.skill in criterion.skills)
            and (criterion.asked == "every" or attempt.failed)
        )

    def of_kind(self, kind: type) -> tuple[str, ...]:
        """The ids of the criteria of that kind."""
        return tuple(c.id for c in self.rubric.criteria() if isinstance(c, kind))


def record_faults(lesson: Lesson) -> Iterator[Fault]:
    """Every fault of every record, list by list."""
    for check in (_times, _attempts, _clearances, _looks, _ratings, _incidents, _after_a_stop):
        yield from check(lesson)


def clock(second: int) -> str:
    """A time since the lesson began as a sheet writes it: `12:30`, `1:02:30`."""
    hours, rest = divmod(second, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def unknown(path: Path, kind: str, wanted: str, known: Iterable[str]) -> Fault:
    """There is no such thing; the cure names the nearest."""
    return Fault(path, f"no {kind} '{wanted}'", nearest(wanted, known))


# Times


def _lists(sheet: Sheet) -> Iterator[tuple[Path, Sequence[_Timed]]]:
    yield ("attempts",), sheet.attempts
    yield ("clearances",), sheet.clearances
    yield ("samples",), sheet.samples
    yield ("incidents",), sheet.incidents
    for n, student in enumerate(sheet.students):
        yield ("students", n, "repetitions"), student.repetitions


def _times(lesson: Lesson) -> Iterator[Fault]:
    end = lesson.sheet.minutes * 60
    for path, records in _lists(lesson.sheet):
        before = 0
        for n, record in enumerate(records):
            here = (*path, n, "at")
            if record.at < before:
                yield Fault(
                    here,
                    f"{clock(record.at)} comes after {clock(before)} in the list",
                    "mend the time, or put the records in the order in which they happened",
                )
            if record.at > end:
                yield _too_late(here, record.at, end)
            before = max(before, record.at)
    for n, note in enumerate(lesson.sheet.notes):
        if note.at is not None and note.at > end:
            yield _too_late(("notes", n, "at"), note.at, end)


def _too_late(path: Path, at: int, end: int) -> Fault:
    return Fault(
        path,
        f"{clock(at)} is after the lesson's end at {clock(end)}",
        "mend the time, or the lesson's minutes",
    )


def _after_a_stop(lesson: Lesson) -> Iterator[Fault]:
    stop = lesson.stopped_at
    if stop is None:
        return
    for path, records in _lists(lesson.sheet):
        for n, record in enumerate(records):
            if record.at > stop and path != ("incidents",):
                yield Fault(
                    (*path, n, "at"),
                    f"{clock(record.at)} is after the incident that stopped the lesson at"
                    f" {clock(stop)}",
                    "mend the time, or leave out what was not part of the practical any more",
                )


# Attempts and choices


def _who_and_what(lesson: Lesson, path: Path, record: Attempt | Clearance) -> Iterator[Fault]:
    if record.student not in lesson.students:
        yield unknown((*path, "student"), "student", record.student, lesson.students)
    if record.skill not in lesson.skills:
        yield unknown((*path, "skill"), "skill", record.skill, lesson.skills)


def _attempts(lesson: Lesson) -> Iterator[Fault]:
    for n, attempt in enumerate(lesson.sheet.attempts):
        path: Path = ("attempts", n)
        yield from _who_and_what(lesson, path, attempt)
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
    last = max(before, key=lambda choice: choice.at, default=None)
    if last is not None and last.choice == "held-back":
        yield Fault(
            path,
            f"{who[0]} tries {who[1]} at {clock(attempt.at)}, but was held back from it at"
            f" {clock(last.at)}",
            "mend one of the two, or add the later choice to let the student go",
        )
    skill = lesson.syllabus.skill(attempt.skill)
    judged = lesson.of_kind(ClearancesCriterion)
    if last is None and judged and skill is not None and skill.prerequisites:
        yield Fault(
            path,
            f"{who[0]} tries {who[1]}, which has prerequisites, and no choice to let the student"
            " go was recorded before",
            f"add the choice, at {clock(attempt.at)} or earlier, to the clearances",
        )


def _clearances(lesson: Lesson) -> Iterator[Fault]:
    for n, choice in enumerate(lesson.sheet.clearances):
        yield from _who_and_what(lesson, ("clearances", n), choice)
    if lesson.sheet.clearances and not lesson.of_kind(ClearancesCriterion):
        yield _nothing_asks(("clearances",), "choices to let go or hold back")
    for n, student in enumerate(lesson.sheet.students):
        for m, done in enumerate(student.repetitions):
            if done.skill not in lesson.skills:
                path = ("students", n, "repetitions", m, "skill")
                yield unknown(path, "skill", done.skill, lesson.skills)


def _nothing_asks(path: Path, what: str) -> Fault:
    return Fault(path, f"the rubric has no criterion on {what}", "leave them out")


# Looks at the waiting students


def _looks(lesson: Lesson) -> Iterator[Fault]:
    criteria = [c for c in lesson.rubric.criteria() if isinstance(c, SamplesCriterion)]
    if lesson.sheet.samples and not criteria:
        yield _nothing_asks(("samples",), "looks at waiting students")
        return
    seen: set[int] = set()
    for n, sample in enumerate(lesson.sheet.samples):
        path: Path = ("samples", n)
        yield from _look_counts(lesson, path, sample)
        if sample.look in seen:
            yield Fault(
                (*path, "look"), f"look {sample.look} is there twice", "number it as it was due"
            )
        seen.add(sample.look)
        yield from _look_time(path, sample, criteria[0].standard.every)


def _look_counts(lesson: Lesson, path: Path, sample: Sample) -> Iterator[Fault]:
    waiting, idle = sample.waiting, sample.idle
    if (waiting is None) is not (idle is None):
        given, lacking = ("idle", "waiting") if waiting is None else ("waiting", "idle")
        yield Fault(
            (*path, given),
            f"'{given}' is there without '{lacking}'",
            f"add '{lacking}', or leave both empty when the look was missed",
        )
    if waiting is not None and idle is not None and idle > waiting:
        yield Fault(
            (*path, "idle"),
            f"{idle} idle of {waiting} waiting",
            f"at most {waiting} can be idle; mend one of the two",
        )
    if waiting is not None and waiting > len(lesson.students):
        yield Fault(
            (*path, "waiting"),
            f"{waiting} waiting, but {len(lesson.students)} students in the lesson",
            "mend the count, or add the missing students",
        )


def _look_time(path: Path, sample: Sample, every: int) -> Iterator[Fault]:
    """A look belongs to the nearest due time: half an interval away it is another look."""
    due = sample.look * every
    off = sample.at - due
    if abs(off) * 2 > every:
        side = "after" if off > 0 else "before"
        yield Fault(
            (*path, "at"),
            f"look {sample.look} at {clock(sample.at)} is {clock(abs(off))} {side} it was due, at"
            f" {clock(due)}",
            f"mend the time or the number; looks are {clock(every)} apart, the first at"
            f" {clock(every)}",
        )


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
