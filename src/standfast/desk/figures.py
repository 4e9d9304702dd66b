"""The figures about one criterion beside plain agreement: the one place to add another.

A figure takes the marks of a criterion as `subjects x raters`, NaN for what was not marked, and
gives estimates; or refuses with a sentence that says what the marks do not support.  Each is
computed for every criterion with shared marks, shown by its name, and stands in the JSON.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, TypeAlias

from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.agreement.estimate import Estimate
    from standfast.agreement.ratings import Scores

Figure: TypeAlias = "Callable[[Scores], Iterable[Estimate]]"


def figures() -> tuple[Figure, ...]:
    """Every figure that there is, in the order in which they are shown."""
    return ()


def figures_of(
    scores: Scores, wanted: Iterable[Figure] | None = None
) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    """The figures of one criterion, and why the others are left out."""
    found: list[Estimate] = []
    refused: list[str] = []
    for figure in figures() if wanted is None else wanted:
        try:
            found.extend(figure(scores))
        except Refused as why:
            refused.append(str(why))
    return tuple(found), tuple(refused)
