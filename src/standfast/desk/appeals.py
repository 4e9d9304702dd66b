"""Filing and answering appeals and complaints, and which of them are open."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING
from uuid import NAMESPACE_URL, uuid5

from standfast.desk.awards import not_ahead
from standfast.desk.opening import Desk
from standfast.desk.people import check_because, name_of, person
from standfast.desk.upheld import against_reduction, against_stop
from standfast.engine.appeals import (
    Matter,
    answer_objections,
    days_left,
    filing_objections,
    next_steps,
)
from standfast.model.appeal import Answer, Appeal, AppealKind, AppealOutcome
from standfast.model.award import Award
from standfast.model.people import Person
from standfast.model.sheet import Sheet
from standfast.problems import NotFound, Refused

if TYPE_CHECKING:
    from standfast.files.calendar import Day
    from standfast.store.appeals import KeptAppeal


NOT_YET = "what was received or answered is entered on its day or later"


@dataclass(frozen=True)
class Listed:
    """An appeal or complaint as it stands on a day."""

    appeal: Appeal
    answer: Answer | None
    """Given by that day."""
    about: str
    """The name of whom it is about."""
    against: str
    days_left: int
    """For the answer; below 0 when it is overdue."""

    @property
    def state(self) -> str:
        """Open, overdue, upheld or not upheld."""
        if self.answer:
            return self.answer.outcome
        return "overdue" if self.days_left < 0 else "open"


@dataclass(frozen=True)
class Filed:
    """An appeal or complaint that is in the book."""

    listed: Listed
    entry: str


@dataclass(frozen=True)
class Answered:
    """An appeal or complaint that was answered, and what to do next."""

    listed: Listed
    decider: Person
    entry: str
    next_steps: tuple[str, ...]


@dataclass(frozen=True)
class _Target:
    """What an appeal or a complaint is against."""

    about: str
    of: date | None = None
    decision: str | None = None
    award: str | None = None
    ruling: str | None = None
    practical: str | None = None


def appeal(desk: Desk, who: str, against: str, because: str) -> Filed:
    """Enters an appeal, received on the desk's day.

    `against` is a certificate's number, the entry of a decision or ruling, or a rubric's id: then
    the newest decision under it.

    Raises:
        NotFound: no such person, or nothing of theirs is called so.
        Refused: every reason why it cannot be filed.
        StandfastError: no words why, or too many; so also for a complaint and an answer.
    """
    filer = person(desk, who)
    with desk.book.together():
        return _file(desk, "appeal", filer.id, _appealed(desk, filer.id, against), because)


def complain(desk: Desk, about: str, who: str | None, because: str) -> Filed:
    """Enters a complaint, received on the desk's day, from a person of the book or from outside.

    `about` is a person, a certificate's number, or the short name of a practical.

    Raises:
        NotFound: no such person, award or practical.
        Refused: every reason why it cannot be filed.
    """
    filer = person(desk, who).id if who else None
    with desk.book.together():
        return _file(desk, "complaint", filer, _complained(desk, about), because)


def _appealed(desk: Desk, who: str, against: str) -> _Target:
    if kept := desk.book.find_award(against):
        return _Target(kept.award.candidate, kept.award.granted, award=kept.award.id)
    if made := desk.book.find_decision(against):
        return _Target(made.decision.candidate, made.decision.on, decision=made.entry)
    if (ruling := desk.book.find_ruling(against)) and (kept := desk.book.find_award(ruling.award)):
        return _Target(kept.award.candidate, ruling.on, award=ruling.award, ruling=against)
    under = [one for one in desk.book.decisions(who, against) if one.decision.on <= desk.today]
    if under:
        return _Target(who, under[-1].decision.on, decision=under[-1].entry)
    known = [one.award.number for one in desk.book.awards(who, past=True)]
    known += [one.decision.rubric.id for one in desk.book.decisions(who)]
    raise NotFound(f"award or decision of {who}", against, known)


def _complained(desk: Desk, about: str) -> _Target:
    if kept := desk.book.find_award(about):
        return _Target(kept.award.candidate, kept.award.granted, award=kept.award.id)
    if sheets := desk.book.sheets(practical=about):
        first = sheets[0].sheet
        return _Target(first.candidate, first.on, practical=about)
    if found := desk.book.find_person(about):
        return _Target(found.id)
    known = [one.id for one in desk.book.people()]
    known += [one.award.number for one in desk.book.awards()]
    raise NotFound("person, certificate or practical", about, known)


def _file(desk: Desk, kind: AppealKind, by: str | None, to: _Target, because: str) -> Filed:
    not_ahead(desk, NOT_YET)
    check_because(desk, because)
    new = Appeal(
        id=desk.new_key(),
        number=_number(desk, kind),
        kind=kind,
        received=desk.today,
        due_by=desk.today + timedelta(days=desk.school.appeal_days),
        by=by,
        about=to.about,
        decision=to.decision,
        award=to.award,
        ruling=to.ruling,
        practical=to.practical,
        because=because,
    )
    earlier = [(one.appeal, one.answer) for one in desk.book.appeals(to.about)]
    if found := filing_objections(new, to.of, earlier):
        raise Refused(f"no {kind} was entered on {desk.today}:", found)
    entry = desk.book.put_appeal(new, desk.stamp())
    return Filed(_listed(desk, new, None), entry.id)


def _number(desk: Desk, kind: AppealKind) -> str:
    stem = f"{kind}-{desk.today.year}-"
    numbers = [one.appeal.number for one in desk.book.appeals()]
    taken = [int(n.removeprefix(stem)) for n in numbers if n.startswith(stem)]
    return f"{stem}{max(taken, default=0) + 1}"


def answer(desk: Desk, wanted: str, decider: str, outcome: AppealOutcome, because: str) -> Answered:
    """Enters the answer to an appeal or a complaint, given on the desk's day.

    Raises:
        NotFound: no such appeal or person.
        Refused: every reason why this person may not answer, or not now.
    """
    not_ahead(desk, NOT_YET)
    check_because(desk, because)
    with desk.book.together():
        kept = desk.book.find_appeal(wanted)
        if kept is None:
            known = [one.appeal.number for one in desk.book.appeals()]
            raise NotFound("appeal or complaint", wanted, known)
        who, matter = person(desk, decider), _matter(desk, kept.appeal)
        if found := answer_objections(matter, who, desk.today, kept.answer):
            raise Refused(f"{decider} cannot answer {kept.appeal.number}:", found)
        given = Answer(
            appeal=kept.appeal.id, by=who.id, on=desk.today, outcome=outcome, because=because
        )
        entry = desk.book.put_answer(given, desk.stamp())
        steps = _next_steps(desk, matter, kept, given)
        return Answered(_listed(desk, kept.appeal, given), who, entry.id, steps)


def _matter(desk: Desk, about: Appeal) -> Matter:
    """Everybody who had a part in what it is about."""
    matter = Matter(about, person(desk, about.about), person(desk, about.by) if about.by else None)
    if about.practical:
        return _of_practical(desk, matter, about.practical)
    award = _award(desk, about)
    decision = about.decision or (award.decision if award else None)
    return replace(
        matter,
        sheets=evidence(desk, decision) if decision else (),
        award=award,
        rulings=desk.book.rulings(award.id) if award else (),
        since=_day_of(desk, about, award),
    )


def _of_practical(desk: Desk, matter: Matter, practical: str) -> Matter:
    """With its sheets, and every award that rests on one of them."""
    found = desk.book.sheets(practical=practical, superseded=True)
    sheets = tuple(one.sheet for one in found)
    ids = {sheet.id for sheet in sheets}
    own = [one.award for one in desk.book.awards(matter.about.id, past=True)]
    resting = tuple(a for a in own if ids & {sheet.id for sheet in evidence(desk, a.decision)})
    return replace(
        matter,
        sheets=sheets,
        resting=resting,
        rulings=tuple(ruling for award in resting for ruling in desk.book.rulings(award.id)),
        since=min(sheet.on for sheet in sheets),
    )


def _day_of(desk: Desk, about: Appeal, award: Award | None) -> date | None:
    """The day of the decision, ruling or award that it is against."""
    made = desk.book.find_decision(about.decision) if about.decision else None
    ruling = desk.book.find_ruling(about.ruling) if about.ruling else None
    if made:
        return made.decision.on
    if ruling:
        return ruling.on
    return award.granted if award else None


def _award(desk: Desk, about: Appeal) -> Award | None:
    """The award that it is against, or that rests on the decision that it is against."""
    if about.award:
        kept = desk.book.find_award(about.award)
        return kept.award if kept else None
    own = desk.book.awards(about.about, past=True) if about.decision else ()
    return next((one.award for one in own if one.award.decision == about.decision), None)


def evidence(desk: Desk, decision: str) -> tuple[Sheet, ...]:
    """Every sheet that was handed in for the decision, counted or not."""
    made = desk.book.find_decision(decision)
    found = [desk.book.find_sheet(sheet) for sheet in made.inputs.sheets] if made else []
    return tuple(one.sheet for one in found if one)


def _next_steps(desk: Desk, matter: Matter, kept: KeptAppeal, given: Answer) -> tuple[str, ...]:
    award = matter.award
    stopped = award is not None and against_stop(desk, kept, award)
    reduced = award is not None and against_reduction(desk, kept, award)
    return tuple(next_steps(matter, given, stopped=stopped, reduced=reduced))


def appeals(desk: Desk) -> tuple[Listed, ...]:
    """Every appeal and complaint received by the desk's day; open ones first, the soonest first."""
    found = []
    for one in desk.book.appeals():
        given = one.answer if one.answer and one.answer.on <= desk.today else None
        if one.appeal.received <= desk.today:
            found.append(_listed(desk, one.appeal, given))
    return tuple(sorted(found, key=lambda one: (one.answer is not None, one.appeal.due_by)))


