"""Two observers of one lesson: how alike they saw attempts, counts in time samples, and durations.

These shares need no chance and no error; they say where two sheets differ.  Where a share has
nothing to be a share of, it is not defined and says why: it is neither 0 nor 1.

Source of the definitions: Reed & Azulay (2011), A Microsoft Excel 2010 based tool for calculating
interobserver agreement, Behavior Analysis in Practice 4(2), 45-52.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from standfast.agreement.counting import Floats
from standfast.agreement.scores import shown
from standfast.problems import Refused


@dataclass(frozen=True)
class Alike:
    """A share of agreement of two observers, 0 to 1."""

    name: str
    value: float | None
    """None: not defined, and `why` says so."""
    alike: float
    """What they agreed on; a part of an interval counts as that part."""
    of: float
    """Out of how much."""
    missing: int = 0
    """Places left out because one of the two could not see."""
    why: str = ""


def trial_by_trial(first: ArrayLike, second: ArrayLike) -> Alike:
    """Share of attempts that both scored the same: yes (1) or no (0), NaN could not be seen.

    Raises:
        Refused: not equally many attempts, or a score that is neither yes nor no.
    """
    one, two, missing = _both(first, second)
    _refuse_unless_yes_or_no(one, two)
    return _share("trial_by_trial", one == two, missing, "there is no attempt that both saw")


def interval_by_interval(first: ArrayLike, second: ArrayLike) -> Alike:
    """Share of intervals in which both saw something, or both saw nothing (counts, or 1 and 0)."""
    one, two, missing = _both(first, second)
    alike = (one > 0) == (two > 0)
    return _share("interval_by_interval", alike, missing, "there is no interval that both saw")


def scored_interval(first: ArrayLike, second: ArrayLike) -> Alike:
    """Of the intervals in which at least one saw something, the share in which both did.

    The one to read when what is looked for is rare.
    """
    one, two, missing = _both(first, second)
    either = (one > 0) | (two > 0)
    alike = ((one > 0) & (two > 0))[either]
    return _share("scored_interval", alike, missing, "neither of the two saw it in any interval")


def unscored_interval(first: ArrayLike, second: ArrayLike) -> Alike:
    """Of the intervals in which at least one saw nothing, the share in which neither did.

    The one to read when what is looked for is nearly always there.
    """
    one, two, missing = _both(first, second)
    either = (one == 0) | (two == 0)
    alike = ((one == 0) & (two == 0))[either]
    return _share("unscored_interval", alike, missing, "both of the two saw it in every interval")


def exact_count_per_interval(first: ArrayLike, second: ArrayLike) -> Alike:
    """Share of intervals in which both counted the same, e.g. how many students were idle."""
    one, two, missing = _both(first, second)
    why = "there is no interval that both saw"
    return _share("exact_count_per_interval", one == two, missing, why)


def mean_count_per_interval(first: ArrayLike, second: ArrayLike) -> Alike:
    """Mean over intervals of smaller count / larger count; two zeros agree fully."""
    one, two, missing = _both(first, second)
    why = "there is no interval that both saw"
    return _share("mean_count_per_interval", _smaller_of_larger(one, two), missing, why)


def total_count(first: ArrayLike, second: ArrayLike) -> Alike:
    """Smaller total / larger total.  Can be 1 although no interval agrees: read another too."""
    one, two, missing = _both(first, second)
    return _of_totals("total_count", one, two, missing, "neither of the two counted anything")


def total_duration(first: ArrayLike, second: ArrayLike) -> Alike:
    """Shorter total time / longer total time; durations of each occurrence in any one unit.

    The two need not have timed equally many occurrences.

    Raises:
        Refused: a duration below 0.
    """
    one, two = _column(first), _column(second)
    gaps = int(np.isnan(one).sum() + np.isnan(two).sum())
    one, two = one[~np.isnan(one)], two[~np.isnan(two)]
    return _of_totals("total_duration", one, two, gaps, "neither of the two timed anything")


def mean_duration_per_occurrence(first: ArrayLike, second: ArrayLike) -> Alike:
    """Mean over occurrences of shorter time / longer time; two zeros agree fully.

    Raises:
        Refused: not equally many occurrences, or a duration below 0.
    """
    one, two, missing = _both(first, second)
    why = "there is no occurrence that both timed"
    return _share("mean_duration_per_occurrence", _smaller_of_larger(one, two), missing, why)


def agreement_of_each(first: ArrayLike, second: ArrayLike) -> Floats:
    """For each place smaller / larger (counts or durations), 1 for two zeros, NaN for a gap."""
    one, two = _pair(first, second)
    return _smaller_of_larger(one, two)


def _smaller_of_larger(one: Floats, two: Floats) -> Floats:
    larger = np.maximum(one, two)
    ratio = np.divide(np.minimum(one, two), larger, out=np.ones_like(larger), where=larger != 0)
    return np.asarray(ratio)


def _of_totals(name: str, one: Floats, two: Floats, missing: int, why: str) -> Alike:
    smaller, larger = sorted((float(one.sum()), float(two.sum())))
    if larger == 0:
        return Alike(name, None, 0.0, 0.0, missing, why)
    return Alike(name, smaller / larger, smaller, larger, missing)


def _share(name: str, alike: ArrayLike, missing: int, why: str) -> Alike:
    each = np.asarray(alike, dtype=float)
    if not each.size:
        return Alike(name, None, 0.0, 0.0, missing, why)
    return Alike(name, float(each.mean()), float(each.sum()), float(each.size), missing)


def _both(first: ArrayLike, second: ArrayLike) -> tuple[Floats, Floats, int]:
    """What both saw, and at how many places one of them could not."""
    one, two = _pair(first, second)
    seen = ~(np.isnan(one) | np.isnan(two))
    return one[seen], two[seen], int((~seen).sum())


def _pair(first: ArrayLike, second: ArrayLike) -> tuple[Floats, Floats]:
    one, two = _column(first), _column(second)
    if one.size != two.size:
        raise Refused(
            f"one observer has {one.size} places, the other {two.size}: they cannot be laid side "
            "by side",
            ["needed: the same attempts or intervals from both, with gaps where one did not see"],
        )
    return one, two


def _column(values: ArrayLike) -> Floats:
    column = np.asarray(values, dtype=float).ravel()
    below = column[column < 0]
    if below.size:
        raise Refused(f"a count or duration is below 0: {shown(below)}")
    if np.isinf(column).any():
        raise Refused("a count or duration is infinite; it must be a number or missing")
    return column


def _refuse_unless_yes_or_no(*columns: Floats) -> None:
    for column in columns:
        others = column[(column != 0) & (column != 1)]
        if others.size:
            raise Refused(f"an attempt is yes (1) or no (0); there is {shown(np.unique(others))}")
