"""One appeal or complaint with all that belongs to it, and what there is to object to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from standfast.desk.appeals import (
    NOT_YET,
    Listed,
    Target,
    against,
    appealed,
    appeals,
    complained,
    find_appeal,
    listed,
    matter_of,
    new_appeal,
    steps_after,
    story_of,
    why_not_filed,
)
from standfast.desk.awards import not_ahead
from standfast.desk.history import Told, told_of
from standfast.desk.opening import Desk
from standfast.desk.people import name_of, person
from standfast.engine.appeals import answer_objections
from standfast.model.appeal import AppealKind
from standfast.model.decision import OUTCOME_WORDS, Decision
from standfast.problems import Refused


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
    return (
        *answer_objections(matter, who, desk.today, kept.answer),
        *_ahead(desk),
    )


def _ahead(desk: Desk) -> tuple[str, ...]:
    try:
        not_ahead(desk, NOT_YET)
    except Refused as error:
        return tuple(error.reasons or [error.what])
    return ()


def appeals_about(desk: Desk, who: str) -> tuple[Listed, ...]:
    """The appeals and complaints about that person; open ones first."""
    return tuple(one for one in appeals(desk) if one.appeal.about == who)


@dataclass(frozen=True)
class Choice:
    """Something that somebody may appeal against or complain about."""

    id: str
    """As `appeal` and `complain` take it."""
    words: str
    of: date
    why_not: tuple[str, ...] = ()
    """Why it cannot be entered now; of a complaint only what holds whoever complains."""


def choices(desk: Desk, kind: AppealKind, who: str) -> tuple[Choice, ...]:
    """What that person may appeal against, or what of theirs one may complain about; newest first.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    about = person(desk, who).id
    found = _appealable(desk, about) if kind == "appeal" else _complainable(desk, about)
    return tuple(sorted(found, key=lambda one: one.of, reverse=True))


def _appealable(desk: Desk, who: str) -> Iterator[Choice]:
    for kept in desk.book.awards(who, past=True):
        number = kept.award.number
        yield _choice(desk, number, "appeal", who, appealed(desk, who, number))
        for ruled in desk.book.kept_rulings(kept.award.id):
            yield _choice(desk, ruled.entry, "appeal", who, appealed(desk, who, ruled.entry))
    for made in desk.book.decisions(who):
        one = _choice(desk, made.entry, "appeal", who, appealed(desk, who, made.entry))
        yield replace(one, words=f"{one.words}: {OUTCOME_WORDS[made.decision.outcome]}")


def _complainable(desk: Desk, who: str) -> Iterator[Choice]:
    yield _choice(desk, who, "complaint", None, complained(desk, who))
    for kept in desk.book.awards(who):
        number = kept.award.number
        yield _choice(desk, number, "complaint", None, complained(desk, number))
    for practical in dict.fromkeys(one.sheet.practical for one in desk.book.sheets(who)):
        yield _choice(desk, practical, "complaint", None, complained(desk, practical))


def _choice(desk: Desk, wanted: str, kind: AppealKind, by: str | None, to: Target) -> Choice:
    new = new_appeal(desk, kind, by, to, "asked before", desk.new_key())
    why_not = why_not_filed(desk, new, to.of) if kind == "appeal" else ()
    return Choice(wanted, against(desk, new), to.of or date.max, why_not)
