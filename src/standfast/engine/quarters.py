"""Quarters of the calendar year, and of the school's own."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from standfast.engine.dates import DAY, MONTHS, Span
from standfast.problems import StandfastError

NamedBy = Literal["end", "start"]
_WRITTEN = re.compile(r"^(FY)?(\d{4})(?:/(\d{2}))?[ -]?Q([1-4])$", re.IGNORECASE)
HOW = "write 2026Q4 (October to December), or FY2026/27 Q2 (of the school's own year)"


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
        """The quarter that somebody wrote.

        `2026Q4` and `2026 Q4` are October to December for everybody.  Of the school's own year are
        `FY2026/27 Q2`, and `FY2027 Q2` with the calendar year that names it.

        Raises:
            StandfastError: it is none of these, or its two years do not follow each other.
        """
        read = _WRITTEN.match(text.strip())
        if not read or not 1 < int(read[2]) < 9999:  # noqa: PLR2004 - the calendar's years
            raise StandfastError(f"'{text}' is no quarter; {HOW}")
        first, second, number = int(read[2]), read[3], int(read[4])
        if second is None:
            own = read[1] or starts == 1
            return cls(first, number, starts, named_by) if own else cls(first, number)
        if starts == 1:
            raise StandfastError(
                f"'{text}' names two years, but the school's year is the calendar year; write it"
                " as 2026Q4"
            )
        if int(second) != (first + 1) % 100:
            raise StandfastError(
                f"'{text}' is no quarter; after {first} comes {(first + 1) % 100:02}"
            )
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

    def shifted(self, by: int) -> Quarter:
        """The quarter that comes so many after this one, or before it.

        >>> str(Quarter(2026, 4).shifted(1)), str(Quarter(2026, 4).shifted(-4))
        ('2027 Q1', '2025 Q4')
        """
        year, number = divmod(self.year * 4 + self.number - 1 + by, 4)
        return replace(self, year=year, number=number + 1)

    def __str__(self) -> str:
        if self.starts == 1:
            return f"{self.year} Q{self.number}"
        return f"FY{self.began}/{(self.began + 1) % 100:02} Q{self.number}"
