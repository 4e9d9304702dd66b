"""Every fault that a rubric, a syllabus, or several together can hold."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from tests.engine.made import (
    attempts,
    clearances,
    competency,
    incident,
    rating,
    rubric,
    samples,
    skill,
    syllabus,
)

from standfast.engine.definitions import faults_across, faults_in_rubric, faults_in_syllabus
from standfast.model.rubric import Criterion, RatingCriterion, Rubric, Validity
from standfast.model.syllabus import Syllabus
from standfast.problems import Fault, Path

STANDARD: Path = ("competencies", 0, "criteria", 0, "standard")


def the(made: Rubric, taught: Syllabus | None = None) -> Fault:
    """The one fault there is."""
    (only,) = faults_in_rubric(made, taught or syllabus())
    return only


def test_a_sound_rubric_and_syllabus_have_no_fault() -> None:
    assert faults_in_rubric(rubric(), syllabus()) == ()
    assert faults_in_rubric(rubric(), None) == ()
    assert faults_in_syllabus(syllabus()) == ()
    assert faults_across([rubric()], [syllabus()]) == ()


# Ids and weights


def test_ids_stand_once() -> None:
    twice = rubric(
        competencies=(
            competency("a", rating("x"), weight=0.5),
            competency("a", rating("x"), weight=0.5),
        ),
        documents=("first-aid", "first-aid"),
    )

    assert [fault.path for fault in faults_in_rubric(twice, None)] == [
        ("competencies", 1, "id"),
        ("competencies", 1, "criteria", 0, "id"),
        ("documents", 1),
    ]


@pytest.mark.parametrize(
    ("weights", "what", "cure"),
    [
        pytest.param(
            (0.4, 0.35, 0.3), "weights 0.4 + 0.35 + 0.3 = 1.05, must be 1", "by 0.05", id="over"
        ),
        pytest.param((0.1, 0.2), "weights 0.1 + 0.2 = 0.3, must be 1", "by 0.7", id="under"),
    ],
)
def test_weights_sum_to_one(weights: tuple[float, ...], what: str, cure: str) -> None:
    groups = tuple(competency(f"c{n}", rating(f"r{n}"), weight=w) for n, w in enumerate(weights))
    fault = the(rubric(competencies=groups))

    assert fault.what == what
    assert cure in fault.cure


def test_ten_tenths_are_one() -> None:
    groups = tuple(competency(f"c{n}", rating(f"r{n}"), weight=0.1) for n in range(10))

    assert faults_in_rubric(rubric(competencies=groups), None) == ()


def test_overall_points_that_no_criterion_gives_are_found() -> None:
    groups = (competency("a", rating(), weight=0.9), competency("b", weight=0.1))
    found = faults_in_rubric(rubric(competencies=groups), None)

    assert [fault.path for fault in found] == [
        ("competencies", 1, "criteria"),
        ("decision", "overall_share"),
    ]


def test_a_rubric_without_competencies_is_none() -> None:
    assert the(rubric(competencies=())).path == ("competencies",)


# Standards


@pytest.mark.parametrize(
    ("criterion", "needs"),
    [
        # 0.85 ** 10 = 0.197 and 0.85 ** 9 = 0.232 on either side of 0.2, by hand.
        pytest.param(attempts(least=10), None, id="attempts, ten"),
        pytest.param(attempts(least=9), "10 or more", id="attempts, nine"),
        # 0.7 ** 5 = 0.168, 0.7 ** 4 = 0.240.
        pytest.param(clearances(least=5), None, id="choices, five"),
        pytest.param(clearances(least=4), "5 or more", id="choices, four"),
        # 0.75 ** 6 = 0.178, 0.75 ** 5 = 0.237.
        pytest.param(samples(idle=0.25, least=6), None, id="looks, six"),
        pytest.param(samples(idle=0.25, least=5), "6 or more", id="looks, five"),
        # Wilson at z = 0.8416: n / (n + z * z) >= 0.85 from n = 5 on.
        pytest.param(attempts(least=5, method="wilson"), None, id="wilson, five"),
        pytest.param(attempts(least=4, method="wilson"), "5 or more", id="wilson, four"),
        pytest.param(attempts(share=0.9999, least=9), "thousands", id="hopeless"),
    ],
)
def test_a_standard_its_own_least_number_never_reaches_says_what_it_needs(
    criterion: Criterion, needs: str | None
) -> None:
    found = faults_in_rubric(rubric(criterion), None)

    assert bool(found) is (needs is not None)
    assert all(f.path == (*STANDARD, "least") and (needs or "") in f.cure for f in found)


@pytest.mark.parametrize(
    ("assurance", "faulty"),
    [pytest.param(0.5, False, id="a toss"), pytest.param(0.49, True, id="less")],
)
def test_an_assurance_under_a_toss_is_none(assurance: float, faulty: bool) -> None:
    found = faults_in_rubric(rubric(attempts(assurance=assurance)), None)

    assert [fault.path for fault in found] == ([(*STANDARD, "assurance")] if faulty else [])


def with_levels(*levels: int) -> RatingCriterion:
    made = rating(levels=4)
    by_level = {level.level: level for level in made.levels}
    return made.model_copy(update={"levels": tuple(by_level[n] for n in levels)})


@pytest.mark.parametrize(
    ("criterion", "ends"),
    [
        pytest.param(rating(least=4, floor=4), [], id="floor on least"),
        pytest.param(rating(least=3, floor=4), ["floor"], id="floor over least"),
        pytest.param(rating(least=5), ["least"], id="least over the levels"),
        pytest.param(with_levels(1, 2, 4), ["levels", "least"], id="a gap, and least in it"),
        pytest.param(with_levels(2, 1, 3, 4), ["levels"], id="out of order"),
        pytest.param(with_levels(2, 3, 4), ["levels"], id="not from 1"),
        pytest.param(with_levels(), ["levels"], id="none"),
        pytest.param(rating(levels=1, least=1, floor=1), ["levels"], id="a single one"),
    ],
)
def test_levels_are_counted_from_one_and_hold_the_standard(
    criterion: Criterion, ends: list[str]
) -> None:
    assert [f.path[-1] for f in faults_in_rubric(rubric(criterion), None)] == ends


def test_a_stop_has_no_limit() -> None:
    assert the(rubric(incident(effect="stops", limit=1))).path == (*STANDARD, "limit")


# The decision rule


@pytest.mark.parametrize(
    ("rule", "end"),
    [
        pytest.param({"independent_assessors": 1}, None, id="all independent"),
        pytest.param(
            {"independent_assessors": 2}, "independent_assessors", id="more than there are"
        ),
        pytest.param({"days_apart": 7}, "days_apart", id="one practical apart"),
        pytest.param({"days_apart": 31, "practicals": 2, "window": "P1M"}, None, id="a long month"),
        pytest.param(
            {"days_apart": 32, "practicals": 2, "window": "P1M"}, "days_apart", id="past any month"
        ),
        pytest.param({"window": "P100Y"}, None, id="a hundred years"),
        pytest.param({"window": "P101Y"}, "window", id="more than a hundred"),
        pytest.param({"window": "P9999999Y"}, "window", id="past the calendar"),
    ],
)
def test_a_decision_rule_can_be_met(rule: dict[str, Any], end: str | None) -> None:
    found = faults_in_rubric(rubric(decision=rule), None)

    assert [fault.path for fault in found] == ([("decision", end)] if end else [])


# What a pass grants


def test_a_rubric_either_grants_or_refreshes() -> None:
    both = rubric(refreshes="bar-1", validity=None)
    neither = rubric(grants=None, validity=None)

    assert [f.path for f in faults_in_rubric(both, None)] == [("grants",), ()]
    assert the(neither).what == "neither grants nor refreshes"


def test_a_full_rubric_has_a_validity_and_a_refresher_has_none() -> None:
    assert "no validity" in the(rubric(validity=None)).what
    assert the(rubric(grants=None, refreshes="bar-1")).path == ("validity",)
    assert faults_in_rubric(rubric(grants=None, refreshes="bar-1", validity=None), None) == ()


@pytest.mark.parametrize(
    ("until", "faulty"),
    [pytest.param("2025-01-01", False, id="one day"), pytest.param("2024-12-31", True, id="none")],
)
def test_a_rubric_ends_after_it_begins(until: str, faulty: bool) -> None:
    found = faults_in_rubric(rubric(in_force_until=date.fromisoformat(until)), None)

    assert [fault.path for fault in found] == ([("in_force_until",)] if faulty else [])


FULL = {
    "period": "P2Y",
    "refresher": {"every": "P1Y", "window": "P2M"},
    "grace": "P1M",
    "in_grace": "does not teach alone",
    "lapse_limit": "P1Y",
}


@pytest.mark.parametrize(
    ("change", "paths"),
    [
        pytest.param({}, [], id="complete"),
        pytest.param({"refresher": {"every": "P1Y", "window": "P12M"}}, [], id="always open"),
        pytest.param(
            {"refresher": {"every": "P1Y", "window": "P13M"}},
            [("refresher", "window")],
            id="window over every",
        ),
        pytest.param({"refresher": {"every": "P24M", "window": "P2M"}}, [], id="due at the end"),
        pytest.param(
            {"refresher": {"every": "P25M", "window": "P2M"}},
            [("refresher", "every")],
            id="due after the end",
        ),
        pytest.param({"lapse_limit": None}, [()], id="no lapse limit"),
        pytest.param({"grace": None, "in_grace": None}, [], id="no grace"),
        pytest.param({"in_grace": None}, [("grace",)], id="grace, and nothing on it"),
        pytest.param({"grace": None}, [("in_grace",)], id="in grace of none"),
        pytest.param(
            {"refresher": None}, [("grace",), ("in_grace",), ("lapse_limit",)], id="no refresher"
        ),
        pytest.param({"period": "P101Y"}, [("period",)], id="a slip of the pen"),
    ],
)
def test_the_parts_of_a_validity_fit(change: dict[str, Any], paths: list[Path]) -> None:
    validity = Validity.model_validate({**FULL, **change})
    found = faults_in_rubric(rubric(validity=validity), None)

    assert [fault.path for fault in found] == [("validity", *path) for path in paths]


# What a sheet can show


def test_skills_of_the_syllabus_are_named_with_the_nearest() -> None:
    scope = {"id": "teach", "title": "T", "words": "W.", "skills": ("hang", "hang", "stit")}
    found = faults_in_rubric(rubric(rating(), grants=scope), syllabus())

    assert [fault.path for fault in found] == [("grants", "skills", 1), ("grants", "skills", 2)]
    assert found[1].cure == "did you mean 'sit'?"


def test_a_scope_of_no_skill_is_none() -> None:
    scope = {"id": "teach", "title": "T", "words": "W.", "skills": ()}

    assert the(rubric(rating(), grants=scope)).path == ("grants", "skills")


def test_a_question_on_skills_that_are_not_taught_can_never_be_answered() -> None:
    some, none = (rubric(attempts(skills=skills)) for skills in (("hang", "hank"), ("hank",)))

    assert len(faults_in_rubric(some, syllabus())) == 1
    assert "no sheet can show 'place'" in faults_in_rubric(none, syllabus())[1].what


@pytest.mark.parametrize(
    ("scope", "faulty"),
    [
        pytest.param(("sit",), False, id="a skill with prerequisites"),
        pytest.param(("hang",), True, id="none with any"),
    ],
)
def test_choices_need_a_skill_with_prerequisites(scope: tuple[str, ...], faulty: bool) -> None:
    grants = {"id": "teach", "title": "T", "words": "W.", "skills": scope}
    found = faults_in_rubric(rubric(clearances(), grants=grants), syllabus())

    assert ["no sheet can show 'ready'" in fault.what for fault in found] == [True] * faulty


def test_looks_have_one_interval() -> None:
    same, other = rubric(samples("a"), samples("b")), rubric(samples("a"), samples("b", every=90))

    assert faults_in_rubric(same, None) == ()
    assert the(other).path == ("competencies", 0, "criteria", 1, "standard", "every")


def test_a_rubric_held_to_another_syllabus_says_so() -> None:
    assert the(rubric(rating(), syllabus="barr")).cure == "did you mean 'bar'?"


# Syllabuses


def test_unknown_prerequisites_are_named_with_the_nearest() -> None:
    (fault,) = faults_in_syllabus(syllabus(skill("hang"), skill("sit", "hagn")))

    assert fault.path == ("skills", 1, "prerequisites", 0, "skill")
    assert fault.cure == "did you mean 'hang'?"


@pytest.mark.parametrize(
    ("skills", "circles"),
    [
        pytest.param((skill("a", "a"),), ["a -> a"], id="of one"),
        pytest.param((skill("a", "b"), skill("b", "a")), ["a -> b -> a"], id="of two"),
        pytest.param(
            (skill("z"), skill("c", "a", "z"), skill("a", "b"), skill("b", "c")),
            ["c -> a -> b -> c"],
            id="of three, from the first in the file",
        ),
        pytest.param(
            (skill("a", "b"), skill("b", "a"), skill("c", "d"), skill("d", "c")),
            ["a -> b -> a", "c -> d -> c"],
            id="two of them",
        ),
        pytest.param((skill("a"), skill("b", "a"), skill("c", "a", "b")), [], id="none"),
        pytest.param(
            (skill("a", "b"), skill("b", "c"), skill("c", "b")), ["b -> c -> b"], id="tail"
        ),
    ],
)
def test_a_circle_is_spelled_out_once(skills: tuple[object, ...], circles: list[str]) -> None:
    found = faults_in_syllabus(syllabus().model_copy(update={"skills": skills}))

    assert [fault.what.split(": ")[1] for fault in found] == circles


def test_a_very_long_row_of_skills_is_no_trouble() -> None:
    row = [skill("s0"), *(skill(f"s{n}", f"s{n - 1}") for n in range(1, 3000))]

    assert faults_in_syllabus(syllabus(*row[:1200])) == ()


@pytest.mark.parametrize(
    ("made", "faulty"),
    [
        pytest.param(skill("turn", "hang", turns=True), False, id="turns, after a hang"),
        pytest.param(skill("turn", turns=True), True, id="turns, after nothing"),
        pytest.param(skill("tuck", inverts=True), True, id="inverts, after nothing"),
        pytest.param(skill("tuck"), False, id="neither"),
    ],
)
def test_head_below_heart_comes_after_something(made: object, faulty: bool) -> None:
    taught = syllabus().model_copy(update={"skills": (skill("hang"), made)})
    found = faults_in_syllabus(taught)

    assert [f.path for f in found] == ([("skills", 1, "prerequisites")] if faulty else [])


def test_a_skill_stands_once_with_hazards_and_something_to_do_meanwhile() -> None:
    bare = skill("hang", hazards=(), waiting=())
    found = faults_in_syllabus(syllabus(skill("hang"), bare, skill("sit", "hang", "hang")))

    assert [fault.path for fault in found] == [
        ("skills", 1, "id"),
        ("skills", 1, "hazards"),
        ("skills", 1, "waiting"),
        ("skills", 2, "prerequisites", 1, "skill"),
    ]


def test_a_syllabus_without_skills_is_none() -> None:
    empty = syllabus().model_copy(update={"skills": ()})

    assert [fault.path for fault in faults_in_syllabus(empty)] == [("skills",)]


# Across files

OTHER_SCOPE = {"id": "teach-floor", "title": "F", "words": "W.", "skills": ("hang",)}
ENDED = date(2025, 12, 31)


@pytest.mark.parametrize(
    ("other", "paths"),
    [
        pytest.param({"id": "bar-b"}, [("grants", "id")], id="the same scope at once"),
        pytest.param({"id": "bar-b", "grants": OTHER_SCOPE}, [], id="another scope"),
        pytest.param(
            {"id": "bar-b", "in_force": date(2026, 1, 1)}, [], id="from the day after it ended"
        ),
        pytest.param(
            {"id": "bar-b", "in_force": ENDED}, [("grants", "id")], id="from the day it ended"
        ),
        pytest.param({"version": 2}, [("in_force",)], id="two versions at once"),
        pytest.param(
            {"version": 2, "in_force": date(2026, 1, 1)}, [], id="a version after the other"
        ),
        pytest.param({}, [("version",)], id="the same version twice"),
    ],
)
def test_one_scope_is_granted_by_one_rubric_at_a_time(
    other: dict[str, Any], paths: list[Path]
) -> None:
    first = rubric(in_force_until=ENDED)
    second = rubric(**other)
    found = faults_across([first, second], [syllabus()])

    assert [fault.path for _, fault in found] == paths
    assert all(noun is second for noun, _ in found)


def test_the_cure_ends_the_earlier_rubric_whatever_the_order() -> None:
    early, late = rubric(), rubric(version=2, in_force=date(2026, 1, 1))

    for pair in ([early, late], [late, early]):
        ((_, fault),) = faults_across(pair, [syllabus()])
        assert fault.cure == "end bar-1 version 1 with 'in_force_until' before 2026-01-01"


def refresher(**other: str) -> Rubric:
    kept: dict[str, Any] = {
        "id": "again",
        "grants": None,
        "validity": None,
        "refreshes": "bar-1",
        **other,
    }
    return rubric(rating(), **kept)


REFRESHED = rubric(validity=Validity.model_validate(FULL))


@pytest.mark.parametrize(
    ("full", "again", "path", "word"),
    [
        pytest.param(REFRESHED, refresher(), None, "", id="fits"),
        pytest.param(
            REFRESHED, refresher(refreshes="bar-2"), ("refreshes",), "'bar-1'", id="unknown"
        ),
        pytest.param(REFRESHED, refresher(refreshes="again"), ("refreshes",), "bar-1", id="itself"),
        pytest.param(
            REFRESHED, refresher(syllabus="floor"), ("syllabus",), "set it to bar", id="syllabus"
        ),
        pytest.param(
            rubric(), refresher(), ("refreshes",), "has no refresher", id="nothing to refresh"
        ),
    ],
)
def test_a_refresher_fits_what_it_refreshes(
    full: Rubric, again: Rubric, path: Path | None, word: str
) -> None:
    floor = syllabus(id="floor")
    found = faults_across([full, again], [syllabus(), floor])

    assert [fault.path for _, fault in found] == ([path] if path else [])
    assert all(word in str(fault) for _, fault in found)


def test_an_unknown_syllabus_is_named_with_the_nearest() -> None:
    ((noun, fault),) = faults_across([rubric(syllabus="baar")], [syllabus()])

    assert (noun.id, fault.path, fault.cure) == ("bar-1", ("syllabus",), "did you mean 'bar'?")


def test_a_syllabus_version_stands_once() -> None:
    found = faults_across([], [syllabus(), syllabus(version=2), syllabus(title="Other")])

    assert [(noun.version, fault.path) for noun, fault in found] == [(1, ("version",))]
