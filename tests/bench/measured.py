"""What a bench hands to `run.py`, and the habits that all of them share."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One measured ratio."""

    what: str
    ratio: float
    most: float | None
    """The target; None when there is none, or another way."""
    detail: str
    least: float | None = None
    """The target, where more is better."""

    @property
    def ok(self) -> bool:
        """Whether the target is met; true when there is none, never when there is no ratio."""
        if self.least is not None:
            return self.ratio >= self.least
        return self.most is None or self.ratio <= self.most


def in_turn(each: Sequence[Callable[[], object]], rounds: int) -> list[float]:
    """The median seconds of each, done one after the other in every round."""
    times = [[seconds(do) for do in each] for _ in range(rounds)]
    return [statistics.median(of) for of in zip(*times, strict=True)]


def seconds(do: Callable[[], object]) -> float:
    """Wall seconds of one call."""
    began = time.perf_counter()
    do()
    return time.perf_counter() - began
