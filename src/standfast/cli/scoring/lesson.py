"""What this rubric and syllabus ask of an assessor, and when in the lesson."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from standfast.cli.scoring.entries import Opened
from standfast.cli.scoring.state import State, Try
from standfast.model.evidence import Student
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Competency,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.model.syllabus import Skill, Syllabus

COMPLETED = "completed"
"""Stands for the question whether the student completed the skill."""

WRAP_UP = 3600
"""Seconds past the planned end after which a clock is no longer believed to be the lesson's."""


@dataclass(frozen=True)
class Lesson:
    """The definitions under which one sheet is scored."""

    opened: Opened
    rubric: Rubric
    syllabus: Syllabus
    candidate_name: str

    @cached_property
    def incidents(self) -> tuple[IncidentCriterion, ...]:
        """The incidents, numbered from 1 in the order of the rubric."""
        return tuple(c for c in self.rubric.criteria() if isinstance(c, IncidentCriterion))

    @cached_property
    def attempts(self) -> tuple[AttemptsCriterion, ...]:
        """The questions about tries, in the order of the rubric."""
        return tuple(c for c in self.rubric.criteria() if isinstance(c, AttemptsCriterion))

    @cached_property
    def ratings_before(self) -> tuple[RatingCriterion, ...]:
        """The ratings of the first competency, when nothing of it waits for the lesson."""
        first = self.rubric.competencies[0] if self.rubric.competencies else None
        return tuple(_ratings(first)) if first and not _needs_lesson(first) else ()

    @cached_property
    def ratings(self) -> tuple[RatingCriterion, ...]:
        """All ratings, in the order of the rubric."""
        return tuple(r for c in self.rubric.competencies for r in _ratings(c))

    @cached_property
    def every(self) -> int | None:
        """Seconds from one look to the next; None when the rubric asks for no looks."""
        every = (
            c.standard.every for c in self.rubric.criteria() if isinstance(c, SamplesCriterion)
        )
        return next(every, None)

    @cached_property
    def judges_choices(self) -> bool:
        """Whether the rubric asks who was let go and who was held back."""
        return any(isinstance(c, ClearancesCriterion) for c in self.rubric.criteria())

    @property
    def window(self) -> int:
        """Seconds within which a look that is due can be answered: half the interval."""
        return (self.every or 0) // 2

    def looks_due_by(self, second: int) -> int:
        """The number of the last look that was due by that second; 0 for none yet."""
        return second // self.every if self.every else 0

    def looks_closed_by(self, second: int) -> int:
        """The number of the last look whose window had closed by that second."""
        return max((second - self.window - 1) // self.every, 0) if self.every else 0

    def looks_end(self, state: State) -> int | None:
        """The second after which no look is due: the end, or an incident that stops."""
        ends = [i.at for i in state.incidents if self.stops(i.event.criterion)]
        ends += [state.stopped.at] if state.stopped else []
        return min((at for at in ends if at is not None), default=None)

    def codes(self, state: State) -> tuple[str, ...]:
        """The students in the lesson."""
        given = tuple(student.student for student in self.opened.students or ())
        first = given or tuple(f"S{n}" for n in range(1, (state.count or 0) + 1))
        last = max((int(code[1:]) for code in first), default=0)
        return first + tuple(f"S{n}" for n in range(last + 1, min(last + state.joined, 99) + 1))

    def given(self, code: str) -> Student | None:
        """What was known about that student before anything was asked."""
        return next((s for s in self.opened.students or () if s.student == code), None)

    def taught(self, state: State) -> tuple[Skill, ...]:
        """The skills of the lesson, in the order of the syllabus."""
        wanted = state.taught or ()
        return tuple(skill for skill in self.syllabus.skills if skill.id in wanted)

    def number(self, skill: str) -> int:
        """The number by which a skill is called: its place in the syllabus, from 1."""
        return 1 + [known.id for known in self.syllabus.skills].index(skill)

    def title(self, skill: str) -> str:
        """The skill's title."""
        known = self.syllabus.skill(skill)
        return known.title if known else skill

    def logs_to_ask(self, state: State, skills: Iterable[str]) -> Iterator[tuple[str, str]]:
        """Student and skill of each log that matters for these skills and is not known yet."""
        wanted = self.before(skills) if self.judges_choices else ()
        for code in self.codes(state):
            if not self.given(code):
                yield from ((code, s) for s in wanted if (code, s) not in state.logs)

    def before(self, skills: Iterable[str]) -> tuple[str, ...]:
        """The skills that must come before any of these, in the order of the syllabus."""
        known = [found for skill in skills if (found := self.syllabus.skill(skill))]
        wanted = {needed.skill for skill in known for needed in skill.prerequisites}
        return tuple(skill.id for skill in self.syllabus.skills if skill.id in wanted)

    def questions(self, skill: str, *, completed: bool | None) -> tuple[AttemptsCriterion, ...]:
        """What is asked about a try at that skill."""
        return tuple(
            c
            for c in self.attempts
            if (not c.skills or skill in c.skills) and (c.asked == "every" or completed is False)
        )

    def open_questions(self, a_try: Try) -> tuple[str, ...]:
        """What is not answered yet about a try: criteria, then whether it was completed."""
        asked = [c.id for c in self.questions(a_try.skill, completed=a_try.completed)]
        missing = [i for i in asked if i not in a_try.answers]
        if a_try.completed is None:
            missing.append(COMPLETED)
        return tuple(missing)

    def stops(self, criterion: str) -> bool:
        """Whether that incident stops the practical."""
        return any(c.id == criterion and c.standard.effect == "stops" for c in self.incidents)


def _ratings(competency: Competency) -> Iterator[RatingCriterion]:
    return (c for c in competency.criteria if isinstance(c, RatingCriterion))


def _needs_lesson(competency: Competency) -> bool:
    return any(c.kind in {"attempts", "clearances", "samples"} for c in competency.criteria)
