"""What a refresher covers: what is always named, and what was weakest last time."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made

from standfast.engine.decide import decide
from standfast.engine.definitions import faults_across, faults_in_rubric
from standfast.engine.focus import ALWAYS, NEVER_SEEN, Seen, headroom, refresher_focus
from standfast.model.canonical import plain
from standfast.model.decision import Decision, Figure, Finding
from standfast.model.focus import Focus
from standfast.model.rubric import Competency, Criterion, Rubric
from standfast.model.sheet import Sheet

NAMES = ("alpha", "beta", "gamma", "delta")


def parts() -> tuple[Competency, ...]:
    """Four competencies: questions, a rating, choices with a stop, looks with a count."""
    return (
        made.competency("alpha", made.attempts("place", critical=True), weight=0.25),
        made.competency("beta", made.rating("looks"), weight=0.25),
        made.competency(
            "gamma",
            made.clearances("ready", critical=True),
            made.incident("dropped", effect="stops", critical=True),
            weight=0.25,
        ),
        made.competency("delta", made.samples("busy"), made.incident("late", limit=1), weight=0.25),
    )


FULL = made.rubric(competencies=parts())


def refresher(always: tuple[str, ...] = ("alpha",), weakest: int = 1) -> Rubric:
    return made.rubric(
        id="bar-again",
        competencies=parts(),
        grants=None,
        validity=None,
        refreshes="bar-1",
        covers={"always": always, "weakest": weakest},
    )


def lesson(**other: Any) -> Sheet:  # noqa: ANN401 - any field of a sheet
    return made.sheet(1, rubric="bar-again", **other)


def first(**other: Any) -> Decision:  # noqa: ANN401 - any field of a sheet
    return decide(FULL, made.syllabus(), [made.sheet(9, **other)], made.person(), made.ON)


def focus(rubric: Rubric, *earlier: Decision) -> Focus:
    found = refresher_focus(rubric, [Seen(FULL, one.findings) for one in earlier])
    assert found is not None
    return found


def names(found: Focus) -> list[str]:
    return [one.competency for one in found.covered]


def again(found: Focus | None, *sheets: Sheet) -> Decision:
    return decide(
        refresher(), made.syllabus(), sheets or [lesson()], made.person(), made.ON, focus=found
    )


# Which


def test_the_one_nearest_to_its_standard_is_the_weakest_and_the_reason_says_so() -> None:
    found = focus(refresher(), first(ratings=made.marks(looks=3)))

    assert names(found) == ["alpha", "beta"]
    assert [one.because for one in found.covered] == [
        ALWAYS,
        "weakest last time: 'looks', level 3 of 4",
    ]


def test_what_is_always_covered_is_not_counted_among_the_weakest() -> None:
    found = focus(refresher(("beta",)), first(ratings=made.marks(looks=3)))

    assert names(found) == ["alpha", "beta"]
    assert [one.because for one in found.covered] == [
        "weakest last time: 'place', 12 of 12",
        ALWAYS,
    ]


def test_of_equals_the_first_of_the_rubric_is_taken() -> None:
    clean = first()  # everything as good as it can be

    assert names(focus(refresher((), 2), clean)) == ["alpha", "beta"]


def test_not_met_is_weaker_than_not_enough_seen_and_that_than_met() -> None:
    looks = made.looks([(3, 3)] * 24)  # all idle, all the time
    poor = first(samples=looks, ratings=made.marks(looks=None))

    assert names(focus(refresher((), 1), poor)) == ["delta"]
    assert names(focus(refresher((), 2), poor)) == ["beta", "delta"]
    assert "nothing seen" in focus(refresher((), 2), poor).covered[0].because


def test_a_competency_that_nobody_saw_is_the_weakest_of_all() -> None:
    extra = made.competency("omega", made.rating("nerve"), weight=0.0)
    rule = refresher((), 1).model_copy(update={"competencies": (*parts(), extra)})

    found = focus(rule, first(ratings=made.marks(looks=1)))

    assert [(one.competency, one.because) for one in found.covered] == [("omega", NEVER_SEEN)]


def test_the_newest_decision_that_covered_a_competency_counts() -> None:
    old = first(ratings=made.marks(looks=3))  # beta on its standard
    newer = again(focus(refresher(("beta",), 0), old))  # beta at its best, the rest not looked at

    found = refresher_focus(
        refresher((), 1), [Seen(refresher(), newer.findings), Seen(FULL, old.findings)]
    )

    assert found is not None
    assert names(found) == ["alpha"]  # gamma's stop was watched for, and that is not covering it


def test_without_an_earlier_practical_or_a_rule_everything_is_covered() -> None:
    plain_one = refresher().model_copy(update={"covers": None})

    assert refresher_focus(refresher(), ()) is None
    assert refresher_focus(plain_one, [Seen(FULL, first().findings)]) is None


@pytest.mark.parametrize(
    ("criterion", "figure", "room"),
    [
        pytest.param(made.attempts(share=0.8), {"counted": 20, "lapses": 2}, "1/2", id="half-way"),
        pytest.param(made.attempts(share=0.8), {"counted": 20, "lapses": 4}, "0", id="on-it"),
        pytest.param(made.attempts(share=0.8), {"counted": 20, "lapses": 0}, "1", id="no-lapse"),
        pytest.param(made.rating(least=3), {"value": 4.0}, "1", id="best-level"),
        pytest.param(made.rating(least=3), {"value": 3.0}, "0", id="level-asked"),
        pytest.param(made.rating(least=3), {"value": 2.0}, "-1", id="level-under"),
        pytest.param(made.rating(least=4), {"value": 4.0}, "1", id="only-the-best-will-do"),
        pytest.param(made.samples(idle=0.3), {"value": 0.15}, "1/2", id="half-as-idle"),
        pytest.param(made.samples(idle=0.3), {"value": 0.0}, "1", id="nobody-idle"),
        pytest.param(made.incident(limit=2), {"value": 1.0, "lapses": 1}, "1/2", id="one-of-two"),
        pytest.param(made.incident(), {"value": 0.0, "lapses": 0}, "1", id="none-of-none"),
        pytest.param(made.clearances(), {"value": None}, "0", id="nothing-seen"),
    ],
)
def test_headroom_is_the_share_of_the_way_from_the_standard_to_the_best(
    criterion: Criterion, figure: dict[str, object], room: str
) -> None:
    seen = {"value": 0.9, **figure} if "value" not in figure else figure
    found = Finding(
        criterion=criterion.id,
        competency="c",
        kind=criterion.kind,
        state="met",
        critical=False,
        points=1,
        figure=Figure.model_validate(seen),
        standard="",
        says="",
    )

    assert headroom(criterion, found) == Fraction(room)


findings = st.fixed_dictionaries(
    {
        "ratings": st.sampled_from([None, 1, 2, 3, 4]).map(lambda n: made.marks(looks=n)),
        "attempts": st.lists(st.sampled_from(["yes", "no", "unseen"]), max_size=14).map(made.tries),
        "samples": st.lists(st.sampled_from([(0, 3), (1, 3), (3, 3)]), max_size=20).map(made.looks),
    }
)


@given(findings, st.sets(st.sampled_from(NAMES)), st.integers(0, 4))
def test_always_is_in_it_and_no_weaker_one_is_left_out(
    seen: dict[str, Any], always: set[str], weakest: int
) -> None:
    earlier = first(**seen)
    rule = refresher(tuple(sorted(always)), weakest)

    found = refresher_focus(rule, [Seen(FULL, earlier.findings)])

    assert found is not None
    covered = set(names(found))
    assert always <= covered
    assert len(covered) == min(len(always) + weakest, len(NAMES))
    states = {"not met": 0, "open": 1, "met": 2}

    def least(name: str) -> tuple[int, Fraction]:
        own = FULL.competency(name)
        assert own is not None
        by_id = {f.criterion: f for f in earlier.findings}
        return min((states[by_id[c.id].state], headroom(c, by_id[c.id])) for c in own.criteria)

    chosen = [least(name) for name in covered - always]
    left = [least(name) for name in set(NAMES) - covered]
    assert not chosen or not left or max(chosen) <= min(left)


# What is judged


def test_only_what_is_covered_is_required() -> None:
    found = focus(refresher(), first(ratings=made.marks(looks=3)))
    short = lesson(clearances=(), samples=(), covers=("place", "looks"))

    decision = again(found, short)

    assert decision.outcome == "pass"
    judged = [r.competency for r in decision.reasons if r.step == "competency"]
    assert judged == ["alpha", "beta"]
    assert decision.focus == found
    assert decide(refresher(), made.syllabus(), [short], made.person(), made.ON).outcome == "more"


def test_the_share_of_points_is_of_what_is_covered() -> None:
    rule = refresher().model_copy(update={"decision": made.rubric().decision})
    found = focus(rule, first(ratings=made.marks(looks=3)))
    decision = decide(rule, made.syllabus(), [lesson()], made.person(), made.ON, focus=found)

    [overall] = [reason for reason in decision.reasons if reason.step == "overall"]
    assert (overall.figure, overall.standard) == ("100.0 %", "at least 100 %")
    assert overall.says == "100.0 % of the points of what is covered"


def test_a_weak_mark_outside_changes_nothing() -> None:
    found = focus(refresher(("alpha", "gamma"), 0), first())

    assert again(found, lesson(ratings=made.marks(looks=1))).outcome == "pass"


NOT_READY = made.choices(["let-go"] * 6, skill="sit", student="S3")


@pytest.mark.parametrize(
    ("seen", "outcome"),
    [
        pytest.param({"incidents": made.incidents("dropped")}, "stopped", id="a-stop"),
        pytest.param({"clearances": NOT_READY}, "fail", id="let-go-who-was-not-ready"),
        pytest.param({"attempts": made.tries(["no"] * 12)}, "fail", id="critical-and-refuted"),
        pytest.param({"attempts": made.tries(["yes"] * 2)}, "pass", id="critical-and-little-seen"),
        pytest.param({"incidents": made.incidents("late")}, "pass", id="an-incident-in-its-limit"),
    ],
)
def test_what_was_seen_outside_is_not_overlooked(seen: dict[str, object], outcome: str) -> None:
    found = focus(refresher(("beta",), 0), first())

    decision = again(found, lesson(**seen))

    assert decision.outcome == outcome


def test_a_decision_without_a_focus_is_what_it_always_was() -> None:
    decision = first()

    assert "focus" not in plain(decision)
    assert "covers" not in plain(made.sheet(1))


def test_a_part_of_a_full_practical_is_no_full_practical() -> None:
    partly = made.sheet(1, covers=("place",))
    decision = decide(FULL, made.syllabus(), [partly], made.person(), made.ON)

    assert decision.outcome == "more"
    assert "only a part of the rubric" in decision.left_out[0].because


# What a rubric may say


@pytest.mark.parametrize(
    ("always", "weakest", "what"),
    [
        pytest.param(("alfa",), 1, "no competency 'alfa'", id="unknown"),
        pytest.param(("alpha", "alpha"), 1, "'alpha' is there twice", id="twice"),
        pytest.param(("alpha", "beta"), 2, "2 always and 2 weakest of 4", id="all-of-them"),
        pytest.param((), 0, "covers nothing", id="nothing"),
    ],
)
def test_what_it_covers_must_be_something_and_not_everything(
    always: tuple[str, ...], weakest: int, what: str
) -> None:
    found = [f.what for f in faults_in_rubric(refresher(always, weakest), None)]

    assert any(what in fault for fault in found), found


def test_a_full_practical_covers_the_whole_rubric() -> None:
    rule = FULL.model_copy(update={"covers": refresher().covers})

    assert "refreshes nothing" in faults_in_rubric(rule, None)[0].what


def test_a_competency_that_no_full_practical_shows_is_named_always() -> None:
    full = made.rubric(
        competencies=parts()[:3],
        validity={"period": "P2Y", "refresher": {"every": "P1Y", "window": "P2M"}},
    )

    found = [fault.what for _, fault in faults_across([full, refresher()], [made.syllabus()])]
    named = [f for _, f in faults_across([full, refresher(("delta",))], [made.syllabus()])]

    assert any("'delta' is no competency of bar-1" in what for what in found)
    assert not named
