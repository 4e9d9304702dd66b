"""The decision: each step of the rule at its edge, and what is said beside the outcome."""

from __future__ import annotations

import subprocess
import sys
from datetime import date, timedelta
from typing import Any

import pytest
from tests.engine.made import (
    ON,
    attempts,
    choices,
    competency,
    correcting,
    incident,
    incidents,
    key,
    looks,
    marks,
    person,
    rating,
    rubric,
    sheet,
    syllabus,
    tries,
)

from standfast.engine.decide import decide
from standfast.model.decision import Decision, Reason
from standfast.model.rubric import Criterion, Rubric, Validity
from standfast.model.sheet import Sheet
from standfast.problems import Refused


def of(
    *sheets: Sheet, under: Rubric | None = None, on: date = ON, since: date | None = None
) -> Decision:
    return decide(under or rubric(), syllabus(), sheets, person(), on, since)


def steps(decision: Decision, step: str) -> list[Reason]:
    return [reason for reason in decision.reasons if reason.step == step]


def test_a_good_lesson_passes() -> None:
    assert of(sheet()).outcome == "pass"


def test_reasons_come_in_the_order_of_the_rule() -> None:
    order = ["incident", "sufficiency", "critical", "competency", "overall"]
    seen = [order.index(reason.step) for reason in of(sheet()).reasons]

    assert seen == sorted(seen)
    assert set(seen) == set(range(5))


def test_no_sheet_is_no_failure() -> None:
    decision = of()

    assert decision.outcome == "more"
    assert {reason.state for reason in decision.reasons} == {"open"}
    assert decision.sheets == ()


# 1. Stops


def test_a_stop_stops_whatever_else_was_good() -> None:
    decision = of(sheet(incidents=incidents("drop")))

    assert decision.outcome == "stopped"
    assert [reason.criterion for reason in steps(decision, "incident")] == ["drop"]


def test_a_stop_needs_no_second_assessor() -> None:
    two = rubric(decision={"assessors": 2, "practicals": 2})

    assert of(sheet(incidents=incidents("drop")), under=two).outcome == "stopped"


def test_one_of_two_assessors_stops_the_practical() -> None:
    one, two = sheet(1, incidents=incidents("drop")), sheet(2, assessor="bob")

    assert of(one, two).outcome == "stopped"


# 2. Sufficiency


@pytest.mark.parametrize(
    ("rule", "sheets", "outcome"),
    [
        pytest.param({"practicals": 2}, [{}], "more", id="one practical of two"),
        pytest.param({"practicals": 2}, [{}, {"practical": "b"}], "pass", id="two practicals"),
        pytest.param({"assessors": 2}, [{}, {"practical": "b"}], "more", id="one assessor twice"),
        pytest.param({"assessors": 2}, [{}, {"assessor": "bob"}], "pass", id="two on one lesson"),
        pytest.param(
            {"practicals": 2}, [{}, {"assessor": "bob"}], "more", id="two sheets, one practical"
        ),
    ],
)
def test_practicals_and_assessors_are_counted_apart(
    rule: dict[str, Any], sheets: list[dict[str, Any]], outcome: str
) -> None:
    made = [sheet(n, **other) for n, other in enumerate(sheets, 1)]

    assert of(*made, under=rubric(decision=rule)).outcome == outcome


@pytest.mark.parametrize(
    ("days", "outcome"), [pytest.param(7, "pass", id="on it"), pytest.param(6, "more", id="short")]
)
def test_practicals_lie_days_apart(days: int, outcome: str) -> None:
    first = date(2026, 2, 1)
    pair = sheet(1, day=first), sheet(2, day=first + timedelta(days=days), practical="b")
    rule = rubric(decision={"days_apart": 7, "practicals": 2})

    assert of(*pair, under=rule).outcome == outcome


@pytest.mark.parametrize(
    ("day", "counted"),
    [
        pytest.param("2025-09-01", True, id="first day of the window"),
        pytest.param("2025-08-31", False, id="a day older"),
        pytest.param("2026-03-01", True, id="the day of the decision"),
        pytest.param("2026-03-02", False, id="a day later"),
    ],
)
def test_only_sheets_in_the_window_count(day: str, counted: bool) -> None:
    decision = of(sheet(day=date.fromisoformat(day)))

    assert bool(decision.sheets) is counted
    assert [left.sheet for left in decision.left_out] == ([] if counted else [key(1)])
    assert decision.outcome == ("pass" if counted else "more")


@pytest.mark.parametrize(
    ("since", "outcome"),
    [
        pytest.param("2026-02-19", "pass", id="decided the day before"),
        pytest.param("2026-02-20", "more", id="decided that day"),
    ],
)
def test_a_re_take_starts_afresh(since: str, outcome: str) -> None:
    assert of(sheet(), since=date.fromisoformat(since)).outcome == outcome


