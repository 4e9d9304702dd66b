"""Whether an appeal may be filed, who may answer it, and what follows from the answer.

An answer by itself changes nothing: a ruling, a practical or a decision does.

Source: ISO/IEC 17024:2012, 9.8 and 9.9: who answers took no part in what is appealed against or
complained about (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from standfast.engine.impartiality import tied
from standfast.model.appeal import Answer, Appeal
from standfast.model.award import Award, Ruling
from standfast.model.people import Person
from standfast.model.sheet import Sheet


@dataclass(frozen=True)
class Matter:
    """An appeal or complaint, and everybody who had a part in what it is about."""

    appeal: Appeal
    about: Person
    filed_by: Person | None = None
    sheets: Sequence[Sheet] = ()
    """The evidence of the decision, or of the practical complained about."""
    award: Award | None = None
    """The award that it is against, or that rests on the decision that it is against."""
    resting: Sequence[Award] = ()
    """The awards that rest on the practical complained about."""
    rulings: Sequence[Ruling] = ()
    """What was ruled of these awards."""
    since: date | None = None
    """The day of what it is against; that of its receipt when that has none."""


def filing_objections(
    appeal: Appeal, of: date | None, earlier: Iterable[tuple[Appeal, Answer | None]]
) -> tuple[str, ...]:
    """Every reason why it cannot be filed; none when it can.

    `of` is the day of what it is against; `earlier` are the appeals and complaints about the same
    person, with their answers.
    """
    found = []
    own = appeal.by == appeal.about
    if appeal.kind == "appeal" and not own:
        found.append(
            f"{appeal.by} is not whom it was decided about; only they appeal, anybody may complain"
        )
    if appeal.kind == "complaint" and own and appeal.practical is None:
        found.append(f"{appeal.by} is whom it is about; against one's own award one appeals")
    if of is not None and of > appeal.received:
        found.append(f"it is against something of {of}, after the day {appeal.received}")
    found += [
        f"{old.number} says the same, and is open until {old.due_by}"
        for old, answer in earlier
        if answer is None and _same(old) == _same(appeal)
    ]
    return tuple(found)


def _same(appeal: Appeal) -> tuple[str | None, ...]:
    """What makes it the same matter by the same person."""
    parts = (appeal.decision, appeal.award, appeal.ruling, appeal.practical)
    return (appeal.kind, appeal.by, appeal.about, *parts)


def answer_objections(
    matter: Matter, decider: Person, on: date, answered: Answer | None = None
) -> tuple[str, ...]:
    """Every reason why this person may not answer on that day; none when they may."""
    appeal = matter.appeal
    found = []
    if answered is not None:
        found.append(f"{appeal.number} was answered already, on {answered.on}")
    if on < appeal.received:
        found.append(f"{appeal.number} was received on {appeal.received}, after {on}")
    if not decider.may_hear(on):
        found.append(
            f"{decider.id} may not answer appeals or complaints on {on}; give them a 'certifies'"
            " line in the people file, or one that they hear appeals"
        )
    found += [
        f"{decider.id} {part}; somebody who took no part must answer"
        for part in parts_taken(matter, decider, on)
    ]
    return tuple(found)


def parts_taken(matter: Matter, decider: Person, on: date) -> Iterator[str]:
    """Each part that a person had in the matter by that day, in words that follow a name.

    A conflict of interest counts that was there on any day from the matter's own to this one.
    """
    yield from _own_parts(matter, decider, on)
    yield from _ties(matter, decider, on)


def _own_parts(matter: Matter, decider: Person, on: date) -> Iterator[str]:
    appeal, about = matter.appeal, matter.about
    if decider.id == appeal.by:
        yield f"filed the {appeal.kind}"
    if decider.id == about.id:
        yield "is whom it is about"
    if any(tie.trainer == decider.id and tie.since <= on for tie in about.trained_by):
        yield f"trained whom the {appeal.kind} is about"
    if any(sheet.assessor == decider.id for sheet in matter.sheets):
        yield "scored the evidence"
    if any(sheet.candidate == decider.id for sheet in matter.sheets) and decider.id != about.id:
        yield "taught the practical"
    for award in filter(None, (matter.award, *matter.resting)):
        if award.certifier == decider.id:
            yield f"confirmed {award.number}"
        if any(one.award == award.id and one.by == decider.id for one in matter.rulings):
            yield f"ruled on {award.number}"


def _ties(matter: Matter, decider: Person, on: date) -> Iterator[str]:
    appeal, about = matter.appeal, matter.about
    first = min(matter.since or appeal.received, appeal.received)
    if tied(decider, about, first, on):
        yield f"has a recorded conflict of interest with whom the {appeal.kind} is about"
    filer = matter.filed_by
    if filer and filer.id != about.id and tied(decider, filer, first, on):
        yield f"has a recorded conflict of interest with who filed the {appeal.kind}"


def is_against(appeal: Appeal, ruling: Ruling, entry: str) -> bool:
    """Whether it is an appeal against what was ruled in that entry: names it, or the award since.

    One against another ruling on the award, or against its decision, is not.
    """
    return (
        appeal.kind == "appeal"
        and appeal.award == ruling.award
        and appeal.ruling in {None, entry}
        and ruling.on <= appeal.received
    )


def next_steps(matter: Matter, answer: Answer, *, stopped: bool, reduced: bool) -> list[str]:
    """What to do next.

    `stopped` and `reduced` say whether what it is against stops the award now, or reduces its
    scope.
    """
    appeal = matter.appeal
    steps = [f"tell who filed the {appeal.kind} the outcome and why"]
    if answer.outcome == "not upheld":
        return steps
    if appeal.kind == "complaint":
        return [*steps, "rule on the award, where it must be: suspend, reduce or withdraw"]
    number = matter.award.number if matter.award else ""
    if stopped:
        steps.append(f"let the award count again: reinstate {number}")
    if reduced:
        steps.append(f"give back all that was taken from the scope: restore {number}")
    if len(steps) == 1:
        steps.append(
            "decide anew: a new practical scored by others, or a sheet that corrects a wrong one"
        )
    return steps


def days_left(appeal: Appeal, on: date) -> int:
    """How many days are left for the answer on that day; below 0 when it is overdue."""
    return (appeal.due_by - on).days
