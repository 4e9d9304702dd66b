"""How approvals to score and to certify stand on a day."""

from __future__ import annotations

from dataclasses import dataclass

from standfast.desk.opening import Desk
from standfast.engine.approvals import approval_standing, approvals_of
from standfast.model.approval import ApprovalStanding
from standfast.model.people import Person
from standfast.model.sheet import Sheet


@dataclass(frozen=True)
class Approved:
    """A person with an approval, and how it stands."""

    person: Person
    standing: ApprovalStanding


def approvals(desk: Desk) -> tuple[Approved, ...]:
    """How every approval of everybody stands on the desk's day, by name."""
    references = desk.book.references()
    every, on = desk.school.reference_every, desk.today
    return tuple(
        Approved(who, approval_standing(who, rubric, references, every, on, role=role))
        for who in sorted(desk.book.approved(), key=lambda who: (who.name, who.id))
        for role, rubric in approvals_of(who)
    )


def approval_of(desk: Desk, assessor: Person, rubric: str) -> ApprovalStanding:
    """How that assessor's approval to score the rubric stands on the desk's day."""
    references = desk.book.references(assessor.id)
    return approval_standing(assessor, rubric, references, desk.school.reference_every, desk.today)


def approval_for(desk: Desk, sheet: Sheet, assessor: Person) -> ApprovalStanding:
    """How the approval of the sheet's assessor stood on the day of the lesson."""
    references = desk.book.references(assessor.id)
    every = desk.school.reference_every
    return approval_standing(assessor, sheet.rubric, references, every, sheet.on)
