"""How awards stand on a day, past or future."""

from __future__ import annotations

from dataclasses import dataclass

from standfast.desk.awards import how_it_stands, reduction_of, titles_of
from standfast.desk.due import check_known
from standfast.desk.opening import Desk
from standfast.desk.people import person
from standfast.model.award import Award, Reduction, Standing, State
from standfast.model.people import Person
from standfast.problems import NotFound, Refused

URGENT: tuple[State, ...] = (
    "suspended",
    "in grace",
    "refresher due",
    "lapsed",
    "current",
    "withdrawn",
)
"""Every state, those that somebody must act on first."""


@dataclass(frozen=True)
class Stands:
    """An award, who holds it, and how it stands."""

    award: Award
    holder: Person
    standing: Standing
    reduced: Reduction | None
    """What is taken from its scope."""
    without: tuple[str, ...] = ()
    """The titles of the skills taken away."""


def standings(
    desk: Desk, wanted: str | None = None, *, rubric: str | None = None, site: str | None = None
) -> tuple[Stands, ...]:
    """How every award stands on the desk's day; of `wanted`, a person or a number, when given.

    An award stands from the day on which it was granted until another takes its place, also when
    it has lapsed or was withdrawn.  By state, the most urgent first, then by the next day that
    matters.

    Raises:
        NotFound: nobody and no certificate of that name, no such site, or no award under that
            rubric.
        Refused: nothing stood on that day.
    """
    check_known("site", site, desk.book.sites)
    check_known("rubric with an award", rubric, desk.book.rubrics_held)
    kept = _wanted(desk, wanted)
    found = []
    for award in kept:
        holder = person(desk, award.candidate)
        if rubric in {None, award.rubric.id} and site in {None, holder.site}:
            found.append(_stands(desk, award, holder))
    if not found and (rubric or site):
        which = " ".join([f"under {rubric}"] * bool(rubric) + [f"at {site}"] * bool(site))
        raise Refused(f"no award {which} stood on {desk.today}")
    return tuple(sorted(found, key=_order))


def _stands(desk: Desk, award: Award, holder: Person) -> Stands:
    told, now = how_it_stands(desk, award), reduction_of(desk, award)
    return Stands(award, holder, told, now, titles_of(desk, award, now.without if now else ()))


def _order(one: Stands) -> tuple[int, str, str, str]:
    told = one.standing
    return URGENT.index(told.state), str(told.next_day or "9"), one.holder.name, one.award.number


def _wanted(desk: Desk, wanted: str | None) -> list[Award]:
    if wanted is None:
        return [kept.award for kept in desk.book.awards(on=desk.today)]
    award = desk.book.find_award(wanted)
    if award is None and desk.book.find_person(wanted) is None:
        known = [known.id for known in desk.book.people()]
        if any(letter.isdigit() for letter in wanted):  # only a number would be near a number
            known += [one.award.number for one in desk.book.awards()]
        raise NotFound("certificate or person", wanted, known)
    holder = award.award.candidate if award else wanted
    found = [kept.award for kept in desk.book.awards(holder, on=desk.today)]
    if award is None:
        if not found:
            raise Refused(f"{wanted} held no award on {desk.today}")
        return found
    if award.award.id in {one.id for one in found}:
        return [award.award]
    if award.award.granted > desk.today:
        raise Refused(f"{wanted} was granted on {award.award.granted}, after {desk.today}")
    raise Refused(
        f"{wanted} was renewed or corrected by {desk.today}; this took its place:",
        [one.number for one in found],
    )
