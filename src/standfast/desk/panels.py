"""What a second assessor or practical buys: how often another panel would decide otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from standfast.desk.sources import (
    CANDIDATES_OF_ONE,
    LESSONS_OF_ONE,
    NotTold,
    fitted,
    people_of,
    said_of,
    together,
)
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.agreement.components import Components
    from standfast.agreement.generalizability import SecondPanel
    from standfast.agreement.ratings import Codes, Ratings
    from standfast.agreement.sheets import Sheets
    from standfast.desk.marks import Marks

MOST_PANEL = 3
"""Assessors and practicals that are tried."""


@dataclass(frozen=True)
class Panel:
    """What so many assessors at each of so many practicals are worth."""

    assessors: int
    practicals: int
    otherwise: float
    """The chance that another such panel would have decided otherwise."""
    low: float | None
    """Bounds that hold it 95 times in 100, by drawing people again; None from too few."""
    high: float | None
    passing: float
    relative: float
    """The generalizability coefficient for comparing people with each other."""
    absolute: float
    """Phi, for comparing them with a line."""


@dataclass(frozen=True)
class Panels:
    """What more assessors and more practicals buy."""

    tried: tuple[Panel, ...]
    says: str
    line: float
    """Where pass and fail are told apart, as a share of the scale."""
    where: str
    """The same in words."""
    mean: float
    candidates: int
    """How many were seen; 0 when it is only about lessons."""
    lessons: int
    variances: dict[str, float]
    method: str
    said: tuple[str, ...]

    def of(self, assessors: int, practicals: int = 1) -> Panel:
        """The panel of that size."""
        return next(
            one for one in self.tried if (one.assessors, one.practicals) == (assessors, practicals)
        )


def panels(marks: Marks) -> Panels | NotTold:
    """How often another panel would have decided otherwise about a whole sheet.

    Criteria are fixed: another panel would score the same ones.
    """
    try:
        return _panels(marks, together(marks))
    except Refused as why:
        return NotTold(why.what)


def _panels(marks: Marks, ratings: Ratings) -> Panels:
    import numpy as np

    from standfast.agreement.sheets import sheet_totals

    sheets = sheet_totals(ratings)
    people = people_of(marks, sheets.lesson)
    why = SEEN_ONCE
    found = None if people is None else _of_sheets(sheets, people)
    if found is not None and not found.at_least_zero["p"] > 0:
        found, why = None, NOT_BEYOND_DAYS
    practicals = found is not None
    found = found or _of_sheets(sheets, None)
    if not found.at_least_zero["p"] > 0:
        raise Refused(
            f"whole sheets of {len(np.unique(sheets.lesson))} lessons do not differ beyond what"
            " assessors and chance explain, so there is nobody to tell apart"
        )
    mean = float(np.mean(sheets.total))
    line, where = _line(marks, mean)
    tried = _tried(found, mean, line, practicals=practicals)
    tried = _bounded(marks, sheets, people if practicals else None, tried)
    names = CANDIDATES_OF_ONE if practicals else LESSONS_OF_ONE
    return Panels(
        tuple(panel for panel, _ in tried),
        _says(tried, None if practicals else why),
        *(line, where, mean),
        len(np.unique(people)) if people is not None and practicals else 0,
        len(np.unique(sheets.lesson)),
        found.as_estimated,
        found.method,
        said_of(found, {effect: what for effect, (what, _) in names.items()}),
    )


def _of_sheets(sheets: Sheets, people: Codes | None) -> Components:
    """The components of whole sheets, of candidates and their practicals or of lessons."""
    codes = {} if people is None else {"p": people}
    codes |= {"p" if people is None else "t": sheets.lesson, "r": sheets.assessor}
    return fitted(codes, sheets.total)[0]


SEEN_ONCE = (
    "too few candidates were seen in two practicals to say what a second practical buys, so it is"
    " about one lesson"
)
NOT_BEYOND_DAYS = (
    "candidates do not differ beyond what their days, assessors and chance explain, so it is about"
    " one lesson"
)


def _line(marks: Marks, mean: float) -> tuple[float, str]:
    """Where pass and fail are told apart, and why there."""
    if marks.standard is None:
        return mean, f"at the mean of the sheets, {mean * 100:.0f} % of the scale"
    share = f"{marks.standard * 100:.0f} %"
    return marks.standard, (
        f"at {share} of the scale, as the rubric asks for {share} of the points; it counts"
        " criteria met, so the levels stand in for it"
    )


def _tried(
    found: Components, mean: float, line: float, *, practicals: bool
) -> list[tuple[Panel, SecondPanel]]:
    from standfast.agreement.generalizability import decision_study

    tried = []
    for days in range(1, MOST_PANEL + 1 if practicals else 2):
        for assessors in range(1, MOST_PANEL + 1):
            counts = {"r": assessors, "t": days} if practicals else {"r": assessors}
            study = decision_study(found.at_least_zero, counts)
            second = study.another_panel(mean, line)
            shares = (second.otherwise, None, None, second.passing, study.erho2, study.phi)
            tried.append((Panel(assessors, days, *shares), second))
    return tried


def _bounded(
    marks: Marks,
    sheets: Sheets,
    people: Codes | None,
    tried: list[tuple[Panel, SecondPanel]],
) -> list[tuple[Panel, SecondPanel]]:
    """The same with bounds, where there are people enough to draw from."""
    import numpy as np

    from standfast.agreement import drawn_components as drawing

    whose, lesson, assessor = (
        np.unique(codes, return_inverse=True)[1]
        for codes in (sheets.lesson if people is None else people, sheets.lesson, sheets.assessor)
    )
    persons = int(whose.max()) + 1
    if persons < drawing.LEAST_PERSONS:
        return tried
    times = drawing.times_drawn(persons)
    inside = None if people is None else lesson
    drawn = drawing.drawn_components(whose, inside, assessor, sheets.total, times)
    found = []
    for panel, second in tried:
        of = drawing.chances(drawn, panel.assessors, panel.practicals, marks.standard)
        low, high = (float(part) for part in np.nanquantile(of, (0.025, 0.975)))
        found.append((replace(panel, low=low, high=high), second))
    return found


def _says(tried: Sequence[tuple[Panel, SecondPanel]], about_lessons: str | None) -> str:
    """What two of each buy beside one of each; or two assessors, and why only these."""
    from standfast.agreement.generalizability import falls_from

    by_size = {(panel.assessors, panel.practicals): second for panel, second in tried}
    if about_lessons is None:
        falls = falls_from(by_size[1, 1], by_size[2, 2])
        return f"With two assessors and two practicals instead of one of each {falls}."
    falls = falls_from(by_size[1, 1], by_size[2, 1])
    return f"With two assessors instead of one {falls}; {about_lessons}."
