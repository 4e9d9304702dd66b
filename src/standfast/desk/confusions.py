"""Which level one assessor gave where another gave which: of the pairs that share most lessons."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standfast.agreement.ratings import Codes, Ratings
    from standfast.desk.marks import Marks

MOST_PAIRS = 3
LEAST_MARKS = 5
"""Of a criterion, that both gave; fewer are no pattern.  Common practice, no source."""


@dataclass(frozen=True)
class Confusion:
    """All levels that two assessors gave to the same lessons, of criteria with the same levels."""

    first: str
    second: str
    criteria: tuple[str, ...]
    levels: tuple[float, ...]
    counts: tuple[tuple[int, ...], ...]
    """By what the first gave, then by what the second gave."""

    @property
    def marks(self) -> int:
        """How many there are."""
        return sum(map(sum, self.counts))

    @property
    def alike(self) -> int:
        """How many are the same level."""
        return sum(row[place] for place, row in enumerate(self.counts))


def confusions(marks: Marks, pairs: Iterable[tuple[str, str]]) -> tuple[Confusion, ...]:
    """Those of the first few of these pairs who share enough marks of criteria with levels."""
    from standfast.agreement.ratings import shared

    levelled = marks.ratings.only(marks.once[marks.ratings.criterion])
    both = shared(levelled)
    found = []
    for first, second in pairs:
        a, b = levelled.assessors.index(first), levelled.assessors.index(second)
        of = (levelled.assessor[both.first] == a) & (levelled.assessor[both.second] == b)
        if int(of.sum()) >= LEAST_MARKS:
            found.append(_confusion(levelled, (first, second), both.first[of], both.second[of]))
        if len(found) == MOST_PAIRS:
            break
    return tuple(found)


def _confusion(levelled: Ratings, pair: tuple[str, str], one: Codes, other: Codes) -> Confusion:
    import numpy as np

    given, beside = levelled.score[one], levelled.score[other]
    levels = np.unique(np.concatenate([given, beside]))
    rows, columns = np.searchsorted(levels, given), np.searchsorted(levels, beside)
    counts = np.zeros((len(levels), len(levels)), dtype=np.int64)
    np.add.at(counts, (rows, columns), 1)
    names = (levelled.criteria[code] for code in np.unique(levelled.criterion[one]))
    return Confusion(
        *pair,
        tuple(names),
        tuple(map(float, levels)),
        tuple(tuple(map(int, row)) for row in counts),
    )
