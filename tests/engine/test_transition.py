"""A version that changes while an award runs: how long the old one counts, and what is new."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made

from standfast.engine.dates import DAY, award_dates, standing, topped_up_dates
from standfast.engine.definitions import faults_across, faults_in_rubric
from standfast.engine.due import due_between
from standfast.engine.transition import honoured, top_up_focus
from standfast.model.award import Award, Honoured, Ruling, Standing
from standfast.model.rubric import Refresher, Rubric, Validity
from standfast.problems import Refused

GRANTED = date(2026, 3, 1)
UNTIL = date(2027, 8, 31)
YEARS_TWO = Validity(
    period="P2Y", refresher=Refresher(every="P1Y", window="P2M"), grace="P1M", lapse_limit="P1Y"
)
DATES = award_dates(YEARS_TWO, GRANTED)
"""Refresher due 2027-03-01, grace until 2027-04-01, a full practical after 2028-04-01."""
FRESH = award_dates(Validity(period="P3Y"), GRANTED)
"""No refresher; until 2029-03-01."""
STEP = "top-up practical under version 2 on 'still'"


def version(number: int, *criteria: Any, **transition: Any) -> Rubric:  # noqa: ANN401
    begins = date(2025 + number, 1, 1)
    said = {"transition": transition} if transition else {}
    return made.rubric(*criteria, version=number, in_force=begins, **said)


OLD = version(1, made.attempts("place"))
NEW = version(2, made.attempts("place"), made.attempts("still"), honoured_until=UNTIL, top_up=True)


def told(
    on: date,
    *,
    award: Award | None = None,
    says: Honoured | None = None,
    rulings: tuple[Ruling, ...] = (),
    **documents: date | None,
) -> Standing:
    known = says or honoured(OLD, [NEW], on)
    return standing(award or made.award(FRESH, tuple(documents)), documents, on, rulings, known)


# How long


@pytest.mark.parametrize(
    ("on", "state", "because"),
    [
        (
            UNTIL - DAY,
            "current",
            "runs until 2029-03-01; honoured under version 1 until 2027-08-31",
        ),
        (UNTIL, "current", "runs until 2029-03-01; honoured under version 1 until 2027-08-31"),
        (UNTIL + DAY, "lapsed", "version 1 was honoured until 2027-08-31"),
    ],
    ids=["before", "on", "after"],
)
def test_an_award_counts_until_the_day_its_version_is_honoured(
    on: date, state: str, because: str
) -> None:
    found = told(on)

    assert (found.state, found.because) == (state, because)
    assert (found.ends, found.ends_by) == (UNTIL, "version 1 of the rubric")
    assert found.next_step == ("" if on <= UNTIL else STEP)
    assert found.until == (UNTIL if on <= UNTIL else None)
    assert found.next_day == (UNTIL if on <= UNTIL else FRESH.last_day)


def test_its_own_last_day_comes_first_when_it_is_earlier() -> None:
    early = made.award(award_dates(Validity(period="P1Y"), GRANTED))

    for on in (date(2027, 3, 1), date(2027, 3, 2), UNTIL, UNTIL + DAY):
        assert told(on, award=early) == standing(early, {}, on)


def test_without_an_end_that_was_set_the_award_runs_on() -> None:
    silent = version(2, made.attempts("place"), made.attempts("still"))
    offered = version(2, made.attempts("place"), made.attempts("still"), top_up=True)

    assert honoured(OLD, [silent], UNTIL) is None
    assert honoured(OLD, [offered], UNTIL) is None


def test_what_is_needed_after_it_is_a_full_practical_where_no_top_up_is_offered() -> None:
    strict = version(2, made.attempts("place"), made.attempts("still"), honoured_until=UNTIL)

    found = told(UNTIL + DAY, says=honoured(OLD, [strict], UNTIL))

    assert found.next_step == "a full practical under version 2 is needed"


def test_the_earliest_of_several_ends_counts_and_the_newest_version_in_force_says_what_then() -> (
    None
):
    third = version(
        3,
        made.attempts("place"),
        made.rating("looks"),
        honoured_until=date(2028, 6, 1),
        top_up=True,
    )  # in force from 2028

    before = honoured(OLD, [NEW, third], date(2027, 12, 31))
    after = honoured(OLD, [third, NEW], date(2028, 1, 1))

    assert before is not None
    assert after is not None
    assert before.until == after.until == UNTIL
    assert before.step == STEP
    assert after.step == "top-up practical under version 3 on 'looks'"
    second = honoured(NEW, [NEW, third], UNTIL)
    assert second is not None
    assert second.until == date(2028, 6, 1)


@pytest.mark.parametrize(
    ("on", "because", "step"),
    [
        pytest.param(
            date(2027, 3, 15),
            "refresher was due on 2027-03-01; grace runs until 2027-04-01;"
            " honoured under version 1 until 2027-08-31",
            "pass a refresher now",
            id="in grace, still honoured",
        ),
        pytest.param(
            date(2027, 9, 1),
            "version 1 was honoured until 2027-08-31; refresher was due on 2027-03-01",
            f"{STEP}; pass a refresher by 2028-04-01; counting starts anew on that day",
            id="lapsed, and honoured no more",
        ),
        pytest.param(
            date(2028, 4, 2),
            "version 1 was honoured until 2027-08-31; refresher was due on 2027-03-01, and a"
            " refresher sufficed until 2028-04-01",
            "a full practical is needed again",
            id="lapsed too long",
        ),
    ],
)
def test_a_missed_refresher_is_said_beside_it(on: date, because: str, step: str) -> None:
    found = told(on, award=made.award(DATES))

    assert (found.because, found.next_step) == (because, step)


def test_a_missing_document_is_said_beside_it() -> None:
    found = told(UNTIL + DAY, insurance=None)

    assert found.because == ("version 1 was honoured until 2027-08-31; insurance: none is recorded")
    assert found.next_step == f"{STEP}; hand in the renewed insurance, with its last day"


def test_a_suspension_counts_before_it() -> None:
    ruling = Ruling(award=made.key(900), kind="suspended", on=GRANTED, by="zoe", because="asked")

    assert told(UNTIL + DAY, rulings=(ruling,)).state == "suspended"


ends = st.dates(GRANTED - timedelta(days=30), GRANTED + timedelta(days=1400))
awards = st.sampled_from([made.award(DATES), made.award(FRESH), made.award(DATES, ("first-aid",))])


@given(awards, ends, ends, st.integers(-20, 1500), st.booleans())
def test_nothing_changes_before_the_day_that_was_named(
    award: Award, until: date, paper: date, wait: int, top_up: bool
) -> None:
    says = Honoured(version=1, until=until, step="do it", top_up=top_up)
    on = GRANTED + timedelta(days=wait)
    now = standing(award, {"first-aid": paper}, on, (), says)
    last = now.next_day - DAY if now.next_day else on + timedelta(days=800)
    day = on
    while day <= last:
        later = standing(award, {"first-aid": paper}, day, (), says)
        assert (later.state, later.because, later.next_step) == (
            now.state,
            now.because,
            now.next_step,
        ), day
        day += DAY


@given(awards, ends, st.integers(-20, 1500))
def test_an_end_that_is_set_never_makes_an_award_count_longer(
    award: Award, until: date, wait: int
) -> None:
    on = GRANTED + timedelta(days=wait)
    says = Honoured(version=1, until=until, step="do it", top_up=True)
    papers = {"first-aid": date(2030, 1, 1)}
    good = {"current", "refresher due", "in grace"}

    free, bound = (standing(award, papers, on, (), one) for one in (None, says))

    assert bound.ends <= free.ends
    assert (bound.state in good) == (free.state in good and on <= until)


# What falls due


def due(first: str, last: str, on: date, says: Honoured | None) -> list[tuple[date, str]]:
    span = (date.fromisoformat(first), date.fromisoformat(last))
    return [(d.day, d.what) for d in due_between(made.award(FRESH), {}, *span, on, (), says)]


def test_it_is_due_in_its_quarter_and_late_after_it() -> None:
    says = honoured(OLD, [NEW], UNTIL)

    assert due("2027-07-01", "2027-09-30", UNTIL, says) == [(UNTIL, "version ends")]
    assert due("2027-07-01", "2027-09-30", UNTIL + DAY, says) == [(UNTIL, "late")]
    assert due("2028-07-01", "2028-09-30", UNTIL + DAY, says) == [(UNTIL, "late")]
    assert due("2027-10-01", "2027-12-31", UNTIL, says) == []


def test_past_mending_by_a_top_up_it_is_listed_with_the_days_in_which_it_ended() -> None:
    says = Honoured(version=1, until=UNTIL, step="a full practical", top_up=False)

    assert due("2027-07-01", "2027-09-30", UNTIL + DAY, says) == [(UNTIL, "late")]
    assert due("2028-07-01", "2028-09-30", UNTIL + DAY, says) == []


# What is new


def test_new_and_changed_criteria_are_covered_and_no_others() -> None:
    old = made.rubric(made.attempts("place"), made.rating("looks"), made.incident("left"))
    new = made.rubric(
        made.attempts("place", share=0.9),
        made.rating("looks", title="Another title", points=3, source="a book, page 3"),
        made.incident("left"),
        made.samples("busy"),
        version=2,
    )

    found = top_up_focus(old, new)

    assert found is not None
    [part] = found.covered
    assert part.criteria == ("place", "busy")
    assert part.because == "new in version 2: 'busy'; changed in version 2: 'place'"


@pytest.mark.parametrize(
    ("change", "new"),
    [
        pytest.param({"look_for": "Something else is seen."}, True, id="other words"),
        pytest.param({"critical": True}, True, id="critical now"),
        pytest.param({"skills": ("sit",)}, True, id="other skills"),
        pytest.param({"question": "Here?"}, True, id="another question"),
        pytest.param({"lapses": 1}, True, id="another standard"),
        pytest.param({"title": "Place"}, False, id="another title"),
        pytest.param({"points": 2}, False, id="other points"),
        pytest.param({}, False, id="nothing"),
    ],
)
def test_what_makes_a_criterion_new(change: dict[str, Any], new: bool) -> None:
    old = made.attempts("place")
    now = (
        old.model_copy(update={"question": "Here?"})
        if "question" in change
        else (made.attempts("place", **change))
    )

    found = top_up_focus(made.rubric(old), made.rubric(now, version=2))

    assert (found is not None) is new


# What a top-up leaves


@pytest.mark.parametrize(
    ("on", "suffices"),
    [
        pytest.param(date(2026, 3, 2), True, id="soon"),
        pytest.param(date(2028, 4, 1), True, id="last day a refresher suffices"),
        pytest.param(date(2028, 4, 2), False, id="the day after"),
    ],
)
def test_a_top_up_keeps_every_day_while_the_award_can_be_mended(on: date, suffices: bool) -> None:
    if not suffices:
        with pytest.raises(Refused, match="a top-up sufficed until 2028-04-01"):
            topped_up_dates(DATES, on)
        return

    assert topped_up_dates(DATES, on) == DATES.model_copy(update={"first_day": on})


# What a file may say


@pytest.mark.parametrize(
    ("number", "transition", "what"),
    [
        pytest.param(
            2, {"honoured_until": date(2026, 12, 31)}, "before this one begins", id="too early"
        ),
        pytest.param(1, {"top_up": True}, "no version before version 1", id="first version"),
        pytest.param(2, {"practicals": 1}, "says nothing", id="empty"),
        pytest.param(
            2, {"honoured_until": UNTIL, "practicals": 2}, "none is offered", id="no top-up"
        ),
    ],
)
def test_a_transition_that_cannot_be_meant_so(
    number: int, transition: dict[str, Any], what: str
) -> None:
    found = [f.what for f in faults_in_rubric(version(number, **transition), None)]

    assert any(what in fault for fault in found), found


def test_a_transition_may_end_on_the_day_on_which_the_version_begins() -> None:
    assert not faults_in_rubric(version(2, honoured_until=date(2027, 1, 1)), None)


def test_a_refresher_has_no_transition() -> None:
    rule = version(2, top_up=True).model_copy(update={"grants": None, "refreshes": "bar-9"})

    assert any("no awards of its own" in f.what for f in faults_in_rubric(rule, None))


def test_a_top_up_with_nothing_new_is_a_fault() -> None:
    same = version(2, made.attempts("place"), top_up=True)

    found = [f.what for _, f in faults_across([OLD, same], [made.syllabus()])]

    assert found == ["a top-up, but version 2 asks nothing that version 1 did not"]


def test_a_version_with_a_transition_ends_the_earlier_one() -> None:
    silent = version(2, made.attempts("place"), made.attempts("still"))

    assert not faults_across([OLD, NEW], [made.syllabus()])
    assert any(
        "both in force" in f.what for _, f in faults_across([OLD, silent], [made.syllabus()])
    )
