"""Quarters of years that begin in any month, as pandas periods have them.

Source: pandas 3.1, `Period(..., freq="Q-MAR")` and its eleven siblings: the quarter of a year
named by the calendar year in which it ends.
"""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd
import pytest

from standfast.engine.quarters import Quarter

MONTH_NAMES = ["JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC"]

# day, first month of the year, year, quarter, first day, last day
CASES = [
    ("2026-01-01", 1, 2026, 1, "2026-01-01", "2026-03-31"),
    ("2026-03-31", 4, 2026, 4, "2026-01-01", "2026-03-31"),
    ("2026-12-31", 1, 2026, 4, "2026-10-01", "2026-12-31"),
    ("2026-12-31", 10, 2027, 1, "2026-10-01", "2026-12-31"),
    ("2026-03-01", 9, 2026, 3, "2026-03-01", "2026-05-31"),
    ("2026-06-30", 7, 2026, 4, "2026-04-01", "2026-06-30"),
]


@pytest.mark.parametrize(("day", "starts", "year", "number", "first", "last"), CASES)
def test_a_day_lies_in_the_quarter_that_pandas_gives(
    day: str, starts: int, year: int, number: int, first: str, last: str
) -> None:
    quarter = Quarter.of(date.fromisoformat(day), starts)

    assert (quarter.year, quarter.number) == (year, number)
    assert (quarter.first.isoformat(), quarter.last.isoformat()) == (first, last)


@pytest.mark.parametrize("starts", range(1, 13))
def test_every_fifth_day_of_five_years_agrees_with_pandas(starts: int) -> None:
    freq = f"Q-{MONTH_NAMES[starts - 2]}"
    for n in range(0, 5 * 365, 5):
        day = date(2023, 1, 1) + timedelta(days=n)
        period = pd.Period(day, freq=freq)
        quarter = Quarter.of(day, starts)

        assert (quarter.year, quarter.number) == (period.qyear, period.quarter)
        assert (quarter.first, quarter.last) == (
            period.start_time.date(),
            period.end_time.date(),
        )
