"""What is tapped beside the mat: one immutable record for each tap; state is a replay of them.

A record is made on the device, with its own id, and never changed: taking back is a record too.
`t` is whole seconds since the lesson began.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, StringConstraints, model_validator

from standfast.model.base import (
    Count,
    Hash,
    Key,
    Line,
    Moment,
    Noun,
    PersonId,
    Slug,
    StudentCode,
    Text,
    Whole,
)
from standfast.model.evidence import Answer, Choice

Instant = Annotated[
    str,
    StringConstraints(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,9})?(Z|[+-]\d\d:\d\d)$"),
]
"""As the device wrote it; its clock may be wrong."""

Second = Annotated[int, Field(strict=True, ge=0, le=86_400)]


class AsWritten(Noun):
    """What is kept as it was written, to the last space: what is signed is a hash of it."""

    model_config = ConfigDict(str_strip_whitespace=False)


class Brought(AsWritten):
    """A student in the lesson, and what she had done unassisted before."""

    student: StudentCode
    log: dict[Slug, Whole] = Field(default_factory=dict)


class Begin(AsWritten):
    """The lesson begins: whose, by whom, under which rubric."""

    kind: Literal["begin"]
    practical: Slug
    rubric: Slug
    rubric_version: Count
    candidate: PersonId
    assessor: PersonId
    began: Moment
    students: tuple[Brought, ...]
    site: Line | None = None
    covers: tuple[Slug, ...] = ()


class Mended(AsWritten):
    """Name, start and place of the lesson said anew; the last one counts, not what began it."""

    kind: Literal["mended"]
    practical: Slug
    began: Moment
    site: Line | None = None


class Mark(AsWritten):
    """One question of one try."""

    kind: Literal["mark"]
    try_: Annotated[Count, Field(alias="try")]
    t: Second
    student: StudentCode
    skill: Slug
    criterion: Slug
    answer: Answer


class Failed(AsWritten):
    """The student did not complete the skill in that try."""

    kind: Literal["failed"]
    try_: Annotated[Count, Field(alias="try")]
    t: Second


class Unassisted(AsWritten):
    """One unassisted repetition; it adds to the student's log."""

    kind: Literal["unassisted"]
    t: Second
    student: StudentCode
    skill: Slug


class Cleared(AsWritten):
    """A student was let go, or held back."""

    kind: Literal["clearance"]
    t: Second
    student: StudentCode
    skill: Slug
    choice: Choice


class Look(AsWritten):
    """A look at those who wait; both numbers empty when it was due and missed."""

    kind: Literal["look"]
    look: Count
    t: Second
    waiting: Whole | None = None
    idle: Whole | None = None

    @model_validator(mode="after")
    def _both_or_none(self) -> Look:
        if (self.waiting is None) != (self.idle is None):
            raise ValueError("waiting and idle come together, or neither when the look was missed")
        if self.waiting is not None and self.idle is not None and self.idle > self.waiting:
            raise ValueError(f"{self.idle} idle of {self.waiting} waiting")
        return self


class Rated(AsWritten):
    """A level, none when it was not seen; a later one of the same criterion takes its place."""

    kind: Literal["rating"]
    criterion: Slug
    level: Count | None = None
    note: Text | None = None


class Happened(AsWritten):
    """An incident."""

    kind: Literal["incident"]
    t: Second
    criterion: Slug
    student: StudentCode | None = None
    note: Text | None = None


class Written(AsWritten):
    """A note beside the marks."""

    kind: Literal["note"]
    t: Second | None = None
    text: Text


class Undo(AsWritten):
    """That record no longer counts."""

    kind: Literal["undo"]
    of: Key


class Stop(AsWritten):
    """The lesson is stopped; with a criterion that is an incident too."""

    kind: Literal["stop"]
    t: Second
    criterion: Slug | None = None
    student: StudentCode | None = None
    note: Text | None = None


class Resume(AsWritten):
    """It goes on."""

    kind: Literal["resume"]
    t: Second


class End(AsWritten):
    """It is over."""

    kind: Literal["end"]
    t: Second


class Reason(AsWritten):
    """Why it is signed with points open."""

    kind: Literal["reason"]
    text: Text


class Sign(AsWritten):
    """The assessor signs so many records, whose content has this hash."""

    kind: Literal["sign"]
    count: Count
    sha256: Hash


class Reopen(AsWritten):
    """A signed sheet that the record book could not take is opened again, to be mended."""

    kind: Literal["reopened"]


Tap = Annotated[
    Begin
    | Mended
    | Mark
    | Failed
    | Unassisted
    | Cleared
    | Look
    | Rated
    | Happened
    | Written
    | Undo
    | Stop
    | Resume
    | End
    | Reason
    | Sign
    | Reopen,
    Field(discriminator="kind"),
]


class Record(AsWritten):
    """One tap, as the device keeps it."""

    id: Key
    sheet: Key
    n: Count
    """The number in its sheet, from 1."""
    at: Instant
    """When, by the clock of the device."""
    body: Tap
