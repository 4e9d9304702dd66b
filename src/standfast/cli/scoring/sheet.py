"""What is known becomes the score sheet; and each line of the sheet knows its entry."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from standfast.cli.scoring.entries import Chosen, Happened, Looked, Wrote
from standfast.cli.scoring.lesson import Lesson
from standfast.cli.scoring.state import EventT, Numbered, State, Try
from standfast.model.evidence import (
    Attempt,
    Clearance,
    Incident,
    Note,
    Rating,
    Repetition,
    Sample,
    Student,
)
from standfast.model.sheet import Sheet


@dataclass(frozen=True)
class Made:
    """The sheet, and which entry each of its lines comes from."""

    sheet: Sheet
    entries: dict[tuple[str, int], int]
    """Field and place, such as ("attempts", 3), to the number of the entry."""

    def entry_at(self, path: tuple[str | int, ...]) -> int | None:
        """The entry that a fault at this path is about, if it is about one."""
        field, place = (*path, None, None)[:2]
        return self.entries.get((field, place)) if isinstance(place, int) else None  # type: ignore[arg-type]


def made(lesson: Lesson, state: State) -> Made:
    """The sheet as far as it is known; entries without a time are left out."""
    opened = lesson.opened
    tries = sorted((t for t in state.tries if t.at is not None), key=lambda t: (t.at, t.n))
    choices, looks = _timed(state.choices), _looks(lesson, state)
    incidents, notes = _timed(state.incidents), sorted(state.notes, key=lambda n: (n.at or 0, n.n))
    sheet = Sheet(
        id=opened.sheet,
        practical=opened.practical,
        rubric=opened.rubric.id,
        rubric_version=opened.rubric.version,
        candidate=opened.candidate,
        assessor=opened.assessor,
        began=state.begun or opened.began,  # type: ignore[arg-type] # asked before the lesson
        minutes=_minutes(lesson, state),
        site=opened.site,
        source="paper" if opened.paper else "terminal",
        students=tuple(_student(code, lesson, state) for code in lesson.codes(state)),
        attempts=tuple(_attempt(a_try, lesson) for a_try in tries),
        clearances=tuple(_clearance(c) for c in choices),
        samples=tuple(_sample(look) for look in looks),
        ratings=tuple(_ratings(lesson, state)),
        incidents=tuple(_incident(i) for i in incidents),
        notes=(*(_note(n) for n in notes), *_reason(state)),
        corrects=opened.corrects,
        covers=opened.covers,
    )
    lists = {
        "attempts": [t.n for t in tries],
        "clearances": [c.n for c in choices],
        "samples": [look.n for look in looks],
        "incidents": [i.n for i in incidents],
        "notes": [n.n for n in notes],
    }
    return Made(sheet, {(name, i): n for name, ns in lists.items() for i, n in enumerate(ns)})


def _minutes(lesson: Lesson, state: State) -> int:
    """As long as the lesson ran, begun minutes counted whole; as planned until it has ended."""
    if state.stopped is None or state.stopped.at is None:
        return lesson.opened.minutes
    return max(-(-state.stopped.at // 60), 1)


def _timed(numbered: Iterable[Numbered[EventT]]) -> list[Numbered[EventT]]:
    return sorted((e for e in numbered if e.at is not None), key=lambda e: (e.at or 0, e.n))


def _looks(lesson: Lesson, state: State) -> list[Numbered[Looked]]:
    """In order; without those that only the clock knew of after the lesson had ended."""
    end = lesson.looks_end(state)
    last = lesson.looks_due_by(end) if end is not None else None
    return [
        look
        for number, look in sorted(state.looks.items())
        if last is None or number <= last or not look.event.by_clock
    ]


def _student(code: str, lesson: Lesson, state: State) -> Student:
    given = lesson.given(code) or Student(student=code)
    log = {skill: times for (student, skill), times in state.logs.items() if student == code}
    seen = [r for r in _timed(state.repetitions) if r.event.student == code]
    repetitions = tuple(Repetition(at=r.at or 0, skill=r.event.skill) for r in seen)
    return given.model_copy(
        update={"log": {**given.log, **log}, "repetitions": (*given.repetitions, *repetitions)}
    )


def _attempt(a_try: Try, lesson: Lesson) -> Attempt:
    asked = lesson.questions(a_try.skill, completed=a_try.completed)
    return Attempt(
        at=a_try.at or 0,
        student=a_try.student,
        skill=a_try.skill,
        failed=a_try.completed is False,
        answers={c.id: a_try.answers[c.id] for c in asked if c.id in a_try.answers},
    )


def _clearance(numbered: Numbered[Chosen]) -> Clearance:
    event = numbered.event
    return Clearance(
        at=numbered.at or 0, student=event.student, skill=event.skill, choice=event.choice
    )


def _sample(numbered: Numbered[Looked]) -> Sample:
    event = numbered.event
    return Sample(look=event.look, at=event.at, waiting=event.waiting, idle=event.idle)


def _ratings(lesson: Lesson, state: State) -> Iterable[Rating]:
    known = (state.ratings[c.id] for c in lesson.ratings if c.id in state.ratings)
    return (Rating(criterion=r.criterion, level=r.level, note=r.note) for r in known)


def _incident(numbered: Numbered[Happened]) -> Incident:
    event = numbered.event
    return Incident(
        at=numbered.at or 0, criterion=event.criterion, student=event.student, note=event.note
    )


def _note(numbered: Numbered[Wrote]) -> Note:
    return Note(at=numbered.at, text=numbered.event.text)


def _reason(state: State) -> tuple[Note, ...]:
    if state.signed is None or state.signed.reason is None:
        return ()
    return (Note(text=f"signed with questions left open: {state.signed.reason}"),)
