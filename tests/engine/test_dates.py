"""The days of an award, of what renews it, and its standing on a day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine.made import award

from standfast.engine.dates import (
    Span,
    add,
    award_dates,
    last_day,
    renewed_dates,
    standing,
    subtract,
)
from standfast.model.award import AwardDates
from standfast.model.rubric import Refresher, Validity
from standfast.problems import Refused

DAY = timedelta(days=1)
DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))
PERIODS = st.builds(
    lambda y, m, d: f"P{y}Y{m}M{d}D", st.integers(0, 6), st.integers(0, 30), st.integers(1, 90)
)
TWO_YEARS = Validity(
    period="P2Y",
    refresher=Refresher(every="P1Y", window="P2M"),
    grace="P1M",
    in_grace="does not teach alone",
    lapse_limit="P1Y",
)
GRANTED = date(2024, 2, 29)
DATES = award_dates(TWO_YEARS, GRANTED)


def day(text: str) -> date:
    return date.fromisoformat(text)


# Periods


@given(DAYS, PERIODS, PERIODS)
def test_a_longer_wait_never_ends_earlier(start: date, one: str, other: str) -> None:
    first, second = Span.of(one), Span.of(other)
    longer = first + second

    assert longer.after(start) >= max(first.after(start), start)


@given(DAYS, st.integers(0, 400), PERIODS)
def test_a_later_start_never_ends_earlier(start: date, later: int, period: str) -> None:
    assert add(start + timedelta(days=later), period) >= add(start, period)


@given(DAYS, PERIODS)
def test_a_window_opens_before_it_closes(end: date, period: str) -> None:
    assert subtract(end, period) < end


def test_weeks_are_seven_days() -> None:
    assert add(day("2026-03-01"), "P6W") == day("2026-04-12")


def test_a_period_past_the_calendar_is_refused_in_words() -> None:
    with pytest.raises(Refused, match="years 1 to 9999"):
        add(day("2026-03-01"), "P9000Y")


# The last day


@pytest.mark.parametrize(
    ("start", "months", "rule", "last"),
    [
        pytest.param("2026-03-01", 24, "same-date", "2028-03-01", id="first day not counted"),
        pytest.param("2026-03-01", 24, "day-before", "2028-02-29", id="first day counted"),
        pytest.param("2024-02-29", 24, "same-date", "2026-02-28", id="no such date"),
        # standards.md section 6: 28 February, not the pinned day minus one.
        pytest.param("2024-02-29", 24, "day-before", "2026-02-28", id="no such date, counted"),
        pytest.param("2024-02-29", 48, "day-before", "2028-02-28", id="date exists, counted"),
        pytest.param("2024-02-29", 48, "same-date", "2028-02-29", id="date exists"),
    ],
)
def test_the_last_day_follows_the_schools_reading(
    start: str, months: int, rule: str, last: str
) -> None:
    reading = Validity.model_validate({"period": "P1Y", "last_day": rule}).last_day

    assert last_day(day(start), Span(months), reading) == day(last)


# An award's days


def test_an_award_counts_every_day_from_its_first() -> None:
    assert (
        AwardDates(
            counted_from=GRANTED,
            first_day=GRANTED,
            last_day=day("2026-02-28"),
            refresher_opens=day(
                "2024-12-29"
            ),  # 10 months from the 29th, not 2 before the pinned 28th
            refresher_due=day("2025-02-28"),
            grace_until=day("2025-03-29"),  # 13 months from the 29th
            full_practical_after=day("2026-03-29"),
        )
        == DATES
    )


def test_a_refresher_is_never_due_after_the_last_day() -> None:
    validity = TWO_YEARS.model_copy(update={"period": "P1Y", "last_day": "day-before"})
    dates = award_dates(validity, day("2026-03-01"))

    assert dates.last_day == dates.refresher_due == day("2027-02-28")
    assert dates.grace_until == day("2027-03-31")


def test_without_a_refresher_only_a_full_practical_follows() -> None:
    dates = award_dates(Validity(period="P1Y"), day("2026-03-01"))

    assert dates.refresher_due is dates.grace_until is None
    assert dates.full_practical_after == dates.last_day == day("2027-03-01")


@given(
    DAYS, PERIODS, PERIODS, PERIODS, PERIODS, PERIODS, st.sampled_from(["same-date", "day-before"])
)
def test_an_awards_days_stand_in_order(
    granted: date, period: str, every: str, window: str, grace: str, limit: str, rule: str
) -> None:
    validity = Validity.model_validate(
        {
            "period": period,
            "last_day": rule,
            "refresher": {"every": every, "window": window},
            "grace": grace,
            "lapse_limit": limit,
        }
    )
    d = award_dates(validity, granted)

    assert d.refresher_opens is not None
    assert d.refresher_due is not None
    assert d.grace_until is not None
    assert d.full_practical_after is not None
    assert granted <= d.refresher_opens <= d.refresher_due <= d.last_day
    assert d.refresher_due <= d.grace_until <= d.full_practical_after


# Renewal


@pytest.mark.parametrize(
    "passed",
    [
        pytest.param("2024-12-29", id="the day it opens"),
        pytest.param("2025-01-15", id="in the window"),
        pytest.param("2025-02-28", id="the day it is due"),
    ],
)
def test_a_refresher_in_its_window_keeps_the_anniversary(passed: str) -> None:
    renewed = renewed_dates(TWO_YEARS, DATES, day(passed))

    assert renewed.counted_from == GRANTED
    assert renewed.first_day == day(passed)
    assert renewed.refresher_due == day("2026-02-28")
    assert renewed.last_day == day("2027-02-28")


def test_four_refreshers_in_a_row_come_back_to_the_leap_day() -> None:
    dates = DATES
    for _ in range(3):
        assert dates.refresher_due is not None
        dates = renewed_dates(TWO_YEARS, dates, dates.refresher_due)

    assert dates.refresher_due == day("2028-02-29")


@pytest.mark.parametrize(
    ("passed", "next_due"),
    [
        pytest.param("2025-03-01", "2026-03-01", id="a day late, in grace"),
        pytest.param("2025-03-29", "2026-03-29", id="last day of grace"),
        pytest.param("2025-03-30", "2026-03-30", id="lapsed"),
        pytest.param("2026-03-29", "2027-03-29", id="last day a refresher suffices"),
    ],
)
def test_a_late_refresher_starts_a_new_anniversary(passed: str, next_due: str) -> None:
    renewed = renewed_dates(TWO_YEARS, DATES, day(passed))

    assert renewed.counted_from == day(passed)
    assert renewed.refresher_due == day(next_due)


@pytest.mark.parametrize(
    ("passed", "why"),
    [
        pytest.param("2024-12-28", "opens on 2024-12-29", id="a day before it opens"),
        pytest.param("2026-03-30", "full practical", id="a day after it sufficed"),
    ],
)
def test_a_refresher_too_early_or_too_late_is_refused(passed: str, why: str) -> None:
    with pytest.raises(Refused, match=why):
        renewed_dates(TWO_YEARS, DATES, day(passed))


def test_an_award_without_a_refresher_cannot_be_refreshed() -> None:
    validity = Validity(period="P1Y")

    with pytest.raises(Refused, match="full practical"):
        renewed_dates(validity, award_dates(validity, GRANTED), GRANTED + DAY)


def test_a_changed_refresher_period_goes_on_from_the_day_it_was_due() -> None:
    changed = TWO_YEARS.model_copy(update={"refresher": Refresher(every="P18M", window="P2M")})
    renewed = renewed_dates(changed, DATES, day("2025-02-01"))

    assert renewed.counted_from == day("2025-02-28")
    assert renewed.refresher_due == day("2026-08-28")


def test_the_day_before_reading_keeps_the_anniversary_too() -> None:
    validity = TWO_YEARS.model_copy(update={"period": "P1Y", "last_day": "day-before"})
    dates = award_dates(validity, day("2026-03-01"))
    renewed = renewed_dates(validity, dates, day("2027-02-28"))

    assert renewed.counted_from == day("2026-03-01")
    assert renewed.last_day == day("2028-02-29")


@given(DAYS, st.integers(0, 1500), st.integers(0, 1500))
def test_a_renewal_never_goes_backwards(granted: date, wait: int, longer: int) -> None:
    dates = award_dates(TWO_YEARS, granted)
    renewals = []
    for passed in (granted + timedelta(days=wait), granted + timedelta(days=wait + longer)):
        try:
            renewals.append(renewed_dates(TWO_YEARS, dates, passed))
        except Refused:
            return

    one, other = renewals
    assert one.last_day >= dates.last_day
    assert one.refresher_due is not None
    assert dates.refresher_due is not None
    assert other.refresher_due is not None
    assert one.refresher_due > dates.refresher_due
    assert (other.last_day, other.refresher_due) >= (one.last_day, one.refresher_due)


# Standing


@pytest.mark.parametrize(
    ("on", "state", "until"),
    [
        pytest.param("2024-02-28", "lapsed", "2024-02-28", id="not begun"),
        pytest.param("2024-02-29", "current", "2024-12-28", id="first day"),
        pytest.param("2024-12-28", "current", "2024-12-28", id="day before the window"),
        pytest.param("2024-12-29", "refresher due", "2025-02-28", id="window opens"),
        pytest.param("2025-02-28", "refresher due", "2025-02-28", id="due today"),
        pytest.param("2025-03-01", "in grace", "2025-03-29", id="a day late"),
        pytest.param("2025-03-29", "in grace", "2025-03-29", id="last day of grace"),
        pytest.param("2025-03-30", "lapsed", None, id="past grace"),
        pytest.param("2026-03-30", "lapsed", None, id="needs a full practical"),
    ],
)
def test_an_award_stands_by_its_days(on: str, state: str, until: str | None) -> None:
    found = standing(award(DATES), {}, day(on))

    assert (found.state, found.until) == (state, day(until) if until else None)


@pytest.mark.parametrize(
    ("on", "step"),
    [
        pytest.param("2026-03-29", "refresher", id="last day a refresher suffices"),
        pytest.param("2026-03-30", "full practical", id="the day after"),
    ],
)
def test_a_lapsed_award_says_what_renews_it(on: str, step: str) -> None:
    assert step in standing(award(DATES), {}, day(on)).next_step


@pytest.mark.parametrize(
    ("last", "state"),
    [
        pytest.param("2024-06-01", "current", id="ends today"),
        pytest.param("2024-05-31", "lapsed", id="ended yesterday"),
        pytest.param(None, "lapsed", id="none recorded"),
    ],
)
def test_an_award_lapses_with_a_document(last: str | None, state: str) -> None:
    documents = {"first-aid": day(last) if last else None, "insurance": day("2030-01-01")}
    found = standing(award(DATES, ("first-aid", "insurance")), documents, day("2024-06-01"))

    assert found.state == state
    assert found.ends < DATES.last_day
    assert found.ends_by.startswith("first-aid")


def test_of_several_documents_each_that_ended_is_said_and_the_first_ends_the_award() -> None:
    kinds = ("first-aid", "insurance", "safeguarding-check")
    held = {
        "first-aid": day("2024-05-31"),
        "insurance": day("2024-05-30"),
        "safeguarding-check": day("2024-06-01"),
    }

    before, after = (standing(award(DATES, kinds), held, day(on)) for on in BOTH)

    assert (before.state, before.until) == ("current", day("2024-05-30"))
    assert before.next_step.startswith("renew insurance by 2024-05-30; refresher")
    assert after.because == "insurance ended on 2024-05-30; first-aid ended on 2024-05-31"
    assert after.next_step == "hand in the renewed insurance and first-aid, each with its last day"
    assert (after.ends, after.ends_by) == (day("2024-05-30"), "insurance")


BOTH = ("2024-05-30", "2024-06-01")


def test_a_document_that_the_award_does_not_name_changes_nothing() -> None:
    found = standing(award(DATES), {"insurance": day("2024-01-01")}, day("2024-06-01"))

    assert (found.state, found.ends, found.ends_by) == ("current", DATES.last_day, "award")


def test_a_state_lasts_no_longer_than_a_document() -> None:
    found = standing(award(DATES, ("first-aid",)), {"first-aid": day("2024-07-01")}, GRANTED)

    assert found.until == day("2024-07-01")


def test_an_award_without_refresher_is_current_to_its_last_day() -> None:
    dates = award_dates(Validity(period="P1Y"), day("2026-03-01"))

    assert standing(award(dates), {}, day("2027-03-01")).state == "current"
    assert standing(award(dates), {}, day("2027-03-02")).state == "lapsed"


@given(st.integers(0, 1200), st.integers(0, 1200))
def test_standing_never_gets_better_by_waiting(wait: int, longer: int) -> None:
    order = ["current", "refresher due", "in grace", "lapsed"]
    on = GRANTED + timedelta(days=wait)
    then = on + timedelta(days=longer)
    now, later = (standing(award(DATES), {}, d) for d in (on, then))

    assert order.index(now.state) <= order.index(later.state)
    if now.until is not None and then <= now.until:
        assert later.state == now.state


@pytest.mark.parametrize(
    ("on", "counts_until"),
    [
        pytest.param("2024-02-28", None, id="not begun"),
        pytest.param("2024-02-29", "2025-03-29", id="first day"),
        pytest.param("2025-02-28", "2025-03-29", id="due today"),
        pytest.param("2025-03-01", "2025-03-29", id="in grace"),
        pytest.param("2025-03-29", "2025-03-29", id="last day of grace"),
        pytest.param("2025-03-30", None, id="past grace"),
    ],
)
def test_an_award_counts_no_longer_than_its_grace(on: str, counts_until: str | None) -> None:
    found = standing(award(DATES), {}, day(on))

    assert found.counts_until == (day(counts_until) if counts_until else None)


def test_an_award_counts_no_longer_than_its_documents() -> None:
    held = {"first-aid": day("2024-06-30")}

    assert standing(award(DATES, ("first-aid",)), held, GRANTED).counts_until == held["first-aid"]


@given(st.integers(0, 1200))
def test_the_last_day_on_which_it_counts_is_the_last_one(wait: int) -> None:
    last = standing(award(DATES), {}, GRANTED + timedelta(days=wait)).counts_until
    if last is not None:
        assert standing(award(DATES), {}, last).counts_until == last
        assert standing(award(DATES), {}, last + timedelta(days=1)).counts_until is None
