"""Which skills an award covers on a day: its scope, less what was taken away since.

Source: ISO/IEC 17024:2012, 9.5, knows a reduced scope beside suspension and withdrawal (from
memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from standfast.model.award import Award, Reduction, Ruling
from standfast.problems import nearest


def reduction(award: Award, rulings: Sequence[Ruling], on: date) -> Reduction | None:
    """What is taken from the award's scope on that day, and since when; None when nothing is.

    Reductions add up until the scope is restored; of two rulings on one day the later one counts.
    """
    now = award.reduced if award.reduced and award.reduced.since <= on else None
    for ruling in sorted(rulings, key=lambda ruling: ruling.on):
        if ruling.award != award.id or ruling.on > on:
            continue
        if ruling.kind == "restored":
            now = None
        elif ruling.kind == "reduced":
            gone = {*ruling.without, *(now.without if now else ())}
            now = Reduction(without=tuple(sorted(gone)), since=ruling.on)
    return now


def permitted(award: Award, rulings: Sequence[Ruling], on: date) -> tuple[str, ...]:
    """The skills that the award covers on that day, in the order of its scope."""
    now = reduction(award, rulings, on)
    gone = now.without if now else ()
    return tuple(skill for skill in award.scope.skills if skill not in gone)


def scope_objections(ruling: Ruling, award: Award, before: Sequence[Ruling]) -> tuple[str, ...]:
    """Every reason why the award's scope cannot be reduced or restored so; none when it can."""
    now = reduction(award, before, ruling.on)
    if ruling.kind == "restored":
        return () if now else (f"the scope of {award.number} is not reduced",)
    if ruling.kind != "reduced":
        return ()
    left = permitted(award, before, ruling.on)
    gone = now.without if now else ()
    found = [_not_there(skill, award, gone) for skill in ruling.without if skill not in left]
    if not ruling.without:
        found.append("no skill is named; name each that is to be taken away")
    elif left and set(left) <= set(ruling.without):
        found.append("nothing would be left of the scope; withdraw the award instead")
    return tuple(found)


def _not_there(skill: str, award: Award, gone: Sequence[str]) -> str:
    if skill in gone:
        return f"'{skill}' is taken away already"
    return (
        f"'{skill}' is no skill in the scope of {award.number};"
        f" {nearest(skill, award.scope.skills)}"
    )
