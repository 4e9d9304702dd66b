"""How much the looks at waiting students can say: looks close together are alike.

A student who is idle at one look is often idle at the next, so 60 looks are worth fewer than 60
coin tosses.  Each look counts as one observation however many students wait (they are idle
together; this is on the careful side), and the looks of a practical are discounted by how alike
neighbours are:

    n_effective = n (1 - r) / (1 + r)

with r the correlation of the idle share of a look with that of the look before it, both from the
practical's own mean, pooled over practicals.  Measured in short series r comes out too small;
`(q r + 1) / (q - 3)`, with q neighbouring pairs to a practical, puts that right on average.  It
is kept between 0 and 0.95.  Where a practical has so few looks that this cannot be told (three
pairs or fewer), 0.95 is assumed.

What this does not know: practicals that differ from each other as wholes; and bouts of idleness
so long and rare that a lesson may show none.  In the simulated lesson (two lessons of 24 looks, a
true share of 25 %, 80 % assurance) the upper bound holds in 83 to 88 of 100 cases for r from 0 to
0.8, where counting every look as independent holds in 88 down to 63.  With a true share of 10 %
and r of 0.8 it holds in 60 only (one lesson: 45), still never less often than plain counting.

Source: Bartlett (1946) for the effective number, Kendall (1954) for the bias; from memory.
Checked against: simulated lessons in which idleness comes and goes (tests/engine/test_looks.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from standfast.engine.intervals import MOST_NEEDED, SURE, lower_bound, upper_bound
from standfast.engine.tallies import Looks
from standfast.model.rubric import IdleStandard

MOST_ALIKE = Fraction(95, 100)
FEWEST_PAIRS = 3
METHOD = "clopper-pearson, effective looks"


@lru_cache(4096)
def alikeness(practicals: tuple[tuple[tuple[int, int], ...], ...]) -> Fraction:
    """How alike neighbouring looks are, from 0 to 0.95; exact."""
    together = spread = Fraction(0)
    pairs = looks = with_pairs = 0
    for practical in practicals:
        shares = [Fraction(idle, waiting) for idle, waiting in practical]
        mean = sum(shares, Fraction(0)) / len(shares)
        off = [share - mean for share in shares]
        together += sum((a * b for a, b in pairwise(off)), Fraction(0))
        spread += sum((a * a for a in off), Fraction(0))
        pairs += len(off) - 1
        looks += len(off)
        with_pairs += len(off) > 1
    if pairs <= FEWEST_PAIRS * with_pairs:
        return MOST_ALIKE
    measured = (together / pairs) / (spread / looks) if spread else Fraction(0)
    a_practical = Fraction(pairs, with_pairs)
    unbiased = (a_practical * measured + 1) / (a_practical - FEWEST_PAIRS)
    return min(max(unbiased, Fraction(0)), MOST_ALIKE)


@dataclass(frozen=True)
class IdleShare:
    """The idle share, how many independent looks it stands on, and its one-sided bounds."""

    value: float
    effective: float
    low: float
    high: float


def idle_share(looks: Looks, assurance: float) -> IdleShare:
    """What the looks say of the idle share; there must be one with somebody waiting."""
    alike = alikeness(looks.practicals)
    value = Fraction(looks.idle, looks.waiting)
    effective = looks.seen * (1 - alike) / (1 + alike)
    x, n = float(value * effective), float(effective)
    return IdleShare(
        value=float(value),
        effective=n,
        low=lower_bound(x, n, assurance, "clopper-pearson"),
        high=upper_bound(x, n, assurance, "clopper-pearson"),
    )


def low_enough(high: float, standard: IdleStandard) -> bool:
    """Whether the upper bound is at most the standard."""
    return round(high, SURE) <= standard.idle


def too_high(low: float, standard: IdleStandard) -> bool:
    """Whether the lower bound is over the standard."""
    return round(low, SURE) > standard.idle


def idle_free_looks_needed(looks: Looks, standard: IdleStandard) -> int | None:
    """How many more looks with nobody idle reach the standard, if they are as alike as before.

    The students idle so far stay, the looks grow; None when 4,096 looks are not enough.
    """
    alike = float(alikeness(looks.practicals)) if looks.seen else 0.0
    worth = (1 - alike) / (1 + alike)
    share = looks.idle / looks.waiting if looks.waiting else 0.0
    x = share * looks.seen * worth

    def enough(more: int) -> bool:
        n = (looks.seen + more) * worth
        return low_enough(upper_bound(x, n, standard.assurance, "clopper-pearson"), standard)

    least = max(standard.least - looks.seen, 1)
    if enough(least):
        return least
    low, high = least, 2 * least
    while not enough(high):
        low, high = high, 2 * high
        if high > MOST_NEEDED:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high
