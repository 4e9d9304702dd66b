"""How approvals stand on a day, and what of them falls due."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.engine.approvals import approval_standing, approvals_due, reference_objections
from standfast.model.approval import ReferenceScore, Result
from standfast.model.people import Approval, Person

BAR, EVERY = "bar-1", "P1Y"


def day(text: str) -> date:
    return date.fromisoformat(text)


def approved(*runs: tuple[str, str], certifies: tuple[tuple[str, str], ...] = ()) -> Person:
    """Ann, who may score the bar from and until those days."""

    def given_for(spans: tuple[tuple[str, str], ...]) -> tuple[Approval, ...]:
        return tuple(Approval(rubric=BAR, since=day(a), until=day(b)) for a, b in spans)

    return Person(id="ann", name="Ann", scores=given_for(runs), certifies=given_for(certifies))


def scored(on: str, result: Result = "in step", rubric: str = BAR) -> ReferenceScore:
    return ReferenceScore(
        assessor="ann",
        rubric=rubric,
        practical="hall",
        on=day(on),
        result=result,
        by="zoe",
        because="seen",
    )


ANN = approved(("2026-01-01", "2028-12-31"))


@pytest.mark.parametrize(
    ("on", "state"),
    [
        pytest.param("2025-12-31", "lapsed", id="day before"),
        pytest.param("2026-01-01", "current", id="first day"),
        pytest.param("2028-12-31", "current", id="last day"),
        pytest.param("2029-01-01", "lapsed", id="day after"),
    ],
)
def test_an_approval_counts_on_its_own_days(on: str, state: str) -> None:
    assert approval_standing(ANN, BAR, (), None, day(on)).state == state


@pytest.mark.parametrize(
    ("on", "state", "until"),
    [
        pytest.param("2026-10-31", "current", "2027-01-01", id="before the window"),
        pytest.param("2026-11-01", "reference due", "2027-01-01", id="window opens"),
        pytest.param("2027-01-01", "reference due", "2027-01-01", id="on its day"),
        pytest.param("2027-01-02", "lapsed", None, id="day after"),
    ],
)
def test_without_a_reference_practical_the_period_is_counted_from_the_first_day(
    on: str, state: str, until: str | None
) -> None:
    told = approval_standing(ANN, BAR, (), EVERY, day(on))

    assert (told.state, told.until) == (state, until and day(until))
    assert told.by_reference is (state == "lapsed")


def test_one_in_step_counts_from_its_own_day_and_only_from_then_on() -> None:
    seen = [scored("2026-12-15")]

    assert approval_standing(ANN, BAR, seen, EVERY, day("2027-12-15")).state == "reference due"
    assert approval_standing(ANN, BAR, seen, EVERY, day("2027-12-16")).state == "lapsed"
    assert approval_standing(ANN, BAR, seen, EVERY, day("2026-12-14")).until == day("2027-01-01")


def test_one_that_is_not_in_step_stops_it_at_once_until_one_is() -> None:
    seen = [scored("2026-03-01"), scored("2026-06-01", "not in step"), scored("2026-07-01")]

    states = [
        approval_standing(ANN, BAR, seen, None, day(on)).state
        for on in ("2026-05-31", "2026-06-01", "2026-06-30", "2026-07-01")
    ]
    assert states == ["current", "lapsed", "lapsed", "current"]


def test_of_one_day_the_later_entry_counts() -> None:
    seen = [scored("2026-06-01", "not in step"), scored("2026-06-01")]

    assert approval_standing(ANN, BAR, seen, None, day("2026-06-01")).state == "current"
    assert approval_standing(ANN, BAR, seen[::-1], None, day("2026-06-01")).state == "lapsed"


def test_another_rubric_or_assessor_changes_nothing() -> None:
    other = scored("2026-06-01", "not in step").model_copy(update={"assessor": "bo"})
    seen = [scored("2026-06-01", "not in step", rubric="bar-2"), other]

    assert approval_standing(ANN, BAR, seen, None, day("2026-06-02")).state == "current"


@pytest.mark.parametrize(
    ("on", "because", "step"),
    [
        pytest.param(
            "2026-06-30",
            "ended on 2026-05-31; not begun: its first day is 2026-07-01",
            "wait until 2026-07-01",
            id="in a gap",
        ),
        pytest.param(
            "2025-12-31",
            "not begun: its first day is 2026-01-01",
            "wait until 2026-01-01",
            id="before the first",
        ),
        pytest.param(
            "2027-01-01",
            "ended on 2026-12-31",
            "approve them to score anew, with last day",
            id="after the last",
        ),
    ],
)
def test_who_is_approved_from_a_later_day_on_waits_for_it(on: str, because: str, step: str) -> None:
    gap = approved(("2026-01-01", "2026-05-31"), ("2026-07-01", "2026-12-31"))

    told = approval_standing(gap, BAR, (), None, day(on))

    assert (told.state, told.because, told.next_step) == ("lapsed", because, step)


def test_approvals_without_a_gap_are_one() -> None:
    joined = approved(("2025-01-01", "2026-06-30"), ("2026-07-01", "2027-06-30"))
    apart = approved(("2025-01-01", "2026-06-30"), ("2026-07-02", "2027-06-30"))

    assert approval_standing(joined, BAR, (), None, day("2026-06-30")).until == day("2027-06-30")
    assert approval_standing(apart, BAR, (), None, day("2026-06-30")).until == day("2026-06-30")
    assert "first day is 2026-07-02" in (
        approval_standing(apart, BAR, (), None, day("2026-07-01")).because
    )


def test_a_certifier_needs_no_reference_practical() -> None:
    both = approved(certifies=(("2026-01-01", "2028-12-31"),))
    told = approval_standing(both, BAR, (), EVERY, day("2028-06-01"), role="certifier")

    assert (told.state, told.role) == ("current", "certifier")
    assert approval_standing(both, BAR, (), None, day("2028-06-01")).because == "never approved"


def due(person: Person, first: str, last: str, on: str, every: str | None = None) -> list[str]:
    found = approvals_due(person, (), every, day(first), day(last), day(on))
    return [f"{item.day} {item.what}" for item in found]


@pytest.mark.parametrize(
    ("first", "last", "on", "expected"),
    [
        pytest.param("2028-10-01", "2028-12-31", "2028-10-01", ["approval ends"], id="in range"),
        pytest.param("2029-01-01", "2029-03-31", "2028-10-01", [], id="from the day after"),
        pytest.param("2030-01-01", "2030-03-31", "2029-12-31", ["approval late"], id="a year late"),
        pytest.param("2030-01-01", "2030-03-31", "2030-01-01", [], id="given up"),
        pytest.param("2028-10-01", "2028-12-31", "2030-01-01", ["approval late"], id="its quarter"),
    ],
)
def test_an_approval_is_due_on_its_last_day_and_late_for_a_year(
    first: str, last: str, on: str, expected: list[str]
) -> None:
    assert due(ANN, first, last, on) == [f"2028-12-31 {what}" for what in expected]


def test_a_missed_reference_practical_is_late_whatever_the_days() -> None:
    assert due(ANN, "2026-10-01", "2027-03-31", "2026-10-01", EVERY) == [
        "2027-01-01 reference practical"
    ]
    assert due(ANN, "2027-10-01", "2027-12-31", "2027-01-02", EVERY) == ["2027-01-01 approval late"]


def test_none_is_asked_for_past_the_last_day() -> None:
    short = approved(("2026-01-01", "2026-12-31"))

    assert due(short, "2026-10-01", "2027-03-31", "2026-10-01", EVERY) == [
        "2026-12-31 approval ends"
    ]


def test_an_approval_that_was_given_anew_is_not_late() -> None:
    anew = approved(("2025-01-01", "2026-06-30"), ("2026-09-01", "2027-06-30"))

    assert due(anew, "2026-07-01", "2026-09-30", "2026-07-15") == []


@given(
    st.lists(st.tuples(st.integers(0, 900), st.sampled_from(("in step", "not in step")))),
    st.integers(0, 1300),
    st.integers(1, 400),
)
def test_what_is_due_is_what_a_walk_day_by_day_meets(
    seen: list[tuple[int, Result]], ahead: int, span: int
) -> None:
    first_day = day("2026-01-01")
    references = [scored(str(first_day + timedelta(days=n)), result) for n, result in seen]
    on = first_day + timedelta(days=ahead)
    known = [one for one in references if one.on <= on]
    last = on + timedelta(days=span)
    found = [i.day for i in approvals_due(ANN, references, EVERY, on, last, on) if i.day >= on]

    def counts(that: date) -> bool:
        return approval_standing(ANN, BAR, known, EVERY, that).state != "lapsed"

    days = [on + timedelta(days=n) for n in range(span + 1)]
    lost = [d for d in days if counts(d) and not counts(d + timedelta(days=1))]
    assert set(lost) <= set(found)
    others = set(found) - set(lost)
    assert others <= {on, day("2028-12-31")}  # not in step today; or its end after it lapsed


def test_every_objection_to_a_result_is_said_at_once() -> None:
    bo = Person(id="bo", name="Bo")

    found = reference_objections(ANN, "bar-2", "with-ann", ANN, day("2026-06-01"))

    assert all(words in " ".join(found) for words in ("never approved", "may not confirm"))
    assert len(found) == 4
    assert len(reference_objections(ANN, BAR, "Hall 1", bo, day("2026-06-01"))) == 2
    zoe = bo.model_copy(update={"certifies": ANN.scores})
    assert reference_objections(ANN, BAR, "hall-1", zoe, day("2026-06-01")) == ()