@pytest.mark.parametrize(
    ("tie", "outcome"),
    [
        pytest.param(None, "pass", id="never trained"),
        pytest.param(date(2020, 1, 1), "more", id="trained long ago"),
        pytest.param(ON, "more", id="since the day of the decision"),
        pytest.param(ON + timedelta(days=1), "pass", id="only from tomorrow"),
    ],
)
def test_whoever_trained_the_candidate_is_not_independent(tie: date | None, outcome: str) -> None:
    trainee = person(trained_by={"ann": tie} if tie else {})
    rule = rubric(decision={"independent_assessors": 1})

    assert decide(rule, syllabus(), [sheet()], trainee, ON).outcome == outcome


@pytest.mark.parametrize(
    ("other", "why"),
    [
        pytest.param({"candidate": "dora"}, "another candidate", id="somebody else's"),
        pytest.param({"rubric": "floor-1"}, "floor-1", id="another rubric"),
        pytest.param({"rubric_version": 2}, "version 2", id="another version"),
        pytest.param({"assessor": "cato"}, "the candidate scored it", id="own sheet"),
    ],
)
def test_a_sheet_that_does_not_count_is_listed_with_the_reason(
    other: dict[str, Any], why: str
) -> None:
    (left,) = of(sheet(**other)).left_out

    assert why in left.because


def test_a_corrected_sheet_gives_way_to_its_correction() -> None:
    bad = sheet(1, attempts=tries(["no"] * 12))
    good = sheet(2, corrects=correcting(1))
    decision = of(good, bad)

    assert (decision.outcome, decision.sheets) == ("pass", (key(2),))
    assert "corrected" in decision.left_out[0].because


def test_a_stop_on_a_sheet_that_does_not_count_is_not_hidden() -> None:
    (left,) = of(sheet(rubric_version=2, incidents=incidents("drop"))).left_out

    assert "stopped the lesson" in left.because


def test_a_fail_needs_as_much_evidence_as_a_pass() -> None:
    bad = sheet(attempts=tries(["no"] * 12))
    two = rubric(decision={"practicals": 2})

    assert of(bad).outcome == "fail"
    assert of(bad, under=two).outcome == "more"
    assert "a fail, like a pass" in steps(of(bad, under=two), "sufficiency")[0].says


def test_the_same_sheet_twice_counts_once() -> None:
    assert of(sheet(), sheet()) == of(sheet())


def test_the_same_id_with_other_content_is_refused() -> None:
    with pytest.raises(Refused, match=key(1)):
        of(sheet(), sheet(minutes=50))


# 3 to 5. Critical criteria, competencies, overall


def weighed(*criteria: Criterion, least_share: float, overall: float = 0.0) -> Rubric:
    group = competency("spotting", *criteria, least_share=least_share)
    return rubric(competencies=(group,), decision={"overall_share": overall})


GOOD, BAD = marks(a=4, b=4, c=2), marks(a=2, b=4, c=4)
THREE = (rating("a", critical=True), rating("b"), rating("c"))


def test_a_critical_criterion_fails_alone() -> None:
    two_thirds = weighed(*THREE, least_share=0.6)

    assert of(sheet(ratings=GOOD), under=two_thirds).outcome == "pass"
    assert of(sheet(ratings=BAD), under=two_thirds).outcome == "fail"


@pytest.mark.parametrize(
    ("least", "outcome"),
    [
        pytest.param(0.66, "pass", id="just under two thirds"),
        pytest.param(0.67, "fail", id="just over two thirds"),
    ],
)
def test_a_competency_needs_its_share(least: float, outcome: str) -> None:
    assert of(sheet(ratings=GOOD), under=weighed(*THREE, least_share=least)).outcome == outcome


def test_a_share_on_the_line_is_compared_as_a_fraction() -> None:
    # 7 of 10 points against 0.7: as floats 0.7 * 10 is exact, 0.1 + 0.2 + 0.4 is not.
    names = [f"r{n}" for n in range(10)]
    levels = {name: 4 if n < 7 else 2 for n, name in enumerate(names)}
    tenths = [rating(name) for name in names]

    seven = weighed(*tenths, least_share=0.7, overall=0.7)
    assert of(sheet(ratings=marks(**levels)), under=seven).outcome == "pass"
    more = weighed(*tenths, least_share=0.7, overall=0.7000001)
    assert of(sheet(ratings=marks(**levels)), under=more).outcome == "fail"


def test_weights_of_a_tenth_add_up_exactly() -> None:
    groups = tuple(
        competency(f"c{n}", rating(f"r{n}"), weight=0.1, least_share=0.0) for n in range(10)
    )
    levels = {f"r{n}": 4 if n < 3 else 2 for n in range(10)}
    rule = rubric(competencies=groups, decision={"overall_share": 0.3})

    # 0.1 + 0.1 + 0.1 as floats is over 0.3; the other way round 0.3 of a sum would fall short.
    assert of(sheet(ratings=marks(**levels)), under=rule).outcome == "pass"


