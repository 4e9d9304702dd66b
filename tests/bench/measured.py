"""What a bench hands to `run.py`, and the habits that all of them share."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One measured ratio."""

    what: str
    ratio: float
    most: float | None
    """The target; None when the ratio is only shown."""
    detail: str

    @property
    def ok(self) -> bool:
        """Whether the target is met; true when there is none."""
        return self.most is None or self.ratio <= self.most


def seconds(do: Callable[[], object]) -> float:
    """Wall seconds of one call."""
    began = time.perf_counter()
    do()
    return time.perf_counter() - began
