"""What one line of a draft says: each answer, each undo, in the order they were given.

Nothing in a draft is edited.  An undo is an entry that points at another by its number; what
is known is what the entries that are left say (`state.replay`).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from standfast.model.base import (
    Count,
    Elapsed,
    Key,
    Line,
    Moment,
    Noun,
    PersonId,
    Reference,
    Slug,
    StudentCode,
    Text,
    Whole,
    Yes,
)
from standfast.model.evidence import Answer, Choice, Student
from standfast.model.sheet import Correction


class Opened(Noun):
    """The head of a draft: which sheet it becomes."""

    draft: Literal[1] = 1
    """The form of the draft."""
    sheet: Key
    practical: Slug
    candidate: PersonId
    assessor: PersonId
    rubric: Reference
    syllabus: Reference
    began: Moment | None = None
    minutes: Count
    paper: Yes = False
    site: Line | None = None
    students: tuple[Student, ...] | None = None
    corrects: Correction | None = None
    covers: tuple[Slug, ...] = ()


class Class(Noun):
    """How many students there are: S1 and on."""

    what: Literal["students"] = "students"
    count: Annotated[int, Field(strict=True, ge=1, le=99)]


class Joined(Noun):
    """One more student came: the next code."""

    what: Literal["joined"] = "joined"


class Taught(Noun):
    """The skills of this lesson."""

    what: Literal["skills"] = "skills"
    skills: tuple[Slug, ...]


class Logged(Noun):
    """How often a student had done a skill unassisted before this lesson."""

    what: Literal["log"] = "log"
    student: StudentCode
    skill: Slug
    times: Whole


class Rated(Noun):
    """A level, or none because it was not seen."""

    what: Literal["rating"] = "rating"
    criterion: Slug
    level: Count | None = None
    note: Text | None = None


class Begun(Noun):
    """The lesson began."""

    what: Literal["begun"] = "begun"
    moment: Moment


class Tried(Noun):
    """A student tried a skill; the time is asked next when it is not told by the clock."""

    what: Literal["try"] = "try"
    student: StudentCode
    skill: Slug
    at: Elapsed | None = None


class Completed(Noun):
    """Whether the student completed the skill in that try."""

    what: Literal["completed"] = "completed"
    of: Count
    completed: Yes


class Answered(Noun):
    """What was seen in that try."""

    what: Literal["answer"] = "answer"
    of: Count
    criterion: Slug
    answer: Answer


class Chosen(Noun):
    """A student was let go, or held back."""

    what: Literal["choice"] = "choice"
    student: StudentCode
    skill: Slug
    choice: Choice
    at: Elapsed | None = None


class Repeated(Noun):
    """A student did a skill unassisted in this lesson; the log grows by one."""

    what: Literal["unassisted"] = "unassisted"
    student: StudentCode
    skill: Slug
    at: Elapsed | None = None


class Looked(Noun):
    """A look at the waiting students; both numbers empty when it was missed."""

    what: Literal["look"] = "look"
    look: Count
    at: Elapsed
    waiting: Whole | None = None
    idle: Whole | None = None
    by_clock: Yes = False
    """The window closed without an answer."""


class Happened(Noun):
    """An incident."""

    what: Literal["incident"] = "incident"
    criterion: Slug
    student: StudentCode | None = None
    note: Text | None = None
    at: Elapsed | None = None


class Wrote(Noun):
    """A note beside the marks."""

    what: Literal["note"] = "note"
    text: Text
    at: Elapsed | None = None


class Stopped(Noun):
    """The lesson ended."""

    what: Literal["stop"] = "stop"
    at: Elapsed | None = None


class Timed(Noun):
    """When that entry happened."""

    what: Literal["time"] = "time"
    of: Count
    at: Elapsed


class Left(Noun):
    """A question left open for now; nothing is filled in for it."""

    what: Literal["left"] = "left"
    about: Line
    """`rating:ID`, `log:S1:SKILL`, `look:7`, or `try:12:ID` with the number of the try."""


class Reopened(Noun):
    """What was left open is asked again."""

    what: Literal["reopened"] = "reopened"


class TimesAsked(Noun):
    """From here on the clock counts for nothing and times are asked."""

    what: Literal["times-asked"] = "times-asked"


class Undone(Noun):
    """That entry no longer counts."""

    what: Literal["undo"] = "undo"
    of: Count


class Signed(Noun):
    """The assessor signed."""

    what: Literal["signed"] = "signed"
    reason: Text | None = None
    """Why it was signed with questions open."""


Event = Annotated[
    Class
    | Joined
    | Taught
    | Logged
    | Rated
    | Begun
    | Tried
    | Completed
    | Answered
    | Chosen
    | Repeated
    | Looked
    | Happened
    | Wrote
    | Stopped
    | Timed
    | Left
    | Reopened
    | TimesAsked
    | Undone
    | Signed,
    Field(discriminator="what"),
]


class Entry(Noun):
    """One line of a draft."""

    n: Count
    """Counts from 1; an undo points at it."""
    when: Moment
    """By the clock of the machine."""
    event: Event


HEAD: TypeAdapter[Opened] = TypeAdapter(Opened)
ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)

_STAYS = (Begun, Undone, TimesAsked, Reopened)


def can_be_undone(event: Event) -> bool:
    """Whether an undo may point at it: not at the begin, nor at a look the clock closed."""
    return not isinstance(event, _STAYS) and not (isinstance(event, Looked) and event.by_clock)
