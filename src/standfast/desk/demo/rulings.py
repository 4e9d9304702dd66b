"""What is ruled, appealed and answered in the invented school, so that there is some to look at."""

from __future__ import annotations

from datetime import date

from standfast.desk.appeals import answer, appeal
from standfast.desk.awards import how_it_stands
from standfast.desk.demo.careers import CERTIFIERS, TRAPEZE, Life
from standfast.desk.opening import Desk
from standfast.desk.rulings import rule
from standfast.model.award import Award
from standfast.problems import Refused

SKILL = "knee-hang-rise"
HEARING = (*CERTIFIERS, "ruben-van-den-oetelaar")
REDUCED, FIRST_APPEAL = date(2026, 9, 28), date(2026, 10, 5)
ANSWERED, SECOND_APPEAL = date(2026, 10, 27), date(2026, 11, 9)


def ruled() -> Life:
    """One award loses a skill; one appeal is answered, another is open on the last day."""
    desk = yield REDUCED
    reduced = _reduced(desk)
    desk = yield FIRST_APPEAL
    first = _against_a_fail(desk)
    desk = yield ANSWERED
    if first:
        _answered(desk, first)
    desk = yield SECOND_APPEAL
    if reduced:
        because = "the skill was taught well on the last two days, and nobody asked to see it"
        appeal(desk, reduced.candidate, reduced.number, because)


def _reduced(desk: Desk) -> Award | None:
    """The newest current award of the trapeze, without one skill from now on."""
    for one in reversed(desk.book.awards()):
        award = one.award
        if award.rubric.id == TRAPEZE and how_it_stands(desk, award).state == "current":
            because = "the holder's shoulder is being treated, and this spot needs both arms high"
            rule(desk, award.number, "reduced", CERTIFIERS[0], because, [SKILL])
            return award
    return None


def _against_a_fail(desk: Desk) -> str | None:
    """The number of an appeal against the newest fail."""
    for one in reversed(desk.book.decisions()):
        if one.decision.outcome == "fail":
            because = "two tries of one student were counted that were stopped by the music"
            return appeal(desk, one.decision.candidate, one.entry, because).listed.appeal.number
    return None


def _answered(desk: Desk, number: str) -> None:
    """By the first who took no part."""
    because = "the notes of both assessors say that the music went on during these tries"
    for decider in HEARING:
        try:
            answer(desk, number, decider, "not upheld", because)
        except Refused:
            continue
        return
