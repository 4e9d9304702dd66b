"""Entering that an assessor scored a reference practical, which keeps an approval current."""

from __future__ import annotations

from dataclasses import dataclass

from standfast.desk.approvals import approval_of
from standfast.desk.awards import not_ahead
from standfast.desk.opening import Desk
from standfast.desk.people import check_because, person
from standfast.engine.approvals import reference_objections
from standfast.model.approval import ApprovalStanding, Calibration, ReferenceScore, Result
from standfast.model.people import Person
from standfast.problems import Refused


@dataclass(frozen=True)
class Scored:
    """A reference practical that is in the book, and how the approval stands since."""

    assessor: Person
    score: ReferenceScore
    standing: ApprovalStanding
    entry: str


def score_reference(
    desk: Desk,
    assessor: str,
    rubric: str,
    practical: str,
    result: Result,
    certifier: str,
    because: str,
    calibration: Calibration | None = None,
) -> Scored:
    """Enters that an assessor scored a reference practical on the desk's day.

    `calibration` is what the result was worked out from, when it was.

    Raises:
        NotFound: no such person.
        Refused: every reason why not: no approval under the rubric, a certifier who may not hold
            the result, a name in the practical's name or in the words why, or a day that has not
            come.
        StandfastError: no words why, or too many.
    """
    not_ahead(desk, "what was scored is entered on its day or later")
    check_because(desk, because)
    with desk.book.together():
        who, ruler = person(desk, assessor), person(desk, certifier)
        found = reference_objections(who, rubric, practical, ruler, desk.today)
        if found:
            what = f"no reference practical of {assessor} under {rubric} on {desk.today}:"
            raise Refused(what, found)
        score = ReferenceScore(
            assessor=who.id,
            rubric=rubric,
            practical=practical,
            on=desk.today,
            result=result,
            by=ruler.id,
            because=because,
            calibration=calibration,
        )
        entry = desk.book.put_reference(score, desk.stamp())
        return Scored(who, score, approval_of(desk, who, rubric, desk.today), entry.id)
