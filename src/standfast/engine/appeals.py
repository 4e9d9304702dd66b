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
from standfast.model.award import Award, Ruling, Standing
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
    rulings: Sequence[Ruling] = ()
    """What was ruled of the award."""


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
            f"{decider.id} may not answer appeals or complaints on {on}; give them a 'certifies' or"
            " a 'hears_appeals' line in the people file"
        )
    found += [
        f"{decider.id} {part}; somebody who took no part must answer"
        for part in parts_taken(matter, decider, on)
    ]
    return tuple(found)


def parts_taken(matter: Matter, decider: Person, on: date) -> Iterator[str]:
    """Each part that a person had in the matter by that day, in words that follow a name."""
    appeal, about, award = matter.appeal, matter.about, matter.award
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
    if award and award.certifier == decider.id:
        yield f"confirmed {award.number}"
    if award and any(ruling.by == decider.id for ruling in matter.rulings):
        yield f"ruled on {award.number}"
    if tied(decider, about, on):
        yield f"has a recorded conflict of interest with whom the {appeal.kind} is about"
    if matter.filed_by and matter.filed_by.id != about.id and tied(decider, matter.filed_by, on):
        yield f"has a recorded conflict of interest with who filed the {appeal.kind}"


def next_steps(matter: Matter, answer: Answer, now: Standing | None, *, reduced: bool) -> list[str]:
    """What to do next; `now` is how the award stands, `reduced` whether its scope is."""
    appeal = matter.appeal
    steps = [f"tell who filed the {appeal.kind} the outcome and why"]
    if answer.outcome == "not upheld":
        return steps
    if appeal.kind == "complaint":
        return [*steps, "rule on the award, where it must be: suspend, reduce or withdraw"]
    if matter.award and now:
        number = matter.award.number
        if now.state in {"suspended", "withdrawn"}:
            steps.append(f"let the award count again: standfast reinstate {number}")
        if reduced:
            steps.append(f"give the scope back: standfast restore {number}")
    if len(steps) == 1:
        steps.append(
            "decide anew: a new practical scored by others, or a sheet that corrects a wrong one"
        )
    return steps


def days_left(appeal: Appeal, on: date) -> int:
    """How many days are left for the answer on that day; below 0 when it is overdue."""
    return (appeal.due_by - on).days