def test_what_is_open_could_still_be_met() -> None:
    rule = weighed(rating("a"), rating("b"), least_share=1.0)

    assert of(sheet(ratings=marks(a=4, b=None)), under=rule).outcome == "more"
    assert of(sheet(ratings=marks(a=2, b=None)), under=rule).outcome == "fail"


def test_an_open_criterion_that_is_not_needed_does_not_hold_up_a_pass() -> None:
    rule = weighed(rating("a"), rating("b"), least_share=0.5, overall=0.5)
    decision = of(sheet(ratings=marks(a=4)), under=rule)

    assert decision.outcome == "pass"
    assert not any("'b'" in step for step in decision.next_steps)


# Beside the outcome


def test_a_single_lapse_that_would_have_changed_the_outcome_is_named() -> None:
    one_criterion = rubric(attempts())

    on_the_line = of(sheet(attempts=tries(["yes"] * 10)), under=one_criterion)
    far_from_it = of(sheet(attempts=tries(["yes"] * 40)), under=one_criterion)

    assert on_the_line.near == ("one more lapse in 'place': more evidence needed",)
    assert far_from_it.near == ()


def test_a_mark_a_level_higher_or_lower_is_named_once() -> None:
    rule = rubric(rating())
    pair = [sheet(n, practical=f"l{n}", ratings=marks(looks=3)) for n in (1, 2)]

    assert of(*pair, under=rule).near == ("one mark a level lower in 'looks': fail",)


def test_an_incident_that_nobody_saw_is_no_mark_near_the_line() -> None:
    rule = rubric(incident(), incident("drop", effect="stops"))

    assert of(sheet(), under=rule).near == ()
    stopped = of(sheet(incidents=incidents("drop")), under=rule)
    assert stopped.near == ("one incident fewer in 'drop': pass",)


def test_more_evidence_says_how_much() -> None:
    rule = rubric(decision={"practicals": 2, "assessors": 2, "days_apart": 7})
    decision = of(sheet(attempts=tries(["yes"] * 6)), under=rule)

    assert decision.next_steps == (
        "1 more practical scored under this rubric",
        "1 more assessor who has not scored this candidate yet",
        "a practical on 2026-02-27 or later",
        "'place', to be seen: 4 more attempts without a lapse",
    )


def test_a_fail_says_what_to_practise_and_that_counting_starts_afresh() -> None:
    steps_next = of(sheet(ratings=marks(looks=2))).next_steps

    assert steps_next[0].startswith("practise 'looks': level 2")
    assert "2026-03-01 do not count again" in steps_next[1]


@pytest.mark.parametrize(
    ("documents", "word"),
    [
        pytest.param({}, "hand in first-aid", id="missing"),
        pytest.param({"first-aid": date(2026, 2, 28)}, "renew first-aid: it ended", id="ended"),
        pytest.param({"first-aid": date(2026, 3, 1)}, "renew first-aid by", id="ends today"),
        pytest.param({"first-aid": date(2028, 2, 29)}, "renew first-aid by", id="ends a day early"),
        pytest.param({"first-aid": date(2028, 3, 1)}, "", id="ends with the award"),
    ],
)
def test_a_document_is_asked_for_and_never_changes_the_outcome(
    documents: dict[str, date], word: str
) -> None:
    rule = rubric(documents=("first-aid",), validity=Validity(period="P2Y"))
    decision = decide(rule, syllabus(), [sheet()], person(documents=documents), ON)

    assert decision.outcome == "pass"
    assert bool(decision.next_steps) is bool(word)
    assert all(step.startswith(word) for step in decision.next_steps)


def test_nothing_but_the_candidate_field_names_a_person() -> None:
    everything = [
        sheet(1, attempts=tries(["no"] * 9), samples=looks([(3, 3)] * 9)),
        sheet(2, assessor="bob", clearances=choices(["held-back"] * 9, skill="sit")),
        sheet(3, assessor="cato", practical="own"),
        sheet(4, candidate="dora", practical="other"),
    ]
    rule = rubric(decision={"independent_assessors": 2}, documents=("first-aid",))
    trainee = person(trained_by={"ann": date(2020, 1, 1)})
    told = decide(rule, syllabus(), everything, trainee, ON).model_dump_json(exclude={"candidate"})

    for name in ("ann", "bob", "cato", "dora", "Cato"):
        assert f'"{name}"' not in told
        assert f" {name} " not in told
        assert f"'{name}'" not in told


def test_deciding_loads_no_heavy_package() -> None:
    code = (
        "import sys, standfast.engine.decide, standfast.engine.sheets,"
        " standfast.engine.definitions, standfast.engine.quarters;"
        "print([m for m in ('numpy', 'pandas', 'scipy', 'weasyprint', 'sqlalchemy')"
        " if m in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert told.stdout.strip() == "[]"
