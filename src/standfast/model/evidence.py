"""The five kinds of evidence that an assessor records during a lesson."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from pydantic import Field

from standfast.model.base import Count, Elapsed, Line, Noun, Slug, StudentCode, Text, Whole, Yes

Answer = Literal["yes", "no", "unseen"]
"""What the assessor saw; `unseen` is an answer: it could not be seen from where she stood."""

Choice = Literal["let-go", "held-back"]
"""What the candidate did with a student who was about to try a skill."""


LOOKS_ALIKE = Fraction(1, 10)
"""Two shares of idle students that differ by at most this are alike: two people counting five who
wait.  Common practice, no source."""


class Attempt(Noun):
    """One student's try at one skill, and what the assessor saw of the candidate in it."""

    at: Elapsed
    student: StudentCode
    skill: Slug
    failed: Yes = False
    """The student did not complete the skill; opens the questions about failed attempts."""
    answers: dict[Slug, Answer]
    """Criterion to answer, for each attempts criterion that asks about this attempt."""


class Clearance(Noun):
    """The candidate let a student go on to a skill, or held the student back.

    Whether that was right is no opinion: it follows from the syllabus and from the student's
    log of unassisted repetitions on the same sheet.
    """

    at: Elapsed
    student: StudentCode
    skill: Slug
    choice: Choice


class Sample(Noun):
    """One look at the waiting students (momentary time sampling).

    `waiting` and `idle` are both empty when the look was due and missed; a missed look is
    never filled in later.
    """

    look: Count
    """The number of the look: look 1 was due one interval after the lesson began."""
    at: Elapsed
    waiting: Whole | None = None
    idle: Whole | None = None


class Rating(Noun):
    """An ordinal level, chosen by its observable words; no level when it was not seen."""

    criterion: Slug
    level: Count | None = None
    note: Text | None = None


class Incident(Noun):
    """Something that stops the practical or counts against a limit."""

    at: Elapsed
    criterion: Slug
    student: StudentCode | None = None
    note: Text | None = None


class Note(Noun):
    """What the assessor wrote down beside the marks.  Students by code only."""

    at: Elapsed | None = None
    text: Text


class Repetition(Noun):
    """One unassisted repetition seen during the lesson; it adds to the student's log."""

    at: Elapsed
    skill: Slug


class Student(Noun):
    """A student in the lesson: a code, and the log of unassisted repetitions brought along."""

    student: StudentCode
    log: dict[Slug, Whole] = Field(default_factory=dict)
    """Skill to the number of unassisted repetitions before this lesson."""
    repetitions: tuple[Repetition, ...] = ()
    remark: Line | None = None

    def unassisted(self, skill: str, before: int) -> int:
        """How often the student had done the skill unassisted before that second."""
        during = sum(1 for done in self.repetitions if done.skill == skill and done.at < before)
        return self.log.get(skill, 0) + during
