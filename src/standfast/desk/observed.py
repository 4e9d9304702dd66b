"""Tries and looks as two observers saw them: each one, what was there, what was not, the count.

What a try is, and what a look, says `store/marks.py`: of a look the share of the waiting who were
busy is kept, so that two counts are the same when both the idle and the waiting are in the same
proportion.  A yes-or-no criterion of a table counts as tries.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standfast.agreement.observers import Alike
    from standfast.agreement.ratings import Codes, Shared, Values
    from standfast.desk.marks import Marks


@dataclass(frozen=True)
class Observed:
    """How alike two observers saw one criterion, over every two and all they saw together."""

    criterion: str
    looks: bool
    """Looks at who is idle; else tries."""
    each: Alike
    """Tries with the same answer; looks at which both saw somebody idle, or both nobody."""
    there: Alike
    """Of what at least one scored (a yes, somebody idle), the share that both did."""
    not_there: Alike
    """Of what at least one did not score, the share that neither did."""
    exact: Alike | None
    """Looks with the same share of idle; of tries it is the first figure."""
    total: Alike
    """Smaller total / larger total, the mean of lessons."""


def observed(marks: Marks, both: Shared) -> tuple[Observed, ...]:
    """A row for each criterion of tries or looks that two saw together, in the marks' order."""
    import numpy as np

    ratings = marks.ratings
    criterion = ratings.criterion[both.first]
    found = []
    for code in np.unique(criterion):
        at = np.flatnonzero(criterion == code)
        first, second = ratings.score[both.first[at]], ratings.score[both.second[at]]
        looks = marks.kinds[code] == "samples"
        if looks:
            first, second = _idle(first), _idle(second)
        elif marks.kinds[code] == "clearances" or not _yes_or_no(first, second):
            continue
        session = _sessions(marks, both, at)
        found.append(_row(ratings.criteria[code], first, second, session, looks=looks))
    return tuple(found)


def _idle(busy: Values) -> Values:
    """The idle share, without the last digits."""
    import numpy as np

    return np.asarray(np.round(1.0 - busy, _DIGITS))


_DIGITS = 9


def _yes_or_no(*scores: Values) -> bool:
    return all(((one == 0) | (one == 1)).all() for one in scores)


def _sessions(marks: Marks, both: Shared, at: Codes) -> Codes:
    """What two assessors saw of one lesson: a code for each."""
    from standfast.agreement.ratings import joined_codes

    ratings, first, second = marks.ratings, both.first[at], both.second[at]
    return joined_codes(ratings.lesson[first], ratings.assessor[first], ratings.assessor[second])


def _row(name: str, first: Values, second: Values, session: Codes, *, looks: bool) -> Observed:
    from standfast.agreement import observers

    each = observers.interval_by_interval if looks else observers.trial_by_trial
    return Observed(
        *(name, looks, each(first, second)),
        observers.scored_interval(first, second),
        observers.unscored_interval(first, second),
        observers.exact_count_per_interval(first, second) if looks else None,
        _mean_total(first, second, session),
    )


def _mean_total(first: Values, second: Values, session: Codes) -> Alike:
    """Total count of each lesson, then the mean: lessons in which neither counted are left out."""
    from standfast.agreement.observers import Alike

    each = [one for one in _totals(first, second, session) if one.value is not None]
    if not each:
        why = "neither of the two counted anything in any lesson"
        return Alike("total_count", None, 0.0, 0.0, why=why)
    alike = sum(one.value or 0.0 for one in each)
    return Alike("total_count", alike / len(each), alike, len(each))


def _totals(first: Values, second: Values, session: Codes) -> Iterator[Alike]:
    from standfast.agreement.observers import total_count
    from standfast.agreement.ratings import places_of

    for at in places_of(session):
        yield total_count(first[at], second[at])
