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
    from standfast.store.bodies import Body
    from standfast.store.book import Event


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
class Target:
    """What an appeal or a complaint is against."""

    about: str
    of: date | None = None
    decision: str | None = None
    award: str | None = None
    ruling: str | None = None
    practical: str | None = None


def appeal(desk: Desk, who: str, against: str, because: str, key: str | None = None) -> Filed:
    """Enters an appeal, received on the desk's day.

    `against` is a certificate's number, the entry of a decision or ruling, or a rubric's id: then
    the newest decision under it.  `key` is its id, made with a form: a form that comes again,
    though it was answered meanwhile, gives what it entered; so also for a complaint.

    Raises:
        NotFound: no such person, or nothing of theirs is called so.
        Refused: every reason why it cannot be filed.
        StandfastError: no words why, or too many; so also for a complaint and an answer.
    """
    filer = person(desk, who)
    with desk.book.together():
        return _file(desk, "appeal", filer.id, appealed(desk, filer.id, against), because, key)


def complain(
    desk: Desk, about: str, who: str | None, because: str, key: str | None = None
) -> Filed:
    """Enters a complaint, received on the desk's day, from a person of the book or from outside.

    `about` is a person, a certificate's number, or the short name of a practical.

    Raises:
        NotFound: no such person, award or practical.
        Refused: every reason why it cannot be filed.
    """
    filer = person(desk, who).id if who else None
    with desk.book.together():
        return _file(desk, "complaint", filer, complained(desk, about), because, key)


def appealed(desk: Desk, who: str, against: str) -> Target:
    """What an appeal of that person is against, by what `appeal` takes.

    Raises:
        NotFound: nothing of theirs is called so.
    """
    if kept := desk.book.find_award(against):
        return Target(kept.award.candidate, kept.award.granted, award=kept.award.id)
    if made := desk.book.find_decision(against):
        return Target(made.decision.candidate, made.decision.on, decision=made.entry)
    if (ruling := desk.book.find_ruling(against)) and (kept := desk.book.find_award(ruling.award)):
        return Target(kept.award.candidate, ruling.on, award=ruling.award, ruling=against)
    under = [one for one in desk.book.decisions(who, against) if one.decision.on <= desk.today]
    if under:
        return Target(who, under[-1].decision.on, decision=under[-1].entry)
    known = [one.award.number for one in desk.book.awards(who, past=True)]
    known += [one.decision.rubric.id for one in desk.book.decisions(who)]
    raise NotFound(f"award or decision of {who}", against, known)


def complained(desk: Desk, about: str) -> Target:
    """What a complaint is about, by what `complain` takes.

    Raises:
        NotFound: no such person, award or practical.
    """
    if kept := desk.book.find_award(about):
        return Target(kept.award.candidate, kept.award.granted, award=kept.award.id)
    if sheets := desk.book.sheets(practical=about):
        first = sheets[0].sheet
        return Target(first.candidate, first.on, practical=about)
    if found := desk.book.find_person(about):
        return Target(found.id)
    known = [one.id for one in desk.book.people()]
    known += [one.award.number for one in desk.book.awards()]
    raise NotFound("person, certificate or practical", about, known)


def _file(
    desk: Desk, kind: AppealKind, by: str | None, to: Target, because: str, key: str | None
) -> Filed:
    not_ahead(desk, NOT_YET)
    check_because(desk, because)
    new = new_appeal(desk, kind, by, to, because, key or desk.new_key())
    if key and (kept := desk.book.find_appeal(key)):
        return _filed_before(desk, kept, new)
    if found := why_not_filed(desk, new, to.of):
        raise Refused(f"no {kind} was entered on {desk.today}:", found)
    entry = desk.book.put_appeal(new, desk.stamp())
    return Filed(listed(desk, new, None), entry.id)


def _filed_before(desk: Desk, kept: KeptAppeal, new: Appeal) -> Filed:
    """What was entered under the id of the new one, when it says the same.

    Raises:
        Refused: it says something else.
    """
    of_its_day = {"number", "received", "due_by"}
    if kept.appeal.model_dump(exclude=of_its_day) != new.model_dump(exclude=of_its_day):
        why = f"{kept.appeal.number} was entered with this form; open the page anew"
        raise Refused(f"no {new.kind} was entered on {desk.today}:", [why])
    return Filed(listed(desk, kept.appeal, kept.answer), kept.entry)


