"""Ratings in long form: every mark with who gave it, to what, under which criterion, and when."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from standfast.problems import Refused

Codes: TypeAlias = NDArray[np.int64]
Values: TypeAlias = NDArray[np.float64]
Names: TypeAlias = tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Ratings:
    """Equally long arrays of codes and scores, one place for each mark; nothing missing in them.

    A code is a place in the tuple of names beside it.  Occasions are in the order of time.
    """

    subject: Codes
    assessor: Codes
    criterion: Codes
    occasion: Codes
    lesson: Codes
    """What was seen together, such as one practical: marks in it are not independent.  Where
    nothing says so, a subject on an occasion."""
    score: Values
    assessors: Names
    criteria: Names
    occasions: Names
    subjects: Names

    def __len__(self) -> int:
        return len(self.score)

    @cached_property
    def unit(self) -> Codes:
        """What two assessors can mark alike: a code for subject, criterion and occasion.

        Codes may be left out, where the marks are some of more.
        """
        return joined_codes(self.subject, self.criterion, self.occasion)

    def only(self, wanted: NDArray[np.bool_]) -> Ratings:
        """The marks at these places; names and codes stay."""
        kept = {
            name: getattr(self, name)[wanted]
            for name in ("subject", "assessor", "criterion", "occasion", "lesson", "score")
        }
        found = replace(self, **kept)
        if "unit" in vars(self):  # known already, and no less true of fewer marks
            vars(found)["unit"] = self.unit[wanted]
        return found

    def table(self, criterion: int) -> Table:
        """The marks of one criterion as `subjects x raters`; NaN where there is none.

        Subjects and raters without any mark of the criterion have no row and no column.
        """
        of = self.only(self.criterion == criterion)
        rows, row = np.unique(joined_codes(of.subject, of.occasion), return_inverse=True)
        raters, column = np.unique(of.assessor, return_inverse=True)
        scores = np.full((len(rows), len(raters)), np.nan)
        scores[row, column] = of.score
        return Table(scores, tuple(self.assessors[rater] for rater in raters))


@dataclass(frozen=True, eq=False)
class Table:
    """The marks of one criterion."""

    scores: Values
    """`subjects x raters`, NaN is missing; a subject that was seen twice has two rows."""
    raters: Names


@dataclass(frozen=True, eq=False)
class Shared:
    """Every two marks that two assessors gave to the same thing: places in `Ratings`.

    The assessor of `first` comes before that of `second` in the names.
    """

    first: Codes
    second: Codes


def long_form(
    subjects: Sequence[str],
    assessors: Sequence[str],
    criteria: Sequence[str],
    scores: Sequence[float | None],
    occasions: Sequence[str] | None = None,
    *,
    lessons: Sequence[str] | None = None,
) -> Ratings:
    """Ratings from equally long columns of names; a score of None or NaN is missing.

    Raises:
        Refused: the same assessor twice on the same subject, criterion and occasion.
    """
    rounds = occasions if occasions is not None else [""] * len(scores)
    names_and_codes = [_coded(column) for column in (subjects, assessors, criteria, rounds)]
    (named, subject), (who, assessor), (what, criterion), (when, occasion) = names_and_codes
    lesson = _coded(lessons)[1] if lessons is not None else joined_codes(subject, occasion)
    score = np.array([np.nan if one is None else one for one in scores], dtype=np.float64)
    every = Ratings(subject, assessor, criterion, occasion, lesson, score, who, what, when, named)
    refuse_twice(every)
    return every.only(~np.isnan(score))


def _coded(names: Sequence[str]) -> tuple[Names, Codes]:
    """The different names, 2 before 10, and the place in them of each."""
    different = sorted(set(names), key=_by_number)
    place = {name: number for number, name in enumerate(different)}
    return tuple(different), np.array([place[name] for name in names], dtype=np.int64)


def _by_number(name: str) -> list[str | int]:
    """What sorts names as people do: their digits count as numbers."""
    return [int(part) if part.isdecimal() else part for part in re.split(r"(\d+)", name)]


def joined_codes(*codes: Codes) -> Codes:
    """One code, without gaps, for each combination that occurs."""
    joined = codes[0]
    for more in codes[1:]:
        width = int(more.max(initial=0)) + 1
        joined = _without_gaps(joined * width + more)
    return joined


def _without_gaps(codes: Codes) -> Codes:
    """The codes in the same order, every one in use; without sorting where few are left out."""
    size = int(codes.max(initial=0)) + 1
    if size > _SPARSE * len(codes):
        return np.unique(codes, return_inverse=True)[1].astype(np.int64)
    there = np.zeros(size, dtype=np.bool_)
    there[codes] = True
    place: Codes = np.cumsum(there) - 1
    return place[codes]


_SPARSE = 16
"""Times as many codes as marks: beyond that sorting takes less time and memory than a list."""


def first_of(codes: Codes) -> Codes:
    """Where each code occurs first; codes are from 0 without gaps."""
    first: Codes = np.empty(int(codes.max(initial=-1)) + 1, dtype=np.int64)
    first[codes[::-1]] = np.arange(len(codes) - 1, -1, -1)  # of several the last written stays
    return first


def places_of(codes: Codes) -> list[Codes]:
    """The places of each code that occurs, in the order of the codes."""
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.diff(codes[order])) + 1
    return np.split(order, starts) if len(codes) else []


def refuse_twice(ratings: Ratings) -> None:
    """Nothing, when every assessor marked everything once.

    Raises:
        Refused: the first few marks that are there twice, by name.
    """
    key = joined_codes(ratings.unit, ratings.assessor)
    order = np.argsort(key, kind="stable")
    again = order[1:][key[order][1:] == key[order][:-1]]
    if len(again):
        reasons = [
            f"{ratings.assessors[ratings.assessor[at]]} marked"
            f" '{ratings.criteria[ratings.criterion[at]]}' of"
            f" '{ratings.subjects[ratings.subject[at]]}' twice"
            for at in sorted(again)[:_SHOWN]
        ]
        what = f"{len(again)} marks are there twice, so nobody knows which one counts"
        raise Refused(what, reasons)


_SHOWN = 5


def shared(ratings: Ratings) -> Shared:
    """Every two marks of the same thing by two assessors."""
    order = np.lexsort((ratings.assessor, ratings.unit))
    unit = ratings.unit[order]
    first, second = [], []
    for apart in range(1, int(np.bincount(unit, minlength=1).max(initial=0))):
        same = np.flatnonzero(unit[apart:] == unit[:-apart])
        first.append(order[same])
        second.append(order[same + apart])
    empty = np.zeros(0, dtype=np.int64)
    return Shared(np.concatenate([empty, *first]), np.concatenate([empty, *second]))
