"""The next day that matters: named while it is ahead, gone the day after, and nothing is missed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made

from standfast.engine.dates import DAY, award_dates, standing
from standfast.model.award import Award, Ruling, RulingKind, Standing
from standfast.model.rubric import Refresher, Validity

YEARS_TWO = Validity(
    period="P2Y", refresher=Refresher(every="P1Y", window="P2M"), grace="P1M", lapse_limit="P1Y"
)
WITHOUT_GRACE = Validity(period="P3Y", refresher=Refresher(every="P1Y", window="P6W"))
VALIDITIES = (YEARS_TWO, WITHOUT_GRACE, Validity(period="P9M"))
# A leap day, the last day of February, of a long month, of a year, and a plain one.
GRANTED = (
    date(2024, 2, 29),
    date(2026, 2, 28),
    date(2026, 8, 31),
    date(2025, 12, 31),
    date(2026, 3, 17),
)
KINDS = ("first-aid", "insurance")


def told(award: Award, on: date, **documents: date | None) -> Standing:
    return standing(award, {kind.replace("_", "-"): day for kind, day in documents.items()}, on)


@pytest.mark.parametrize(
    ("on", "next_day", "why"),
    [
        pytest.param("2024-02-28", "2024-02-29", "the award begins", id="not begun"),
        pytest.param("2024-02-29", "2024-12-29", "the refresher opens", id="first day, a leap day"),
        pytest.param("2024-12-28", "2024-12-29", "the refresher opens", id="before the window"),
        pytest.param("2024-12-29", "2025-02-28", "can be taken now", id="window opens"),
        pytest.param("2025-02-27", "2025-02-28", "the refresher is due", id="a day before due"),
        pytest.param("2025-02-28", "2025-02-28", "the refresher is due", id="due, end of February"),
        pytest.param("2025-03-01", "2025-03-29", "grace ends", id="a day late"),
        pytest.param("2025-03-29", "2025-03-29", "grace ends", id="last day of grace"),
        pytest.param("2025-03-30", "2026-03-29", "a full practical after", id="past grace"),
        pytest.param("2026-03-29", "2026-03-29", "a full practical after", id="last a refresher"),
        pytest.param("2026-03-30", None, "", id="nothing is ahead any more"),
    ],
)
def test_each_day_is_named_until_it_is_over(on: str, next_day: str | None, why: str) -> None:
    award = made.award(award_dates(YEARS_TWO, date(2024, 2, 29)))

    found = told(award, date.fromisoformat(on))

    assert found.next_day == (date.fromisoformat(next_day) if next_day else None)
    assert why in found.next_because


@pytest.mark.parametrize(
    ("last", "on", "next_day", "why"),
    [
        pytest.param("2024-06-30", "2024-06-29", "2024-06-30", "first-aid ends, before", id="1"),
        pytest.param("2024-06-30", "2024-06-30", "2024-06-30", "first-aid ends, before", id="0"),
        pytest.param("2024-06-30", "2024-07-01", "2024-12-29", "refresher opens", id="after"),
        pytest.param("2026-02-28", "2024-07-01", "2024-12-29", "refresher opens", id="sooner"),
    ],
)
def test_a_document_that_ends_first_is_the_day_that_matters(
    last: str, on: str, next_day: str, why: str
) -> None:
    award = made.award(award_dates(YEARS_TWO, date(2024, 2, 29)), ["first-aid"])

    found = told(award, date.fromisoformat(on), first_aid=date.fromisoformat(last))

    assert found.next_day == date.fromisoformat(next_day)
    assert why in found.next_because


def test_a_document_that_ends_with_the_award_says_so() -> None:
    award = made.award(award_dates(Validity(period="P1Y"), date(2025, 12, 31)), ["insurance"])

    found = told(award, date(2026, 12, 30), insurance=date(2026, 12, 31))

    assert (found.next_day, found.next_because) == (
        date(2026, 12, 31),
        "insurance ends, with the award",
    )


@pytest.mark.parametrize(
    ("on", "because", "step"),
    [
        pytest.param(
            "2025-02-28", "first-aid ended on 2025-01-31", "hand in the renewed", id="due"
        ),
        pytest.param(
            "2025-03-29",
            "first-aid ended on 2025-01-31; refresher was due on 2025-02-28; grace runs until",
            "hand in the renewed first-aid, with its last day; then pass a refresher now",
            id="in grace",
        ),
        pytest.param(
            "2025-03-30",
            "first-aid ended on 2025-01-31; refresher was due on 2025-02-28",
            "then pass a refresher by 2026-03-29",
            id="past grace",
        ),
        pytest.param(
            "2026-03-30",
            "a refresher sufficed until 2026-03-29",
            "then a full practical is needed again",
            id="too late for a refresher",
        ),
    ],
)
def test_what_is_late_and_lacks_a_document_needs_both(on: str, because: str, step: str) -> None:
    award = made.award(award_dates(YEARS_TWO, date(2024, 2, 29)), ["first-aid"])

    found = told(award, date.fromisoformat(on), first_aid=date(2025, 1, 31))

    assert found.state == "lapsed"
    assert because in found.because
    assert step in found.next_step
    assert ("then" in found.next_step) == (on > "2025-02-28")


lives = st.builds(
    lambda validity, granted, kinds: made.award(award_dates(validity, granted), kinds),
    st.sampled_from(VALIDITIES),
    st.sampled_from(GRANTED),
    st.sets(st.sampled_from(KINDS)).map(sorted),
)
papers = st.dictionaries(st.sampled_from(KINDS), st.integers(-30, 1500), max_size=2)


@given(lives, papers, st.integers(-10, 1300))
def test_nothing_changes_before_the_day_that_was_named(
    award: Award, ends: dict[str, int], wait: int
) -> None:
    first = award.dates.first_day
    held = {kind: first + timedelta(days=days) for kind, days in ends.items()}
    on = first + timedelta(days=wait)
    now = standing(award, held, on)
    last = now.next_day - DAY if now.next_day else on + timedelta(days=800)
    day = on
    while day <= last:
        later = standing(award, held, day)
        assert later.state == now.state, day
        if now.state != "lapsed":  # then more may be missing by and by
            assert later.because == now.because, day
        assert later.next_day == now.next_day
        day += DAY


ORDER = ("current", "refresher due", "in grace", "lapsed")
ruled = st.lists(
    st.tuples(st.integers(0, 900), st.sampled_from(("suspended", "reinstated", "withdrawn"))),
    max_size=4,
)


@given(lives, papers, ruled, st.integers(0, 1300))
def test_it_only_moves_forward_unless_an_entry_says_otherwise(
    award: Award, ends: dict[str, int], entries: list[tuple[int, RulingKind]], wait: int
) -> None:
    first = award.dates.first_day
    held = {kind: first + timedelta(days=days) for kind, days in ends.items()}
    rulings = [
        Ruling(award=award.id, kind=kind, on=first + timedelta(days=days), by="zoe", because="seen")
        for days, kind in sorted(entries, key=lambda entry: entry[0])
    ]
    day = first + timedelta(days=wait)
    for _ in range(60):
        now, then = (standing(award, held, on, rulings).state for on in (day, day + DAY))
        day += DAY
        if any(ruling.on == day for ruling in rulings):
            continue
        if now in ORDER:
            assert then in ORDER
            assert ORDER.index(now) <= ORDER.index(then), day
        else:
            assert then == now
