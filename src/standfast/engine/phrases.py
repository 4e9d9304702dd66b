"""How numbers read in reasons: no figure is rounded so that it seems to reach its standard."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

DIGITS = 6
"""Figures carry as many digits as every machine agrees on."""
_SLACK = 1e-9


def kept(value: float) -> float:
    """The number as a figure keeps it: six digits after the point, the same on every machine."""
    return round(value, DIGITS)


def percent(share: float) -> str:
    """A share as somebody wrote it: 0.85 is `85 %`."""
    return f"{(Decimal(repr(share)) * 100).normalize():f} %"


def percent_down(share: float | Fraction) -> str:
    """A share with one digit, rounded down: for what is reached at least."""
    tenths = math.floor(share * 1000) if isinstance(share, Fraction) else _floor(share * 1000)
    return f"{tenths / 10:.1f} %"


def percent_up(share: float) -> str:
    """A share with one digit, rounded up: for what is not passed."""
    return f"{-_floor(-share * 1000) / 10:.1f} %"


def _floor(value: float) -> int:
    return math.floor(value + _SLACK)


def count(number: int, thing: str, things: str = "") -> str:
    """`1 lapse`, `2 lapses`, `no lapse`."""
    if number == 0:
        return f"no {thing}"
    return f"{number} {thing if number == 1 else things or thing + 's'}"


def assured(assurance: float) -> str:
    """`with 80 % assurance`."""
    return f"with {percent(assurance)} assurance"


def between(low: float, high: float, assurance: float) -> str:
    """Both bounds: the lower one rounded down, the upper one rounded up."""
    return f"from {percent_down(low)} to {percent_up(high)}, each {assured(assurance)}"
