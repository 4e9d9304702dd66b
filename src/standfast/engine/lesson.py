"""A sheet beside the rubric and the syllabus that it is held to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from standfast.model.evidence import Attempt
from standfast.model.rubric import AttemptsCriterion, IncidentCriterion, Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus
from standfast.problems import Fault, Path, nearest


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


def clock(second: int) -> str:
    """A time since the lesson began as a sheet writes it: `12:30`, `1:02:30`."""
    hours, rest = divmod(second, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def unknown(path: Path, kind: str, wanted: str, known: Iterable[str]) -> Fault:
    """There is no such thing; the cure names the nearest."""
    return Fault(path, f"no {kind} '{wanted}'", nearest(wanted, known))


def nothing_asks(path: Path, what: str) -> Fault:
    """The rubric has no criterion on these records."""
    return Fault(path, f"the rubric has no criterion on {what}", "leave them out")
