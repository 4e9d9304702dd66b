"""A person's story from the record book, in order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from standfast.desk.appeals import against
from standfast.desk.opening import Desk
from standfast.desk.people import name_of, person
from standfast.engine.phrases import count
from standfast.model.award import Award
from standfast.model.decision import OUTCOME_WORDS
from standfast.model.focus import Focus

if TYPE_CHECKING:
    from standfast.model.appeal import Answer, Appeal
    from standfast.model.approval import ReferenceScore
    from standfast.model.award import Ruling
    from standfast.model.sheet import Sheet
    from standfast.store.bodies import Body, PersonState
    from standfast.store.book import Event


@dataclass(frozen=True)
class Told:
    """One entry in words."""

    seq: int
    entry: str
    at: datetime
    who: str
    kind: str
    says: str


@dataclass(frozen=True)
class History:
    """What the book says about a person."""

    name: str
    events: tuple[Told, ...]


def history_of(desk: Desk, wanted: str) -> History:
    """What the book says about that person, oldest first, as far as entered by the day asked.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    who = person(desk, wanted)
    zone = ZoneInfo(desk.school.zone)
    events = tuple(
        _told(desk, event, zone)
        for event in desk.book.history(wanted)
        if desk.moment.on is None or entered_on(event, zone) <= desk.moment.on
    )
    return History(who.name, events)


def told_of(desk: Desk, events: Iterable[Event]) -> tuple[Told, ...]:
    """These entries in words."""
    zone = ZoneInfo(desk.school.zone)
    return tuple(_told(desk, event, zone) for event in events)


def newest(desk: Desk, most: int) -> tuple[tuple[str, Told], ...]:
    """The last entries of the book, newest first, each with the name of whom it is about."""
    zone = ZoneInfo(desk.school.zone)
    return tuple(
        (name_of(desk, event.about) if event.about else "", _told(desk, event, zone))
        for event in desk.book.newest(most)
    )


def _told(desk: Desk, event: Event, zone: ZoneInfo) -> Told:
    because = event.body.because
    return Told(
        event.seq,
        event.id,
        datetime.fromisoformat(event.at).astimezone(zone),
        name_of(desk, event.who),
        event.kind,
        says(desk, event.body) + (f"; because: {because}" if because else ""),
    )


def entered_on(event: Event, zone: ZoneInfo) -> date:
    """The day, where the school is, on which the entry was made."""
    return datetime.fromisoformat(event.at).astimezone(zone).date()


def _granted(desk: Desk, award: Award) -> str:
    decision = desk.book.find_decision(award.decision)
    if decision and decision.decision.is_top_up:
        return f"topped up, now under version {award.rubric.version}:"
    return "renewed" if award.renews else "granted"


EARLIER = " at the latest, or the end of a document that it asks for"


def _covered(focus: Focus | None) -> str:
    """What was covered and why, when it was not the whole rubric."""
    if focus is None:
        return ""
    each = "; ".join(f"{one.competency} ({one.because})" for one in focus.covered)
    return f"; the {focus.kind} covered {each}"


def says(desk: Desk, body: Body) -> str:  # noqa: C901, PLR0911, PLR0912 - one way out for each
    """What an entry with that body says, in a sentence; people by name where they have one."""
    from standfast.store import bodies

    match body:
        case bodies.PersonSet(person=state):
            return _entered(desk, state)
        case bodies.SheetTaken(sheet=sheet):
            return _scored(desk, sheet)
        case bodies.DecisionMade(decision=decision):
            return (
                f"decided under {decision.rubric.id} on {decision.on}:"
                f" {OUTCOME_WORDS[decision.outcome]}, from {count(len(decision.sheets), 'sheet')}"
                f"{_covered(decision.focus)}"
            )
        case bodies.AwardGranted(award=award):
            verb = _granted(desk, award)
            return (
                f"{verb} certificate {award.number}, {award.scope.title}, until"
                f" {award.dates.last_day}{EARLIER if award.documents else ''},"
                f" confirmed by {name_of(desk, award.certifier)}"
            )
        case bodies.AwardRuled(ruling=ruling):
            return _ruled(desk, ruling)
        case bodies.AppealFiled(appeal=filed):
            return _filed(desk, filed)
        case bodies.AppealAnswered(answer=given):
            return _answered(desk, given)
        case bodies.ReferenceScored(score=score):
            return _reference(desk, score)
        case bodies.CredentialIssued(issued=what):
            return f"signed certificate given out, place {what.place} of the status lists"
        case bodies.FederationSet(shares=shares):
            said = " and ".join(shares)
            return f"shares counts of {said} with others" if said else "shares no counts any more"
        case bodies.HandedOver(hand_over=what):
            return (
                f"record handed over to {what.to}, as the {what.asked_by} asked; she agreed on"
                f" {what.agreed}"
            )
        case bodies.TakenIn(record=came):
            carried = count(len(came.carried), "entry", "entries")
            return (
                f"record taken in from {came.school}, {carried}: evidence from elsewhere, no award"
                " here"
            )
        case bodies.Erased():
            return "name and contact erased"
        case bodies.SchoolSet():
            return "settings of the school"
        case bodies.TextKept(text=text):
            return f"words kept: {text.id}, version {text.version}"
        case _:
            return type(body).__name__


def _entered(desk: Desk, state: PersonState) -> str:
    ends = ", ".join(f"{d.document} until {d.last_day}" for d in state.documents)
    ties = "".join(
        f"; conflict of interest with {name_of(desk, tie.person)} from {tie.since}"
        f"{f' until {tie.until}' if tie.until else ''}"
        for tie in state.conflicts
    )
    return f"entered or changed; documents: {ends or 'none'}{ties}"


def _scored(desk: Desk, sheet: Sheet) -> str:
    corrected = f", corrects sheet {sheet.corrects.of}" if sheet.corrects else ""
    return (
        f"scored by {name_of(desk, sheet.assessor)} on {sheet.on} under {sheet.rubric}"
        f" version {sheet.rubric_version}: practical {sheet.practical}, sheet {sheet.id}"
        f"{corrected}"
    )


def _ruled(desk: Desk, ruling: Ruling) -> str:
    kept = desk.book.find_award(ruling.award)
    number = kept.award.number if kept else ruling.award
    without = f" without {', '.join(ruling.without)}" if ruling.without else ""
    by = name_of(desk, ruling.by)
    by += ", who had a conflict of interest" if ruling.tied else ""
    by += f", who {ruling.took_part}" if ruling.took_part else ""
    return f"{number} {ruling.kind}{without} from {ruling.on} by {by}; because: {ruling.because}"


def _filed(desk: Desk, filed: Appeal) -> str:
    return (
        f"{filed.number} received on {filed.received} from"
        f" {name_of(desk, filed.by) if filed.by else 'outside'}, against"
        f" {against(desk, filed)}, to be answered by {filed.due_by};"
        f" because: {filed.because}"
    )


def _answered(desk: Desk, given: Answer) -> str:
    kept = desk.book.find_appeal(given.appeal)
    number = kept.appeal.number if kept else given.appeal
    return (
        f"{number} answered on {given.on} by {name_of(desk, given.by)}: {given.outcome};"
        f" because: {given.because}"
    )


def _reference(desk: Desk, score: ReferenceScore) -> str:
    return (
        f"{score.result} in reference practical {score.practical} under {score.rubric} on"
        f" {score.on}, held by {name_of(desk, score.by)}; because: {score.because}"
    )
