"""What the record book says today of a signed certificate that was given out: whether it holds."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from standfast.desk.awards import how_it_stands, titles_of
from standfast.desk.opening import Desk
from standfast.engine.scope import permitted
from standfast.model.award import Award, Standing
from standfast.model.issued import Issued

if TYPE_CHECKING:
    from standfast.store.awards import KeptAward


@dataclass(frozen=True)
class Since:
    """What came since it was signed, in words; empty where nothing did."""

    revoked: str = ""
    """It says what does not hold any more."""
    suspended: str = ""


def since(desk: Desk, issued: Issued) -> Since:
    """What came since that certificate was signed, of its award and of all that renewed it.

    Whoever is shown an old paper asks whether what it says still holds: an award that was renewed
    goes on in another, and when that one is taken back nothing is left.  A renewal alone takes
    nothing back.
    """
    found = list(_from_then_on(desk, issued.award))
    if not found:
        return Since()
    own = found[0]
    if own.superseded_by is not None:
        return Since(revoked="another award was entered in place of it, as a correction")
    covers, until = _says(issued, own.award)
    revoked, suspended = "", ""
    for kept in found:
        standing = how_it_stands(desk, kept.award)
        whose = "" if kept is own else f"{kept.award.number}, which renewed it: "
        if less := _less(desk, kept.award, standing, covers, until):
            revoked = revoked or f"{whose}{less}"
        suspended = f"{whose}{standing.because}" if standing.state == "suspended" else ""
    return Since(revoked, suspended)


def says_more(desk: Desk, issued: Issued, award: Award, standing: Standing) -> bool:
    """Whether the certificate says more than its award is worth now: too many skills or days."""
    return bool(_less(desk, award, standing, *_says(issued, award)))


def _from_then_on(desk: Desk, award: str) -> Iterator[KeptAward]:
    """The award, and each that took its place until today, oldest first."""
    kept = desk.book.find_award(award)
    while kept is not None and kept.award.granted <= desk.today:
        yield kept
        later = kept.superseded_by or kept.renewed_by
        kept = desk.book.find_award(later) if later else None


def _says(issued: Issued, award: Award) -> tuple[Collection[str], date]:
    """The skills and the last day that the certificate says."""
    return issued.covers or award.scope.skills, issued.until or award.dates.last_day


def _less(
    desk: Desk, award: Award, standing: Standing, covers: Collection[str], until: date
) -> str:
    """In what the award is worth less than that now; empty when it is not."""
    if standing.state == "withdrawn":
        return standing.because
    now = permitted(award, desk.book.rulings(award.id), desk.today)
    if gone := [skill for skill in covers if skill not in now]:
        return f"it is now without {'; '.join(titles_of(desk, award, gone))}"
    return f"it now ends on {standing.ends}" if standing.ends < until else ""
