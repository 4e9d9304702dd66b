"""Ruling on an award: suspended, reinstated, withdrawn, its scope reduced or restored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from standfast.desk.awards import find_award, how_it_stands, not_ahead
from standfast.desk.opening import Desk
from standfast.desk.people import no_names, person
from standfast.engine.awarding import order_objections, ruling_objections
from standfast.engine.impartiality import tied
from standfast.engine.scope import permitted, scope_objections
from standfast.model.award import Award, Ruling, RulingKind, Standing
from standfast.model.people import Person
from standfast.problems import Refused


@dataclass(frozen=True)
class Ruled:
    """What was ruled of an award, and how it stands since."""

    award: Award
    holder: Person
    standing: Standing
    entry: str
    skills: tuple[str, ...]
    """What it covers now."""


def rule(
    desk: Desk,
    wanted: str,
    kind: RulingKind,
    ruler: str,
    because: str,
    without: Sequence[str] = (),
) -> Ruled:
    """Suspends, reinstates or withdraws an award, or changes its scope, from the desk's day on.

    `wanted` is the certificate's number, or whose newest award it is; `without` are the skills
    that a reduction takes away.

    Raises:
        NotFound: no such award or person.
        Refused: who may not rule, what cannot be ruled now, or a day that has not come.
    """
    not_ahead(desk)
    no_names(desk, because)
    with desk.book.together():
        award, who = find_award(desk, wanted), person(desk, ruler)
        holder = person(desk, award.candidate)
        ruling = Ruling(
            award=award.id,
            kind=kind,
            on=desk.today,
            by=who.id,
            because=because,
            without=tuple(dict.fromkeys(without)),
            tied=tied(who, holder, desk.today),
        )
        refused = ruling.tied and desk.school.conflict_of_interest == "refused"
        now, before = how_it_stands(desk, award), desk.book.rulings(award.id)
        upheld = _appeal_upheld(desk, before)
        found = ruling_objections(kind, award, now, who, desk.today, tied=refused, upheld=upheld)
        found += scope_objections(ruling, award, before)
        found += order_objections(ruling.on, before)
        if found:
            raise Refused(f"{award.number} cannot be {kind} on {desk.today}:", found)
        entry = desk.book.put_ruling(ruling, desk.stamp())
        skills = permitted(award, (*before, ruling), desk.today)
        return Ruled(award, holder, how_it_stands(desk, award), entry.id, skills)


def _appeal_upheld(desk: Desk, rulings: Sequence[Ruling]) -> bool:
    """Whether an appeal against the award's withdrawal was upheld by the desk's day."""
    withdrawn = [one for one in rulings if one.kind == "withdrawn" and one.on <= desk.today]
    return any(
        kept.answer.outcome == "upheld" and withdrawn[-1].on <= kept.appeal.received
        for kept in (desk.book.appeals(award=withdrawn[-1].award) if withdrawn else ())
        if kept.appeal.kind == "appeal" and kept.answer and kept.answer.on <= desk.today
    )
