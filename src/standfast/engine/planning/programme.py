"""Whole-number programmes: rows over variables, solved exactly or said to be unsettled.

The one place where SciPy's `milp` is called.  Its word alone is not enough: it was seen to call
an answer optimal that breaks a row (scipy issue 24141), so whoever asks counts the answer again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from standfast.problems import StandfastError

Terms = Mapping[int, int]
"""Variable to its factor."""
FREE = float("inf")
BLOCK = 12
"""Variables that are decided together in `first_in_order`: factors up to 2**11 times the solver's
tolerance of 1e-6 stay far below one."""

_DONE, _LIMIT, _IMPOSSIBLE = 0, 1, 2  # what milp's status says


@dataclass(frozen=True)
class Watch:
    """How long an answer may take, and who is told meanwhile."""

    seconds_left: Callable[[], float]
    say: Callable[[str], None]


class Unsettled(StandfastError):  # noqa: N818 - names what it is
    """Time was over before the answer was proved.  `best` is the best one found, or None."""

    def __init__(self, best: tuple[int, ...] | None) -> None:
        self.best = best
        super().__init__(
            "time was over before an answer was proved; allow more with 'standfast plan --seconds'"
        )


@dataclass
class Programme:
    """Variables with bounds, and rows that must hold."""

    least: list[int] = field(default_factory=list)
    most: list[int] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    rows: list[tuple[Terms, float, float]] = field(default_factory=list)

    def variable(self, most: int = 1, *, whole: bool = True) -> int:
        """A new variable from 0 to `most`; gives its number."""
        self.least.append(0)
        self.most.append(most)
        self.whole.append(int(whole))
        return len(self.least) - 1

    def row(self, terms: Terms, least: float, most: float) -> None:
        """Asks that the sum lies between least and most, both included."""
        self.rows.append((terms, least, most))

    def fix(self, variable: int, value: int) -> None:
        """Asks that the variable has that value."""
        self.least[variable] = self.most[variable] = value

    def solve(self, aim: Terms, watch: Watch, *, presolve: bool = True) -> tuple[int, ...] | None:
        """Values with the least sum of `aim`, rounded; None when no values meet the rows.

        Raises:
            Unsettled: time was over.
        """
        left = watch.seconds_left()
        if left <= 0:
            raise Unsettled(None)
        factors = np.zeros(len(self.least))
        for variable, factor in aim.items():
            factors[variable] = factor
        found = self._ask(factors, left, presolve=presolve)
        if found.status not in {_DONE, _LIMIT, _IMPOSSIBLE} and presolve:
            found = self._ask(factors, max(watch.seconds_left(), 1.0), presolve=False)
        if found.status == _IMPOSSIBLE:
            return None
        values = None if found.x is None else tuple(int(v) for v in np.rint(found.x))
        if found.status == _LIMIT:
            raise Unsettled(values)
        if found.status != _DONE or values is None:
            raise StandfastError(f"the solver gave up ({found.message}); change the day a little")
        return values

    def _ask(self, factors: Any, seconds: float, *, presolve: bool) -> Any:  # noqa: ANN401 - SciPy's
        constraints = []
        if self.rows:
            shape = (len(self.rows), len(self.least))
            entries = [
                (n, v, f) for n, (terms, _, _) in enumerate(self.rows) for v, f in terms.items()
            ]
            numbers = np.array(entries, dtype=float).reshape(-1, 3).T
            places = (numbers[0].astype(int), numbers[1].astype(int))
            matrix = coo_array((numbers[2], places), shape=shape).tocsr()
            constraints.append(
                LinearConstraint(matrix, [r[1] for r in self.rows], [r[2] for r in self.rows])
            )
        return milp(
            factors,
            integrality=np.array(self.whole),
            bounds=Bounds(self.least, self.most),
            constraints=constraints,
            options={"mip_rel_gap": 0.0, "time_limit": seconds, "presolve": presolve},
        )


def worth(aim: Terms, values: Sequence[int]) -> int:
    """The sum of `aim` at those values."""
    return sum(factor * values[variable] for variable, factor in aim.items())


def first_in_order(
    programme: Programme, variables: Iterable[int], watch: Watch
) -> tuple[int, ...] | None:
    """Of all values that meet the rows, those that come first: a 1 as early as can be.

    Fixes the variables, which are 0 or 1, in the programme.  The answer depends on the rows alone,
    so it is the same whichever of the many solutions a solver likes best.

    Raises:
        Unsettled: time was over; `best` meets the rows.
    """
    order, values = list(variables), None
    for start in range(0, len(order), BLOCK):
        block = order[start : start + BLOCK]
        aim = {variable: -(2 ** (len(block) - 1 - n)) for n, variable in enumerate(block)}
        try:
            found = programme.solve(aim, watch)
        except Unsettled as over:
            raise Unsettled(over.best or values) from None
        if found is None:
            return None
        values = found
        for variable in block:
            programme.fix(variable, values[variable])
    return values
