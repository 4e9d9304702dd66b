"""One appeal or complaint with all that belongs to it, and what there is to object to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from standfast.desk.appeals import (
    Listed,
    against,
    appealed,
    complained,
    find_appeal,
    listed,
    matter_of,
    new_appeal,
    steps_after,
    story_of,
    why_not_filed,
)
from standfast.desk.history import Told, told_of
from standfast.desk.opening import Desk
from standfast.desk.people import name_of, person
from standfast.engine.appeals import answer_objections
from standfast.model.appeal import AppealKind
from standfast.model.decision import OUTCOME_WORDS, Decision


@dataclass(frozen=True)
class Hearing:
    """An appeal or a complaint as it stands on a day."""

    listed: Listed
    filed_by: str
    """A name, or `somebody from outside`."""
    answered_by: str
    """A name; empty until it is answered."""
    award: str
    """The number of the award that it is about; empty when it is about none."""
    decision: Decision | None
    """The decision that it is against."""
    story: tuple[Told, ...]
    may_answer: tuple[str, ...]
    """Names of everybody who may answer it on that day."""
    next_steps: tuple[str, ...]
    """What to do; none until it is answered."""


def hearing(desk: Desk, number: str) -> Hearing:
    """The appeal or complaint of that number.

    Raises:
        NotFound: there is none.
    """
    kept = find_appeal(desk, number)
    one, given, matter = kept.appeal, kept.answer, matter_of(desk, kept.appeal)
    made = desk.book.find_decision(one.decision) if one.decision else None
    may = [
        who.name
        for who in desk.book.people()
        if not answer_objections(matter, who, desk.today, given)
    ]
    return Hearing(
        listed(desk, one, given),
        name_of(desk, one.by) if one.by else "somebody from outside",
        name_of(desk, given.by) if given else "",
        matter.award.number if matter.award and one.award else "",
        made.decision if made else None,
        told_of(desk, story_of(desk, matter)),
        tuple(sorted(may, key=str.casefold)),
        steps_after(desk, matter, kept, given) if given else (),
    )


def why_no_answer(desk: Desk, number: str, decider: str) -> tuple[str, ...]:
    """Every reason for which `answer` would refuse now; none when it would enter one.

    Raises:
        NotFound: no such appeal, or nobody of that slug is in the book.
    """
    kept = find_appeal(desk, number)
    matter, who = matter_of(desk, kept.appeal), person(desk, decider)
    return answer_objections(matter, who, desk.today, kept.answer)


@dataclass(frozen=True)
class Choice:
    """Something that somebody may appeal against or complain about."""

    id: str
    """As `appeal` and `complain` take it."""
    words: str
    of: date
    why_not: tuple[str, ...]
    """Why no appeal against it can be entered now."""


def choices(desk: Desk, kind: AppealKind, who: str) -> tuple[Choice, ...]:
    """What that person may appeal against, or what of theirs one may complain about; newest first.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    about = person(desk, who).id
    wanted = _appealable(desk, about) if kind == "appeal" else _complainable(desk, about)
    found = [_choice(desk, kind, about, one) for one in wanted]
    return tuple(sorted(found, key=lambda one: one.of, reverse=True))


def _appealable(desk: Desk, who: str) -> Iterator[str]:
    """Awards, what was ruled of each, and decisions."""
    for kept in desk.book.awards(who, past=True):
        yield kept.award.number
        yield from (one.entry for one in desk.book.kept_rulings(kept.award.id))
    yield from (one.entry for one in desk.book.decisions(who))


def _complainable(desk: Desk, who: str) -> Iterator[str]:
    """The person, awards that stand, and practicals."""
    yield who
    yield from (one.award.number for one in desk.book.awards(who))
    yield from dict.fromkeys(one.sheet.practical for one in desk.book.sheets(who))


def _choice(desk: Desk, kind: AppealKind, who: str, wanted: str) -> Choice:
    own = kind == "appeal"
    to = appealed(desk, who, wanted) if own else complained(desk, wanted)
    new = new_appeal(desk, kind, who if own else None, to, "asked before", desk.new_key())
    made = desk.book.find_decision(to.decision) if to.decision else None
    words = against(desk, new) + (f": {OUTCOME_WORDS[made.decision.outcome]}" if made else "")
    return Choice(wanted, words, to.of or date.max, why_not_filed(desk, new, to.of) if own else ())