def waiting(desk: Desk) -> dict[str, list[Listed]]:
    """The appeals and complaints without an answer: those that are overdue, and those open."""
    unanswered = [one for one in appeals(desk) if one.answer is None]
    states = dict.fromkeys(one.state for one in unanswered)
    return {state: [one for one in unanswered if one.state == state] for state in states}


def answer_days(desk: Desk, last: date) -> list[Day]:
    """The last days, up to that one, of what waits for an answer; for a calendar, naming nobody."""
    from standfast.files.calendar import Day

    school = desk.school.id
    return [
        Day(
            f"{uuid5(NAMESPACE_URL, f'{school}|{one.appeal.id}|answer')}@{school}",
            one.appeal.due_by,
            f"{one.appeal.number}: answer",
            "The last day for the answer, given by somebody who took no part.",
        )
        for one in appeals(desk)
        if one.answer is None and one.appeal.due_by <= last
    ]


def _listed(desk: Desk, one: Appeal, given: Answer | None) -> Listed:
    left = days_left(one, desk.today)
    return Listed(one, given, name_of(desk, one.about), against(desk, one), left)


def against(desk: Desk, one: Appeal) -> str:
    """What it is against, in words; a person is named elsewhere."""
    if one.practical:
        return f"practical {one.practical}"
    if one.award:
        kept, ruling = desk.book.find_award(one.award), desk.book.find_ruling(one.ruling or "")
        number = kept.award.number if kept else one.award
        return f"{number}, {ruling.kind} on {ruling.on}" if ruling else f"award {number}"
    made = desk.book.find_decision(one.decision) if one.decision else None
    if made:
        return f"decision of {made.decision.on} under {made.decision.rubric.id}"
    return "the person"
