"""How the invented school keeps its assessors in step: reference practicals each January."""

from __future__ import annotations

from datetime import date, timedelta

from standfast.desk.demo.careers import CERTIFIERS, EYES, Life
from standfast.desk.opening import Desk
from standfast.desk.references import score_reference
from standfast.model.people import Person

YEARS = (2024, 2025, 2026)
THURSDAY = 3


def januaries() -> Life:
    """Every year on the second Thursday of January each assessor scores one for each rubric."""
    for year in YEARS:
        first = date(year, 1, 1)
        until_thursday = timedelta(days=(THURSDAY - first.weekday()) % 7)
        desk = yield first + until_thursday + timedelta(weeks=1)
        for assessor in desk.book.approved():
            if assessor.id in EYES:
                _score_all(desk, assessor)


def _score_all(desk: Desk, assessor: Person) -> None:
    for approval in assessor.scores:
        certifier = _certifier(desk, assessor, approval.rubric)
        if approval.covers(desk.today) and certifier:
            score_reference(
                desk,
                assessor.id,
                approval.rubric,
                f"reference-{desk.today.year}",
                "in step",
                certifier,
                "marks as agreed for the recorded lesson (invented)",
            )


def _certifier(desk: Desk, assessor: Person, rubric: str) -> str | None:
    """The first who may certify that rubric and is somebody else."""
    able = {p.id for p in desk.book.approved() if p.may_certify(rubric, desk.today)}
    return next((one for one in CERTIFIERS if one in able - {assessor.id}), None)
