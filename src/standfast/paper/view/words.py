"""Words and figures that every page shares."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from math import ceil, floor

from standfast.model.caution import NO_PERMISSION
from standfast.model.school import School

CAUTION = (
    f"This paper records what was seen on the days it names. {NO_PERMISSION[0]}",
    *NO_PERMISSION[1:],
)
INVENTED = "Invented for demonstration: no such school or people"
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def day(value: date) -> str:
    """A day as a person reads it: 1 March 2026."""
    return f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def month(value: date) -> str:
    """The month of a day as a person reads it: March 2026."""
    return f"{MONTHS[value.month - 1]} {value.year}"


_ISO_DAY = re.compile(r"(?<![\w/-])\d{4}-\d{2}-\d{2}(?![\w-])")
"""No part of a name, as in sandhof-2026-10-13."""
_ISO_PERIOD = re.compile(r"\bP(?:\d+[YMWD])+\b")
_UNITS = {"Y": "year", "M": "month", "W": "week", "D": "day"}


def in_words(text: str) -> str:
    """The text with its days and periods as a person reads them.

    >>> in_words("nothing older than P6M, so from 2026-03-01 on")
    'nothing older than 6 months, so from 1 March 2026 on'
    """
    return _ISO_PERIOD.sub(_period, _ISO_DAY.sub(_day, text))


def _day(found: re.Match[str]) -> str:
    try:
        return day(date.fromisoformat(found[0]))
    except ValueError:  # what somebody typed, told to her
        return found[0]


def _period(found: re.Match[str]) -> str:
    parts = re.findall(r"(\d+)([YMWD])", found[0])
    return listed([f"{n} {_UNITS[unit]}{'' if n == '1' else 's'}" for n, unit in parts])


def percent(share: float) -> str:
    """A share as a percentage with one decimal: 92.3 %."""
    return f"{share * 100:.1f} %"


def asked(share: float) -> str:
    """A share that a rubric asks for, as it was written: 85 %, 87.5 %."""
    return f"{round(share * 100, 6):g} %"


def between(low: float, high: float) -> str:
    """Bounds as percentages, each rounded to the side that promises less: 93.9 % to 98.8 %."""
    down = floor(round(low * 1000, 6)) / 10
    up = ceil(round(high * 1000, 6)) / 10
    return f"{down:.1f} % to {up:.1f} %"


def cautions(school: School) -> tuple[str, ...]:
    """The cautions that every permission carries, and the school's own after them."""
    return (*CAUTION, school.caution) if school.caution else CAUTION


def listed(items: Sequence[str]) -> str:
    """Items as a person says them: one, two and three."""
    if len(items) <= 1:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


LONG_NAME, VERY_LONG_NAME = 34, 70


def name_size(name: str) -> str:
    """How big a name may be printed: usual, long, very-long."""
    if len(name) > VERY_LONG_NAME:
        return "very-long"
    return "long" if len(name) > LONG_NAME else "usual"
