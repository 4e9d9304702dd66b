"""What is asked next: a function of what is known, so that a resumed sheet asks the same.

Each question shows itself once in full, has a prompt that names its keys, and turns a typed line
into entries or says what is expected.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from standfast.cli.scoring import lines, looks, named, words
from standfast.cli.scoring.asking import NotUnderstood, Now, Question, Taken
from standfast.cli.scoring.before import (
    Begin,
    HowManyStudents,
    LevelOf,
    LogOf,
    WhichSkills,
    open_logs,
)
from standfast.cli.scoring.entries import (
    Event,
    Left,
    Timed,
)
from standfast.cli.scoring.lesson import COMPLETED
from standfast.cli.scoring.state import Try
from standfast.model.rubric import RatingCriterion


@dataclass(frozen=True)
class TimeOf:
    """When an entry happened."""

    entry: int

    def shows(self, now: Now) -> tuple[str, ...]:  # noqa: ARG002
        """Nothing; the prompt says it."""
        return ()

    def prompt(self, now: Now) -> str:
        """Which entry, and the form."""
        entry = next(e for e in now.state.in_effect if e.n == self.entry)
        what = words.in_words(now.lesson, now.state, entry.event)
        same = ", = same as before" if now.state.clock_stood_at else ""
        return f"{what}: when? [mm:ss since the begin{same}, x undo, ?] "

    def take(self, line: str, now: Now) -> Taken:
        """A time, or `=` for the latest one given."""
        same = line == "=" and now.state.clock_stood_at
        at = now.state.clock_stood_at if same else named.second_of(line, now)
        if now.state.stopped and now.state.stopped.n == self.entry:
            lines.not_before_the_last(at, now)
        return Taken((Timed(of=self.entry, at=at),))


@dataclass(frozen=True)
class AboutTry:
    """One question about a try."""

    number: int
    criterion: str

    def shows(self, now: Now) -> tuple[str, ...]:
        """At the first question about a try: whose it is, and the keys in words."""
        keys = "y yes, n no, - not seen, l later, x undo; several at once: yyn-"
        return (words.the_try(now.lesson, now.state, self.number), keys)

    def prompt(self, now: Now) -> str:
        """The question, and the keys."""
        left = len(now.lesson.open_questions(self._try(now)))
        keys = "y n l x ?" if self.criterion == COMPLETED else "y n - l x ?"
        return f"{left:>2} {words.question(now.lesson, self.criterion)} [{keys}] "

    def take(self, line: str, now: Now) -> Taken:
        """One key for each question, as many as wanted."""
        if not re.fullmatch(r"[yYnNlL-]{1,40}", line):
            expected = (
                "y yes, n no, l later"
                if self.criterion == COMPLETED
                else ("y yes, n no, - not seen, l later")
            )
            raise NotUnderstood(f"'{line}' is none of {expected}")
        return Taken(lines.answers(line, self._try(now), now))

    def _try(self, now: Now) -> Try:
        return next(a_try for a_try in now.state.tries if a_try.n == self.number)


@dataclass(frozen=True)
class LookOf:
    """A look that is copied from paper."""

    number: int

    def shows(self, now: Now) -> tuple[str, ...]:
        """At the first: what the numbers are."""
        first = now.state.looks == {}
        return ("", "Looks from the boxes; several on one line: 4 1, -, 3 0") if first else ()

    def prompt(self, now: Now) -> str:
        """Which look, and the form."""
        due = words.clock(self.number * (now.lesson.every or 0))
        return f"Look {self.number}, {due} [waiting idle: 4 1, - missed, l later, x undo, ?] "

    def take(self, line: str, now: Now) -> Taken:
        """Two numbers, `-`, or `l`; commas go on to the looks that follow."""
        free = [n for n in looks.looks_to_copy(now) if n >= self.number]
        given = line.split(",")
        if len(given) > len(free):
            raise NotUnderstood(f"{len(given)} looks typed, {len(free)} to copy; none kept")
        return Taken(tuple(_copied(n, part, now) for n, part in zip(free, given, strict=False)))


def _copied(number: int, text: str, now: Now) -> Event:
    if text.strip().lower() == "l":
        return Left(about=f"look:{number}")
    return looks.look(number, text.split(), now, number * (now.lesson.every or 0))


@dataclass(frozen=True)
class LessonLine:
    """The next thing that happens in the lesson."""

    def shows(self, now: Now) -> tuple[str, ...]:
        """The skills with their numbers."""
        taught = [f"{now.lesson.number(s.id):>3}  {s.title}" for s in now.lesson.taught(now.state)]
        return ("Skills of this lesson (i alone lists the incidents):", *taught)

    def prompt(self, now: Now) -> str:
        """The keys; then the time, what is kept, and the next look."""
        at = f"{words.clock(now.second)}  " if now.second is not None else ""
        return f"{words.LESSON_KEYS}\n{at}{now.state.last} kept{_next_look(now)}> "

    def take(self, line: str, now: Now) -> Taken:
        """A line of the lesson."""
        return lines.read(line, now)


def _next_look(now: Now) -> str:
    every, second = now.lesson.every, now.second
    if not every or second is None:
        return ""
    due = now.lesson.looks_due_by(second)
    if due > now.lesson.looks_closed_by(second) and due not in now.state.looks:
        return f", look {due} is DUE until {words.clock(due * every + now.lesson.window)}"
    if now.lesson.looks_end(now.state) is not None:
        return ", looks pause"
    return f", look {due + 1} at {words.clock((due + 1) * every)}"


def next_question(now: Now) -> Question | None:
    """What is asked next; None when all was asked or left open, and the review is due."""
    finders: tuple[Callable[[Now], Question | None], ...] = (
        (_before,)
        if now.state.begun is None
        else (_time, _about_try, _in_lesson, _looks, _logs, _rating)
    )
    return next((found for finder in finders if (found := finder(now))), None)


def _before(now: Now) -> Question:
    state = now.state
    if state.count is None and not now.lesson.opened.students:
        return HowManyStudents()
    if state.taught is None:
        return WhichSkills()
    return _logs(now) or _rating_of(now, now.lesson.ratings_before) or Begin()


def _time(now: Now) -> Question | None:
    return TimeOf(now.state.untimed[0].n) if now.state.untimed else None


def _about_try(now: Now) -> Question | None:
    for a_try in now.state.tries:
        for criterion in now.lesson.open_questions(a_try):
            if f"try:{a_try.n}:{criterion}" not in now.state.left:
                return AboutTry(a_try.n, criterion)
    return None


def _in_lesson(now: Now) -> Question | None:
    return None if now.state.stopped else LessonLine()


def _looks(now: Now) -> Question | None:
    if not now.by_hand:
        return None
    free = (n for n in looks.looks_to_copy(now) if f"look:{n}" not in now.state.left)
    return next((LookOf(n) for n in free), None)


def _logs(now: Now) -> Question | None:
    return next((LogOf(code, skill) for code, skill in open_logs(now)), None)


def _rating(now: Now) -> Question | None:
    return _rating_of(now, now.lesson.ratings)


def _rating_of(now: Now, among: tuple[RatingCriterion, ...]) -> Question | None:
    asked = (
        LevelOf(c)
        for c in among
        if c.id not in now.state.ratings and f"rating:{c.id}" not in now.state.left
    )
    return next(asked, None)
