"""What a bench hands to `run.py`, and the habits that all of them share."""

from __future__ import annotations

import resource
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path


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


def memory(what: str) -> float | None:
    """MiB of this process as Linux tells them: VmRSS, or VmHWM for the most; None elsewhere."""
    try:
        lines = Path("/proc/self/status").read_text("ascii").splitlines()
    except OSError:
        return None
    (found,) = (line.split()[1] for line in lines if line.startswith(what))
    return int(found) / 1024


def most_memory() -> float:
    """The most MiB that this process, or one that it started and that has ended, had at once.

    `getrusage` of this one would also count what the process had that started it: on Linux the
    peak of a process outlives exec.
    """
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    unit = 1 << 20 if sys.platform == "darwin" else 1 << 10
    own, children = (one.ru_maxrss / unit for one in used)
    return max(memory("VmHWM") or own, children)
