"""Quarters of the school's own year."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Literal

from standfast.engine.dates import DAY, MONTHS, Span
from standfast.problems import Refused

NamedBy = Literal["end", "start"]
_WRITTEN = re.compile(r"^(?:FY)?(\d{4})(?:/(\d{2}))?[ -]?Q([1-4])$", re.IGNORECASE)


@dataclass(frozen=True, order=True)
class Quarter:
    """One quarter of a year that begins in any month.

    `year` is the calendar year that names the school's year: the one it ends in, or the one it
    starts in.  Both are the same when it starts in January.

    Checked against: pandas periods `Q-DEC` to `Q-NOV` for all twelve start months.
    """

    year: int
    number: int
    starts: int = 1
    named_by: NamedBy = "end"

    @classmethod
    def of(cls, day: date, starts: int = 1, named_by: NamedBy = "end") -> Quarter:
        """The quarter that the day lies in.

        >>> str(Quarter.of(date(2026, 12, 31), starts=10))
        'FY2026/27 Q1'
        """
        began = day.year if day.month >= starts else day.year - 1
        year = began if starts == 1 or named_by == "start" else began + 1
        return cls(year, (day.month - starts) % MONTHS // 3 + 1, starts, named_by)

    @classmethod
    def parse(cls, text: str, starts: int = 1, named_by: NamedBy = "end") -> Quarter:
        """The quarter that somebody wrote: `2026Q4`, `2026 Q4` or `FY2026/27 Q2`.

        Raises:
            Refused: it is none of these, or its two years do not follow each other.
        """
        read = _WRITTEN.match(text.strip())
        if not read or not 1 < int(read[1]) < 9999:  # noqa: PLR2004 - the calendar's years
            raise Refused(f"'{text}' is no quarter; write it as 2026Q4 or FY2026/27 Q2")
        first, second, number = int(read[1]), read[2], int(read[3])
        if second is None:
            return cls(first, number, starts, named_by)
        if starts == 1:
            raise Refused(f"'{text}' names two years, but the school's year is the calendar year")
        if int(second) != (first + 1) % 100:
            raise Refused(f"'{text}' is no quarter; after {first} comes {(first + 1) % 100:02}")
        return cls(first if named_by == "start" else first + 1, number, starts, named_by)

    @property
    def began(self) -> int:
        """The calendar year in which the school's year begins."""
        return self.year if self.starts == 1 or self.named_by == "start" else self.year - 1

    @property
    def first(self) -> date:
        """The first day."""
        return Span(3 * (self.number - 1)).after(date(self.began, self.starts, 1))

    @property
    def last(self) -> date:
        """The last day, inclusive."""
        return Span(3).after(self.first) - DAY

    def __str__(self) -> str:
        if self.starts == 1:
            return f"{self.year} Q{self.number}"
        return f"FY{self.began}/{(self.began + 1) % 100:02} Q{self.number}"
