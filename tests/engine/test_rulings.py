"""What was ruled of an award counts before its dates and documents."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made

from standfast.engine.awarding import ruling_objections
from standfast.engine.dates import award_dates, standing
from standfast.engine.due import due_between
from standfast.model.award import Ruling, RulingKind
from standfast.model.people import Approval, Person
from standfast.model.rubric import Refresher, Validity

DATES = award_dates(
    Validity(period="P2Y", refresher=Refresher(every="P1Y", window="P2M")), date(2026, 3, 1)
)
AWARD = made.award(DATES, ("first-aid",))
RUNS: dict[str, date | None] = {"first-aid": date(2029, 1, 1)}
DAY = timedelta(days=1)
ON = date(2026, 6, 1)


def ruling(kind: RulingKind, on: date = ON) -> Ruling:
    return Ruling(award=AWARD.id, kind=kind, on=on, by="zoe", because="a complaint is looked into")


@pytest.mark.parametrize(
    ("on", "state"),
    [
        pytest.param(ON - DAY, "current", id="the day before"),
        pytest.param(ON, "suspended", id="on the day"),
        pytest.param(ON + 30 * DAY, "current", id="reinstated"),
    ],
)
def test_a_suspension_holds_from_its_day_until_reinstated(on: date, state: str) -> None:
    rulings = [ruling("suspended"), ruling("reinstated", ON + 30 * DAY)]

    assert standing(AWARD, RUNS, on, rulings).state == state


def test_a_withdrawal_counts_before_everything_else_and_why_is_not_told() -> None:
    told = standing(AWARD, {"first-aid": None}, ON, [ruling("withdrawn")])

    assert (told.state, told.because) == ("withdrawn", "withdrawn on 2026-06-01")
    assert "complaint" not in told.model_dump_json()


def test_of_two_rulings_on_one_day_the_later_one_holds() -> None:
    both = [ruling("suspended"), ruling("reinstated")]

    assert standing(AWARD, RUNS, ON, both).state == "current"
    assert standing(AWARD, RUNS, ON, both[::-1]).state == "suspended"


def test_rulings_on_other_awards_do_not_matter() -> None:
    other = ruling("withdrawn").model_copy(update={"award": made.key(7)})

    assert standing(AWARD, RUNS, ON, [other]).state == "current"


def test_a_document_that_ended_still_counts_after_reinstatement() -> None:
    ended: dict[str, date | None] = {"first-aid": ON - DAY}

    told = standing(AWARD, ended, ON, [ruling("suspended", ON - DAY), ruling("reinstated")])

    assert told.state == "lapsed"


@given(st.dates(date(2026, 6, 1), date(2031, 1, 1)))
def test_a_withdrawn_award_never_comes_back_by_time_alone(on: date) -> None:
    assert standing(AWARD, RUNS, on, [ruling("withdrawn")]).state == "withdrawn"


def test_a_withdrawn_award_has_nothing_due_and_a_suspended_one_has_its_days() -> None:
    def due(kind: RulingKind) -> list[str]:
        span = (date(2027, 1, 1), date(2027, 12, 31))
        return [i.what for i in due_between(AWARD, RUNS, *span, ON, [ruling(kind)])]

    assert due("withdrawn") == []
    assert due("suspended") == ["refresher"]


def ruler(name: str = "zoe", until: date = date(2030, 1, 1)) -> Person:
    approval = Approval(rubric="bar-1", since=date(2025, 1, 1), until=until)
    return Person(id=name, name=name.title(), certifies=(approval,))


@pytest.mark.parametrize(
    ("kind", "before", "said"),
    [
        pytest.param("suspended", [], None, id="suspend"),
        pytest.param("withdrawn", [], None, id="withdraw"),
        pytest.param("withdrawn", ["suspended"], None, id="withdraw while suspended"),
        pytest.param("reinstated", ["suspended"], None, id="reinstate"),
        pytest.param("reinstated", [], "is not suspended", id="nothing to reinstate"),
        pytest.param("suspended", ["suspended"], "suspended already", id="twice"),
        pytest.param("reinstated", ["withdrawn"], "for good", id="withdrawn is for good"),
    ],
)
def test_what_may_be_ruled_follows_from_how_it_stands(
    kind: RulingKind, before: list[RulingKind], said: str | None
) -> None:
    now = standing(AWARD, RUNS, ON, [ruling(k) for k in before])

    found = ruling_objections(kind, AWARD, now, ruler(), ON)

    assert len(found) == (said is not None)
    assert said is None or said in found[0]


def test_who_rules_is_approved_on_the_day_and_not_the_holder() -> None:
    now = standing(AWARD, RUNS, ON)

    assert ruling_objections("suspended", AWARD, now, ruler(until=ON), ON) == ()
    [late] = ruling_objections("suspended", AWARD, now, ruler(until=ON - DAY), ON)
    assert "may not rule on its awards" in late
    [own] = ruling_objections("suspended", AWARD, now, ruler("cato"), ON)
    assert "somebody else must rule on it" in own


def test_nothing_is_ruled_before_the_award_was_granted() -> None:
    first, now = AWARD.granted, standing(AWARD, RUNS, AWARD.granted)

    assert ruling_objections("suspended", AWARD, now, ruler(), first) == ()
    [early] = ruling_objections("suspended", AWARD, now, ruler(), first - DAY)
    assert f"A-1 was granted on {first}" in early


@pytest.mark.parametrize(
    ("kind", "before", "allowed"),
    [
        pytest.param("suspended", [], True, id="suspend"),
        pytest.param("withdrawn", [], True, id="withdraw"),
        pytest.param("reduced", [], True, id="reduce"),
        pytest.param("reinstated", ["suspended"], False, id="reinstate"),
        pytest.param("restored", ["reduced"], False, id="restore"),
    ],
)
def test_who_took_part_may_take_away_but_not_give_back(
    kind: RulingKind, before: list[RulingKind], allowed: bool
) -> None:
    now = standing(AWARD, RUNS, ON, [ruling(k) for k in before])
    part = "trained the candidate"

    found = ruling_objections(kind, AWARD, now, ruler(), ON, part=part)

    assert (found == ()) is allowed
    assert allowed or found == (
        "zoe trained the candidate; somebody who took no part must give it back",
    )
