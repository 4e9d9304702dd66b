"""What is known of a share or a rate, and how drawn numbers are told.

A share has a beta posterior, a rate a gamma posterior: each a stated prior, worth so many
observations, and what was counted.

Source: Gelman, Carlin, Stern, Dunson, Vehtari & Rubin (2013), Bayesian Data Analysis, 3rd ed., 2.4
and 2.6 (sections from memory).
Checked against: scipy.stats.betabinom, nbinom (tests/planning/test_forecast.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

UNLIKELY = 0.01
LOW, HIGH = 0.1, 0.9
"""The bounds given around a mean: one in ten lies below, one in ten above."""


@dataclass(frozen=True)
class Share:
    """A share of people or tries: `yes` of `of` were counted, beside a prior."""

    prior: float
    weight: float
    """How many counted ones the prior is worth; more than 0."""
    yes: int = 0
    of: int = 0

    @property
    def mean(self) -> float:
        """The mean of the beta posterior."""
        return (self.prior * self.weight + self.yes) / (self.weight + self.of)

    def drawn(self, chance: np.random.Generator, draws: int) -> Floats:
        """So many values from the beta posterior; a prior of 0 or 1 that nothing gainsaid stays."""
        import numpy as np

        a = self.prior * self.weight + self.yes
        b = (1 - self.prior) * self.weight + self.of - self.yes
        if a <= 0 or b <= 0:
            return np.full(draws, 0.0 if a <= 0 else 1.0)
        return chance.beta(a, b, draws)


@dataclass(frozen=True)
class Rate:
    """So many per month or per try: `count` in `over` of them, beside a prior."""

    prior: float
    weight: float
    """How many months or tries the prior is worth; more than 0."""
    count: int = 0
    over: float = 0.0

    @property
    def mean(self) -> float:
        """The mean of the gamma posterior."""
        return (self.prior * self.weight + self.count) / (self.weight + self.over)

    def drawn(self, chance: np.random.Generator, draws: int) -> Floats:
        """So many values from the gamma posterior; a rate of 0 that nothing gainsaid stays 0."""
        import numpy as np

        shape = self.prior * self.weight + self.count
        if shape <= 0:
            return np.zeros(draws)
        return chance.gamma(shape, 1 / (self.weight + self.over), draws)


@dataclass(frozen=True)
class Spread:
    """What is expected, and how far it may lie off."""

    mean: float
    low: int
    middle: int
    high: int


def spread(sums: Counts) -> Spread:
    """Mean and points of drawn numbers; a point is a number that was drawn, never between two."""
    import numpy as np

    low, middle, high = np.quantile(sums, (LOW, 0.5, HIGH), method="inverted_cdf")
    return Spread(float(sums.mean()), int(low), int(middle), int(high))


def unevenness(counts: Sequence[int], expected: Sequence[float]) -> float:
    """How many times as much counts vary as if each came alone; 1 while that could be chance.

    Pearson's statistic over its degrees of freedom, one less than there are counts, if by chance
    alone it came out so high less than once in a hundred times.

    Source: McCullagh & Nelder (1989), Generalized Linear Models, 2nd ed., 6.2 (from memory).
    Checked against: scipy.stats.chisquare (tests/planning/test_forecast.py).
    """
    from scipy.special import chdtrc

    pairs = [pair for pair in zip(counts, expected, strict=True) if pair[1] > 0]
    degrees = len(pairs) - 1
    if degrees < 1:
        return 1.0
    statistic = sum((count - usual) ** 2 / usual for count, usual in pairs)
    return statistic / degrees if chdtrc(degrees, statistic) < UNLIKELY else 1.0
