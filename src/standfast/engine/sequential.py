"""Good enough, not good enough, or go on: a test that may be asked after every trial.

The likelihood ratio of an unacceptable rate of misses against an acceptable one is compared with
Wald's two bounds as fractions, so that every machine decides alike.  Source: Wald (1947),
Sequential Analysis, chapter 5.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Verdict = Literal["accept", "reject", "go on"]

LONGEST = 1000
"""Trials within which an end is looked for."""


@dataclass(frozen=True)
class Sequential:
    """A plan: two rates of misses, and how often it may be wrong about each."""

    acceptable: Fraction
    unacceptable: Fraction
    alpha: Fraction
    """How often somebody with the acceptable rate is rejected."""
    beta: Fraction
    """How often somebody with the unacceptable rate is accepted."""

    @property
    def upper(self) -> Fraction:
        """Wald's A: the ratio from which on it is rejected."""
        return (1 - self.beta) / self.alpha

    @property
    def lower(self) -> Fraction:
        """Wald's B: the ratio down from which it is accepted."""
        return self.beta / (1 - self.alpha)

    def ratio(self, misses: int, trials: int) -> Fraction:
        """How many times likelier the misses are under the unacceptable rate."""
        of_miss = self.unacceptable / self.acceptable
        of_hit = (1 - self.unacceptable) / (1 - self.acceptable)
        return Fraction(of_miss**misses * of_hit ** (trials - misses))

    def verdict(self, misses: int, trials: int) -> Verdict:
        """What so many misses in so many trials come to."""
        ratio = self.ratio(misses, trials)
        if ratio >= self.upper:
            return "reject"
        return "accept" if ratio <= self.lower else "go on"

    def most_to_accept(self, trials: int) -> int | None:
        """The most misses with which so many trials are accepted; None when not even none."""
        found = [m for m in range(trials + 1) if self.verdict(m, trials) == "accept"]
        return max(found, default=None)

    def least_to_reject(self, trials: int) -> int | None:
        """The fewest misses with which so many trials are rejected; None when not even all."""
        found = [m for m in range(trials + 1) if self.verdict(m, trials) == "reject"]
        return min(found, default=None)

    def more_to_accept(self, misses: int, trials: int) -> int:
        """How many more trials without a miss it takes to be accepted; 0 when it is."""
        more = range(LONGEST)
        return next(n for n in more if self.verdict(misses, trials + n) == "accept")
