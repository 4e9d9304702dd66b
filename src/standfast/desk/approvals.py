"""How approvals to score and to certify stand on a day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from standfast.desk.opening import Desk
from standfast.engine.approvals import approval_standing, approvals_of
from standfast.model.approval import ApprovalStanding
from standfast.model.people import Person


@dataclass(frozen=True)
class Approved:
    """A person with an approval, and how it stands."""

    person: Person
    standing: ApprovalStanding


def approvals(desk: Desk, whose: str | None = None) -> tuple[Approved, ...]:
    """How every approval stands on the desk's day, of that person or everybody, by name."""
    references = desk.book.references()
    every, on = desk.school.reference_every, desk.today
    return tuple(
        Approved(who, approval_standing(who, rubric, references, every, on, role=role))
        for who in sorted(desk.book.approved(), key=lambda who: (who.name, who.id))
        if whose in {None, who.id}
        for role, rubric in approvals_of(who)
    )


def may_score_on(desk: Desk, rubric: str, on: date) -> tuple[Person, ...]:
    """Who may score under that rubric on that day, by name."""
    found = (
        who
        for who in desk.book.approved()
        if who.may_score(rubric, on) and not approval_of(desk, who, rubric, on).by_reference
    )
    return tuple(sorted(found, key=lambda who: (who.name, who.id)))


def approval_of(desk: Desk, assessor: Person, rubric: str, on: date) -> ApprovalStanding:
    """How that assessor's approval to score the rubric stands on that day."""
    references = desk.book.references(assessor.id)
    return approval_standing(assessor, rubric, references, desk.school.reference_every, on)
