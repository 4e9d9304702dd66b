"""What an outsider may know of a certificate: whether it counts on a day, and for what.

Nothing here tells a name, a reason, a refresher or a ruling; a suspended, a withdrawn, a renewed
and a lapsed award give one and the same answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from standfast.desk.awards import how_it_stands, titles_of
from standfast.desk.opening import Desk
from standfast.engine.scope import permitted
from standfast.model.award import COUNTING, Standing
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.store.awards import KeptAward


@dataclass(frozen=True)
class Outside:
    """All that an outsider may know of a certificate."""

    number: str
    school: str
    scope: str
    """What the certificate is for, whether it counts or not."""
    on: date
    counts: bool
    skills: tuple[str, ...] = ()
    """Titles of the skills covered on that day; none when it does not count."""
    conditions: tuple[str, ...] = ()
    last_day: date | None = None
    """Inclusive, as far as is known on that day; None when it does not count."""
    caution: str = ""
    """The school's own, beside the one that every permission carries."""


def outside(desk: Desk, number: str) -> Outside:
    """Whether the certificate of that number counts on the desk's day.

    Raises:
        Refused: there is no such certificate.
    """
    kept = desk.book.find_award(number)
    if kept is None or kept.award.id == number.strip():
        raise Refused(f"{desk.school.name} has no certificate '{number}'; look at its number again")
    number = kept.award.number
    award, school = kept.award, desk.school
    told = how_it_stands(desk, award)
    caution = school.caution or ""
    if told.state not in COUNTING or _replaced(desk, kept):
        title = award.scope.title
        return Outside(number, school.name, title, desk.today, counts=False, caution=caution)
    skills = permitted(award, desk.book.rulings(award.id), desk.today)
    return Outside(
        number,
        school.name,
        award.scope.title,
        desk.today,
        counts=True,
        skills=titles_of(desk, award, skills),
        conditions=(*award.conditions, *in_grace(told)),
        last_day=told.counts_until,
        caution=caution,
    )


def in_grace(told: Standing) -> tuple[str, ...]:
    """The condition that holds in the time of grace, if it runs."""
    return (f"Now in grace: {told.limit}.",) if told.limit else ()


def _replaced(desk: Desk, kept: KeptAward) -> bool:
    """Whether another award has taken its place by the desk's day."""
    if kept.superseded_by is not None:
        return True
    later = desk.book.find_award(kept.renewed_by) if kept.renewed_by else None
    return later is not None and later.award.granted <= desk.today
