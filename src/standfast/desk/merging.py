"""What the school would say of an entry of a laptop that comes back, if it were entered at home."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from standfast.desk.awards import earlier, how_it_stands
from standfast.desk.definitions import Texts
from standfast.desk.honouring import rubric_text
from standfast.desk.opening import Desk
from standfast.desk.people import person
from standfast.desk.rulings import objections_to
from standfast.desk.sheets import faults_of
from standfast.engine.awarding import objections, suspensions
from standfast.model.award import Ruling
from standfast.model.syllabus import Syllabus

if TYPE_CHECKING:
    from standfast.store.bodies import AwardGranted, Body, SheetTaken
    from standfast.store.merging import Objections


def objections_here(desk: Desk) -> Objections:
    """What is asked of each sheet, award and ruling that comes from elsewhere, on its own day.

    What rests on something that is not here is for the book to hold back.
    """
    from standfast.store.bodies import AwardGranted, AwardRuled, SheetTaken

    def found(body: Body) -> Iterable[str]:
        match body:
            case SheetTaken():
                return _to_sheet(desk, body)
            case AwardGranted():
                return _to_award(desk.on_day(body.award.granted), body)
            case AwardRuled():
                return _to_ruling(desk.on_day(body.ruling.on), body.ruling)
            case _:
                return ()

    return found


def _to_sheet(desk: Desk, body: SheetTaken) -> Iterator[str]:
    rubric, syllabus = rubric_text(desk, body.rubric.hash), desk.book.find_text(body.syllabus.hash)
    if rubric and isinstance(syllabus, Syllabus):
        for fault in faults_of(desk, body.sheet, Texts(rubric, syllabus)):
            yield fault.what


def _to_award(desk: Desk, body: AwardGranted) -> tuple[str, ...]:
    award, kept = body.award, desk.book.find_decision(body.award.decision)
    rubric = rubric_text(desk, kept.decision.rubric.hash) if kept else None
    if kept is None or rubric is None:
        return ()
    before = earlier(desk, award.candidate)
    found = objections(
        kept.decision,
        rubric,
        person(desk, award.candidate),
        person(desk, award.certifier),
        part=award.certifier_took_part,
        school=desk.school,
        tied=award.certifier_tied,
        earlier=[(one, decision) for one, decision in before if one.id != body.corrects],
    )
    held = [
        (one.award, how_it_stands(desk, one.award))
        for one in desk.book.awards(award.candidate)
        if one.award.id != body.corrects
    ]
    return found + suspensions(held, rubric)


def _to_ruling(desk: Desk, ruling: Ruling) -> tuple[str, ...]:
    award = desk.book.find_award(ruling.award)
    if award is None:
        return ()
    return objections_to(desk, award.award, person(desk, ruling.by), ruling)
