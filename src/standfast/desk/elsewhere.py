"""What other schools handed over about a person, read again, and its proofs checked again."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from operator import itemgetter
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from standfast.desk.opening import Desk
from standfast.model.base import Reference, rename_people
from standfast.model.decision import OUTCOME_WORDS
from standfast.model.handing import FromElsewhere

if TYPE_CHECKING:
    from standfast.paper.view.record import Elsewhere, Part
    from standfast.store.bodies import Body
    from standfast.store.handing import KeptFromElsewhere

Row = tuple[date, str, str]


def elsewhere(desk: Desk, wanted: str) -> tuple[Elsewhere, ...]:
    """What came from other schools by the desk's day; of each school the newest."""
    newest: dict[tuple[str, str], tuple[KeptFromElsewhere, Elsewhere]] = {}
    for kept in desk.book.taken_in(wanted):
        one = _read(desk, kept)
        whose = (kept.record.issuer, kept.record.origin)
        older = newest.get(whose)
        if one.taken <= desk.today and (older is None or older[1].size <= one.size):
            newest[whose] = (kept, one)
    return tuple(one for _, one in newest.values())


def _read(desk: Desk, kept: KeptFromElsewhere) -> Elsewhere:
    from standfast.paper.view.record import Elsewhere
    from standfast.seal.encoding import Unreadable
    from standfast.seal.handed import Carried
    from standfast.seal.receipts import Head, read, signer
    from standfast.store.bodies import HandedOver

    record, zone = kept.record, ZoneInfo(desk.school.zone)
    head = read(record.head.encode(), Head)
    carried = [Carried(**one.model_dump()) for one in record.carried]
    try:
        fingerprint, signed = signer(head).thumbprint, True
    except Unreadable:
        fingerprint, signed = "that cannot be read", False
    entries = list(_entries(record))
    agreement = entries[-1][1]
    if not isinstance(agreement, HandedOver):
        raise TypeError(agreement)  # `desk.taking` takes in no other
    shortened = sum(one.leaf is not None for one in record.carried)
    return Elsewhere(
        school=record.school,
        agreed=agreement.hand_over.agreed,
        taken=datetime.fromisoformat(kept.at).astimezone(zone).date(),
        head=datetime.fromisoformat(head.at).astimezone(zone).date(),
        size=head.size,
        fingerprint=fingerprint,
        holds=signed and all(one.leads_to(head) for one in carried),
        whole=len(carried) - shortened,
        shortened=shortened,
        parts=tuple(_parts([body for _, body, _ in entries])),
        trainers=_trainers([body for _, body, _ in entries]),
        rows=tuple(sorted(_rows(desk, record, entries), key=itemgetter(0))),
    )


def _entries(record: FromElsewhere) -> Iterator[tuple[str, Body, str | None]]:
    """Id, body and what it supersedes of every entry, people as they are known here."""
    from standfast.store.bodies import KINDS

    here = {one.ref: one.person for one in record.people} | {record.origin: record.person}
    for one in record.carried:
        told = json.loads(one.entry)
        body = KINDS[told["kind"]].model_validate(told["body"])
        renamed = rename_people(body, lambda ref: here.get(ref, ref))
        # Entries were once taken in without asking for these two.
        before = told.get("supersedes")
        yield str(told.get("id")), renamed, str(before) if before else None


def _parts(bodies: Sequence[Body]) -> Iterator[Part]:
    """The last decision under each rubric, with the sheets that it looked at."""
    from standfast.model.rubric import Rubric
    from standfast.paper.view.record import Part
    from standfast.store.bodies import DecisionMade, SheetTaken, TextKept

    texts = {body.hash: body.text for body in bodies if isinstance(body, TextKept)}
    made = [body.decision for body in bodies if isinstance(body, DecisionMade)]
    for decision in {one.rubric.id: one for one in made}.values():
        text = texts.get(decision.rubric.hash)
        named = {*decision.sheets, *(left.sheet for left in decision.left_out)}
        sheets = [b.sheet for b in bodies if isinstance(b, SheetTaken) and b.sheet.id in named]
        if isinstance(text, Rubric):
            yield Part(text, decision, kept=True, sheets=tuple(sheets))


def _trainers(bodies: Sequence[Body]) -> frozenset[str]:
    """Who trained her, as that book knew it last."""
    from standfast.store.bodies import PersonSet

    states = [body.person for body in bodies if isinstance(body, PersonSet)]
    return frozenset(tie.trainer for state in states[-1:] for tie in state.trained_by)


def _rows(
    desk: Desk, record: FromElsewhere, entries: list[tuple[str, Body, str | None]]
) -> Iterator[Row]:
    """Practicals, decisions, awards and rulings that were not corrected there."""
    from standfast.store.bodies import AwardGranted, TextKept

    bodies = [body for _, body, _ in entries]
    titles = {b.hash: b.text.title for b in bodies if isinstance(b, TextKept)}
    numbers = {b.award.id: b.award.number for b in bodies if isinstance(b, AwardGranted)}
    corrected = {before for _, _, before in entries if before}
    for entry, body, _ in entries:
        if entry not in corrected:
            yield from _row(desk, body, titles, numbers, record.school)


def _row(
    desk: Desk, body: Body, titles: dict[str, str], numbers: dict[str, str], school: str
) -> Iterator[Row]:
    from standfast.paper.view.words import day
    from standfast.store import bodies

    def who(slug: str) -> str:
        """By name; whoever was erased there came without one, so is known as that school's."""
        found = desk.book.find_person(slug)
        return found.name if found else f"somebody of {school} whose name was erased there"

    def title(text: Reference) -> str:
        """Its short name where the text did not come along, as could be once."""
        return titles.get(text.hash, text.id)

    match body:
        case bodies.SheetTaken(sheet=sheet):
            under = f"{title(body.rubric)}, version {sheet.rubric_version}"
            yield sheet.on, f"practical {sheet.practical} under {under}", who(sheet.assessor)
        case bodies.DecisionMade(decision=made):
            outcome, sheets = OUTCOME_WORDS[made.outcome], len(made.sheets)
            says = f"decision under {title(made.rubric)}: {outcome}, from {sheets} sheets"
            yield made.on, says, "by the rule"
        case bodies.AwardGranted(award=award):
            days = f"{day(award.dates.first_day)} to {day(award.dates.last_day)}"
            says = f"award {award.number}, {award.scope.title}, {days}"
            yield award.granted, says, who(award.certifier)
        case bodies.AwardRuled(ruling=ruling):
            number = numbers.get(ruling.award, "that did not come along")
            yield ruling.on, f"award {number} {ruling.kind}", who(ruling.by)
        case _:
            return
