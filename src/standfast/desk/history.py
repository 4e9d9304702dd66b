"""A person's story from the record book, in order."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from standfast.desk.opening import Desk
from standfast.desk.people import name_of, person
from standfast.model.decision import OUTCOME_WORDS

if TYPE_CHECKING:
    from standfast.store.bodies import Body


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
    """Everything the book says about that person, oldest first.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    who = person(desk, wanted)
    zone = ZoneInfo(desk.school.zone)
    events = tuple(
        Told(
            event.seq,
            event.id,
            datetime.fromisoformat(event.at).astimezone(zone),
            name_of(desk, event.who),
            event.kind,
            _says(desk, event.body)
            + (f"; because: {event.body.because}" if event.body.because else ""),
        )
        for event in desk.book.history(wanted)
    )
    return History(who.name, events)


def _says(desk: Desk, body: Body) -> str:  # noqa: PLR0911 - one way out for each kind of entry
    from standfast.store import bodies

    match body:
        case bodies.PersonSet(person=state):
            ends = ", ".join(f"{d.document} until {d.last_day}" for d in state.documents)
            return f"entered or changed; documents: {ends or 'none'}"
        case bodies.SheetTaken(sheet=sheet):
            corrected = f", corrects sheet {sheet.corrects.of}" if sheet.corrects else ""
            return (
                f"scored by {name_of(desk, sheet.assessor)} on {sheet.on} under {sheet.rubric}"
                f" version {sheet.rubric_version}: practical {sheet.practical}, sheet {sheet.id}"
                f"{corrected}"
            )
        case bodies.DecisionMade(decision=decision):
            return (
                f"decided under {decision.rubric.id} on {decision.on}:"
                f" {OUTCOME_WORDS[decision.outcome]}, from {len(decision.sheets)} sheets"
            )
        case bodies.AwardGranted(award=award):
            verb = "renewed" if award.renews else "granted"
            return (
                f"{verb} certificate {award.number}, {award.scope.title}, until"
                f" {award.dates.last_day}, confirmed by {name_of(desk, award.certifier)}"
            )
        case bodies.AwardRuled(ruling=ruling):
            kept = desk.book.find_award(ruling.award)
            number = kept.award.number if kept else ruling.award
            who = name_of(desk, ruling.by)
            return f"{number} {ruling.kind} from {ruling.on} by {who}; because: {ruling.because}"
        case bodies.ReferenceScored(score=score):
            return (
                f"{score.result} in reference practical {score.practical} under {score.rubric} on"
                f" {score.on}, held by {name_of(desk, score.by)}; because: {score.because}"
            )
        case bodies.Erased():
            return "name and contact erased"
        case _:
            return type(body).__name__
