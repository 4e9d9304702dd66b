"""A figure, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """A figure computed from ratings, its uncertainty, and where the method comes from."""

    name: str
    """Its key in machine-readable output: `cohen_kappa`."""
    value: float
    n: int
    """How many subjects it rests on."""
    source: str
    """Author and year of the method."""
    se: float | None = None
    """Standard error; None when no published form applies."""
    low: float | None = None
    high: float | None = None
    """Bounds of the interval; None when there is none."""
    level: float = 0.95
    """How often such an interval holds the true value."""
    method: str = ""
    """How error and interval were got, in words: large sample, linearised, bootstrap of 2,000."""
