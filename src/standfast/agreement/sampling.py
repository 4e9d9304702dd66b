"""What looking now and then finds of something that comes and goes: why looks are at a moment.

For bouts and gaps of lengths that are exponential (no memory), as in Rogosa & Ghandour (1991),
Journal of Educational Statistics 16, 157-252; formulas from memory, confirmed by simulation.
Lengths are in any one unit of time, all above 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt


@dataclass(frozen=True)
class ComesAndGoes:
    """Something that is there for `bout` on average, then away for `gap`."""

    bout: float
    gap: float

    @property
    def share(self) -> float:
        """Of the time in which it is there: what looks at a moment find on average."""
        return self.bout / (self.bout + self.gap)

    def any_time(self, interval: float) -> float:
        """The share of intervals in which it is there at any time: more than the share of time.

        Source: partial interval sampling, Powell, Martindale, Kulp, Martindale & Bauman (1977),
        Journal of Applied Behavior Analysis 10, 325-332 (from memory).
        """
        return self.share + (1 - self.share) * (1 - exp(-interval / self.gap))

    def all_the_time(self, interval: float) -> float:
        """The share of intervals in which it is there throughout: less than the share of time."""
        return self.share * exp(-interval / self.bout)

    def error_of(self, looks: int, interval: float) -> float:
        """The standard error of the share that so many looks at a moment find.

        Looks close together see the same bout: two that are k apart correlate as the k-th power.
        """
        alike = exp(-interval * (1 / self.bout + 1 / self.gap))
        together = sum((1 - k / looks) * alike**k for k in range(1, looks))
        return sqrt(self.share * (1 - self.share) / looks * (1 + 2 * together))