def new_appeal(
    desk: Desk, kind: AppealKind, by: str | None, to: Target, because: str, key: str
) -> Appeal:
    """It under the next number, received on the desk's day; nothing is entered."""
    return Appeal(
        id=key,
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


def why_not_filed(desk: Desk, new: Appeal, of: date | None) -> tuple[str, ...]:
    """Every reason why it cannot be filed; `of` is the day of what it is against."""
    earlier = [(one.appeal, one.answer) for one in desk.book.appeals(new.about)]
    return filing_objections(new, of, earlier)


def _number(desk: Desk, kind: AppealKind) -> str:
    stem = f"{kind}-{desk.today.year}-"
    numbers = [one.appeal.number for one in desk.book.appeals()]
    taken = [int(n.removeprefix(stem)) for n in numbers if n.startswith(stem)]
    return f"{stem}{max(taken, default=0) + 1}"


def answer(
    desk: Desk,
    wanted: str,
    decider: str,
    outcome: AppealOutcome,
    because: str,
    *,
    read: int | None = None,
) -> Answered:
    """Enters the answer to an appeal or a complaint, given on the desk's day.

    With `read`, how many entries of the matter (`story_of`) the decider was shown, nothing is
    answered after others; what she answered before in the same words is given as it stands.

    Raises:
        NotFound: no such appeal or person.
        Refused: every reason why this person may not answer, or not now.
    """
    not_ahead(desk, NOT_YET)
    check_because(desk, because)
    with desk.book.together():
        kept = find_appeal(desk, wanted)
        who, matter = person(desk, decider), matter_of(desk, kept.appeal)
        given = Answer(
            appeal=kept.appeal.id, by=who.id, on=desk.today, outcome=outcome, because=because
        )
        if read is not None and kept.answer and _same_answer(kept.answer, given):
            given = kept.answer
        elif found := _answer_objections(desk, matter, kept, who, read):
            raise Refused(f"{decider} cannot answer {kept.appeal.number}:", found)
        entry = desk.book.put_answer(given, desk.stamp())
        steps = steps_after(desk, matter, kept, given)
        return Answered(listed(desk, kept.appeal, given), who, entry.id, steps)


def _same_answer(one: Answer, other: Answer) -> bool:
    """Whether both say the same, on whatever day."""
    return one == other.model_copy(update={"on": one.on})


def _answer_objections(
    desk: Desk, matter: Matter, kept: KeptAppeal, who: Person, read: int | None
) -> tuple[str, ...]:
    found = answer_objections(matter, who, desk.today, kept.answer)
    if kept.answer is None and read not in {None, len(story_of(desk, matter))}:
        found += ("something was entered of it since the page was read; look at it again",)
    return found


def find_appeal(desk: Desk, wanted: str) -> KeptAppeal:
    """The appeal or complaint of that number.

    Raises:
        NotFound: there is none.
    """
    kept = desk.book.find_appeal(wanted)
    if kept is None:
        known = [one.appeal.number for one in desk.book.appeals()]
        raise NotFound("appeal or complaint", wanted, known)
    return kept


def story_of(desk: Desk, matter: Matter) -> tuple[Event, ...]:
    """The entries of the matter, in order: its evidence, decision, awards, receipt and answer."""
    awards = [one for one in (matter.award, *matter.resting) if one]
    named = {matter.appeal.id, matter.appeal.decision}
    named |= {one.id for one in matter.sheets}
    named |= {known for one in awards for known in (one.id, one.decision)}
    events = desk.book.history(matter.about.id)
    return tuple(one for one in events if one.id in named or _named_in(one.body) in named)


def _named_in(body: Body) -> str:
    """The id of the noun that such an entry brought, answered or ruled on; empty for another."""
    from standfast.store import bodies

    match body:
        case bodies.AppealAnswered(answer=given):
            return given.appeal
        case bodies.AwardRuled(ruling=ruling):
            return ruling.award
        case bodies.AppealFiled(appeal=filed):
            return filed.id
        case bodies.AwardGranted(award=award):
            return award.id
        case bodies.SheetTaken(sheet=sheet):
            return sheet.id
        case _:
            return ""


def matter_of(desk: Desk, about: Appeal) -> Matter:
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


def steps_after(desk: Desk, matter: Matter, kept: KeptAppeal, given: Answer) -> tuple[str, ...]:
    """What to do next once it is so answered, as things stand on the desk's day."""
    award = matter.award
    stopped = award is not None and against_stop(desk, kept, award)
    reduced = award is not None and against_reduction(desk, kept, award)
    return tuple(next_steps(matter, given, stopped=stopped, reduced=reduced))


def appeals(desk: Desk, about: str | None = None) -> tuple[Listed, ...]:
    """Every appeal and complaint received by the desk's day; open ones first, the soonest first.

    With a person those about that one.
    """
    found = []
    for one in desk.book.appeals(about):
        given = one.answer if one.answer and one.answer.on <= desk.today else None
        if one.appeal.received <= desk.today:
            found.append(listed(desk, one.appeal, given))
    return tuple(sorted(found, key=lambda one: (one.answer is not None, one.appeal.due_by)))


def unanswered(desk: Desk) -> list[Listed]:
    """The appeals and complaints without an answer, the soonest first."""
    return [one for one in appeals(desk) if one.answer is None]


def waiting(desk: Desk) -> dict[str, list[Listed]]:
    """The same by state: those that are overdue, and those open."""
    found = unanswered(desk)
    states = dict.fromkeys(one.state for one in found)
    return {state: [one for one in found if one.state == state] for state in states}


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
        for one in unanswered(desk)
        if one.appeal.due_by <= last
    ]


def listed(desk: Desk, one: Appeal, given: Answer | None) -> Listed:
    """It as it stands on the desk's day, with the answer that was given by then."""
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
