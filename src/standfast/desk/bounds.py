"""Bounds of the figures beyond chance, by drawing lessons again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standfast.agreement.estimate import Estimate
    from standfast.desk.marks import Marks


@dataclass(frozen=True)
class Bounds:
    """Of one criterion."""

    figures: Mapping[str, Estimate] = field(default_factory=dict)
    """By the name of the figure; those that have no bounds are not there."""
    left_out: tuple[str, ...] = ()
    """Why, a sentence each."""


def bounds_of(marks: Marks, shown: Mapping[str, Sequence[Estimate]]) -> dict[str, Bounds]:
    """The bounds of each criterion's figures; `shown` has these by the criterion's name."""
    from standfast.agreement.by_lesson import draws_of, intervals

    draws = draws_of(marks.ratings)
    found = {}
    for code, name in enumerate(marks.ratings.criteria):
        if shown.get(name):
            figures = {one.name: one for one in shown[name]}
            found[name] = Bounds(*intervals(marks.ratings, code, figures, draws))
    return found
