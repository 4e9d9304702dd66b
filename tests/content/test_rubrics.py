"""What the shipped rubrics say, held to the trade's needs and to arithmetic."""

from __future__ import annotations

import re
from fractions import Fraction
from math import comb

import pytest

from standfast.model.base import exact
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Criterion,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.model.syllabus import Syllabus

NAMES = ("low-trapeze-1", "floor-tumbling-1", "trapeze-refresher", "tumbling-refresher")
FULL = ("low-trapeze-1", "floor-tumbling-1")

# The project's brief for content, issue 2, section 2.
COMPETENCIES = {
    "look-over",
    "briefing-consent",
    "demonstration-cueing",
    "prerequisite-checking",
    "spotting-position",
    "steady-reference",
    "exit-recovery",
    "failed-attempt",
    "waiting-students",
}
KINDS = {"attempts", "clearances", "samples", "rating", "incident"}

# DESIGN 7: what everything that could be read as permission says.
CAUTIONS = (
    "no licence",
    "medical clearance",
    "approval of",
    "local law",
    "maker's limits",
    "insurer's terms",
    "qualified rigger",
    "when in doubt, the student stays on the ground",
)

# What each kind of criterion tells the assessor: the mark when it is there and when it is not.
TOLD = {
    "attempts": ("Yes:", "No:", "Could not be seen:"),
    "clearances": ("Let go:", "Held back:", "Not marked:"),
    "samples": ("Waiting:", "Idle:", "Not idle:"),
    "rating": ("There:", "Not there:"),
    "incident": ("Ticked", "Not ticked:"),
}


def seen_words(criterion: Criterion) -> str:
    """Every word that an assessor reads before ticking."""
    words = [criterion.title, criterion.look_for]
    if isinstance(criterion, AttemptsCriterion):
        words.append(criterion.question)
    if isinstance(criterion, RatingCriterion):
        words += [part for level in criterion.levels for part in (level.title, level.words)]
    return "\n".join(words)


@pytest.fixture(params=NAMES)
def rubric(request: pytest.FixtureRequest, rubrics: dict[str, Rubric]) -> Rubric:
    return rubrics[request.param]


@pytest.fixture
def syllabus(rubric: Rubric, syllabuses: dict[str, Syllabus]) -> Syllabus:
    return syllabuses[rubric.syllabus]


@pytest.fixture(params=FULL)
def full(request: pytest.FixtureRequest, rubrics: dict[str, Rubric]) -> Rubric:
    return rubrics[request.param]


def test_each_rubric_has_the_nine_competencies(rubric: Rubric) -> None:
    assert {competency.id for competency in rubric.competencies} >= COMPETENCIES


def test_each_rubric_uses_all_five_kinds_of_evidence(rubric: Rubric) -> None:
    assert {criterion.kind for criterion in rubric.criteria()} == KINDS


def test_no_criterion_id_stands_twice_in_a_rubric(rubric: Rubric) -> None:
    ids = [criterion.id for criterion in rubric.criteria()]

    assert len(ids) == len(set(ids))


def test_the_weights_sum_to_exactly_one(rubric: Rubric) -> None:
    assert sum((exact(part.weight) for part in rubric.competencies), Fraction(0)) == 1


def test_every_competency_has_a_criterion_and_a_share_that_some_of_them_reach(
    rubric: Rubric,
) -> None:
    for part in rubric.competencies:
        points = sum(criterion.points for criterion in part.criteria)

        assert points > 0
        assert 0 < exact(part.least_share) <= 1


def test_no_word_that_an_assessor_ticks_by_is_a_judgement(
    rubric: Rubric, judgement: re.Pattern[str]
) -> None:
    found = {
        criterion.id: judgement.findall(seen_words(criterion))
        for criterion in rubric.criteria()
        if judgement.search(seen_words(criterion))
    }

    assert found == {}


@pytest.mark.parametrize(
    ("words", "found"),
    [
        pytest.param("stands in an appropriate place", True, id="a judgement"),
        pytest.param("stands within one foot's length of the mark", False, id="a length"),
    ],
)
def test_the_list_of_judgements_finds_one_when_it_is_there(
    words: str, found: bool, judgement: re.Pattern[str]
) -> None:
    assert bool(judgement.search(words)) is found


def test_every_criterion_says_what_is_seen_when_it_is_there_and_when_it_is_not(
    rubric: Rubric,
) -> None:
    for criterion in rubric.criteria():
        for told in TOLD[criterion.kind]:
            assert told in criterion.look_for, criterion.id


def test_questions_can_be_read_with_eyes_on_the_mat(rubric: Rubric) -> None:
    for criterion in rubric.criteria():
        if isinstance(criterion, AttemptsCriterion):
            assert criterion.question.endswith("?")
            assert len(criterion.question.split()) <= 10, criterion.question


def test_ratings_have_four_levels_in_order_with_words_that_differ(rubric: Rubric) -> None:
    for criterion in rubric.criteria():
        if isinstance(criterion, RatingCriterion):
            assert [level.level for level in criterion.levels] == [1, 2, 3, 4], criterion.id
            assert len({level.words for level in criterion.levels}) == 4, criterion.id
            assert criterion.standard.floor <= criterion.standard.least <= 4, criterion.id


def reachable(share: float, assurance: float, least: int) -> bool:
    """Whether `least` answers without one lapse put the lower bound on the share or above it.

    The one-sided bound p of n out of n solves p**n = 1 - assurance.
    Source: Clopper & Pearson (1934), Biometrika 26, 404-413, the case x = n, from memory.
    """
    return exact(share) ** least <= 1 - exact(assurance)


def test_every_standard_can_be_reached_by_its_own_least_number(rubric: Rubric) -> None:
    for criterion in rubric.criteria():
        if isinstance(criterion, AttemptsCriterion):
            share = criterion.standard.share
        elif isinstance(criterion, ClearancesCriterion):
            share = criterion.standard.accuracy
        elif isinstance(criterion, SamplesCriterion):
            share = float(1 - exact(criterion.standard.idle))
        else:
            continue
        standard = criterion.standard

        assert reachable(share, standard.assurance, standard.least), criterion.id


@pytest.mark.parametrize(
    ("least", "reached"),
    [pytest.param(10, True, id="ten are enough"), pytest.param(9, False, id="nine are too few")],
)
def test_eighty_five_in_a_hundred_at_eighty_needs_ten(least: int, reached: bool) -> None:
    assert reachable(0.85, 0.8, least) is reached


def chance_of_so_few_lapses(lapses: int, seen: int, share: Fraction) -> Fraction:
    """How likely so few lapses are for somebody who only just has the share: a binomial tail."""
    return sum(
        (comb(seen, k) * (1 - share) ** k * share ** (seen - k) for k in range(lapses + 1)),
        Fraction(0),
    )


def test_the_lapses_allowed_still_reach_the_share_in_the_lessons_asked_for(rubric: Rubric) -> None:
    """A lesson gives at most about 30 attempts (common practice, no source)."""
    most = 30 * rubric.decision.practicals
    for criterion in rubric.criteria():
        if isinstance(criterion, AttemptsCriterion):
            standard = criterion.standard
            assert standard.lapses, criterion.id
            chance = chance_of_so_few_lapses(standard.lapses, most, exact(standard.share))

            assert chance <= 1 - exact(standard.assurance), criterion.id


def test_the_looks_are_a_minute_apart_and_twelve_or_more(rubric: Rubric) -> None:
    looks = [c.standard for c in rubric.criteria() if isinstance(c, SamplesCriterion)]

    assert looks
    assert all(look.every == 60 and look.least >= 12 for look in looks)


def test_no_false_clearance_is_allowed(rubric: Rubric) -> None:
    choices = [c for c in rubric.criteria() if isinstance(c, ClearancesCriterion)]

    assert choices
    assert all(c.critical and c.standard.false_clearances == 0 for c in choices)


def test_response_to_failure_is_asked_of_failed_attempts_only(rubric: Rubric) -> None:
    asked = {
        criterion.id
        for part in rubric.competencies
        if part.id == "failed-attempt"
        for criterion in part.criteria
        if isinstance(criterion, AttemptsCriterion)
    }
    failed = {
        c.id for c in rubric.criteria() if isinstance(c, AttemptsCriterion) and c.asked == "failed"
    }

    assert failed
    assert failed == asked


def attempts_criterion(rubric: Rubric, wanted: str) -> AttemptsCriterion:
    criterion = rubric.criterion(wanted)
    assert isinstance(criterion, AttemptsCriterion)
    return criterion


def test_time_to_settle_is_asked_of_every_skill_that_puts_the_head_below_the_heart(
    rubric: Rubric, syllabus: Syllabus
) -> None:
    inverting = {skill.id for skill in syllabus.skills if skill.inverts}

    assert set(attempts_criterion(rubric, "settled").skills) == inverting


def test_stillness_is_asked_of_every_skill_that_turns_or_inverts(
    rubric: Rubric, syllabus: Syllabus
) -> None:
    moving = {skill.id for skill in syllabus.skills if skill.turns or skill.inverts}

    assert set(attempts_criterion(rubric, "feet-still").skills) == moving


def test_contact_is_asked_of_every_skill_whose_spot_names_a_part_to_hold(
    rubric: Rubric, syllabus: Syllabus
) -> None:
    held = {s.id for s in syllabus.skills if not s.spot.controls.startswith("none")}

    assert set(attempts_criterion(rubric, "contact-kept").skills) == held


def test_the_spotting_place_is_asked_of_every_attempt(rubric: Rubric) -> None:
    criterion = attempts_criterion(rubric, "in-place")

    assert criterion.asked == "every"
    assert criterion.skills == ()
    assert criterion.critical


def test_a_student_left_unsupported_and_an_assessor_stepping_in_stop_the_practical(
    rubric: Rubric,
) -> None:
    stops = {
        c.id
        for c in rubric.criteria()
        if isinstance(c, IncidentCriterion) and c.standard.effect == "stops"
    }

    assert stops >= {"left-unsupported", "assessor-stepped-in", "touch-after-no"}


def test_vouching_for_rigging_is_never_allowed(rubric: Rubric) -> None:
    vouching = rubric.criterion("vouches-for-rigging")

    assert isinstance(vouching, IncidentCriterion)
    assert vouching.critical
    assert vouching.standard.limit == 0


@pytest.fixture(params=["trapeze-refresher", "tumbling-refresher"])
def refresher(request: pytest.FixtureRequest, rubrics: dict[str, Rubric]) -> Rubric:
    return rubrics[request.param]


def test_a_refresher_uses_the_words_of_the_rubric_it_refreshes(
    rubrics: dict[str, Rubric], refresher: Rubric
) -> None:
    assert refresher.refreshes
    refreshed = rubrics[refresher.refreshes]
    assert refresher.syllabus == refreshed.syllabus

    for criterion in refresher.criteria():
        first = refreshed.criterion(criterion.id)
        assert first is not None
        assert seen_words(first) == seen_words(criterion)


def test_a_refresher_grants_nothing_and_has_no_validity_of_its_own(refresher: Rubric) -> None:
    assert refresher.grants is None
    assert refresher.validity is None
    assert refresher.decision.practicals == 1


def test_a_full_pass_needs_two_lessons_two_assessors_and_one_stranger(full: Rubric) -> None:
    rule = full.decision

    assert (rule.practicals, rule.assessors, rule.independent_assessors) == (2, 2, 1)
    assert (rule.days_apart, rule.window) == (7, "P6M")


def test_a_full_pass_lasts_two_years_with_a_refresher_each_year(full: Rubric) -> None:
    assert full.validity is not None
    assert full.validity.refresher is not None
    assert full.validity.period == "P2Y"
    assert (full.validity.refresher.every, full.validity.refresher.window) == ("P1Y", "P2M")
    assert (full.validity.grace, full.validity.lapse_limit) == ("P1M", "P1Y")
    assert full.validity.in_grace == "does not teach alone until refreshed"


def test_what_is_granted_says_what_it_is_not(full: Rubric) -> None:
    assert full.grants is not None
    words = full.grants.words.lower()

    assert [caution for caution in CAUTIONS if caution not in words] == []
    assert "common practice, no source" in words


def test_a_refresher_says_what_it_is_not(refresher: Rubric) -> None:
    about = (refresher.about or "").lower()

    assert [caution for caution in CAUTIONS if caution not in about] == []


def test_what_is_granted_is_the_whole_syllabus_and_nothing_else(
    full: Rubric, syllabuses: dict[str, Syllabus]
) -> None:
    assert full.grants is not None
    taught = [skill.id for skill in syllabuses[full.syllabus].skills]

    assert list(full.grants.skills) == taught


def test_every_full_rubric_has_its_refresher(rubrics: dict[str, Rubric], full: Rubric) -> None:
    assert [r.id for r in rubrics.values() if r.refreshes == full.id] == [
        {"low-trapeze-1": "trapeze-refresher", "floor-tumbling-1": "tumbling-refresher"}[full.id]
    ]


def test_no_two_rubrics_grant_the_same_scope(rubrics: dict[str, Rubric]) -> None:
    scopes = [r.grants.id for r in rubrics.values() if r.grants]

    assert len(scopes) == len(set(scopes)) == 2


def test_the_three_documents_are_required(rubric: Rubric) -> None:
    assert set(rubric.documents) == {"first-aid", "safeguarding-check", "insurance"}


def test_the_lower_mark_counts_when_two_sheets_differ(rubric: Rubric) -> None:
    assert (rubric.joining.critical, rubric.joining.other) == ("lower", "lower")


def test_every_number_without_a_source_says_so(rubric: Rubric) -> None:
    assert {criterion.source for criterion in rubric.criteria()} == {"common practice, no source"}
    assert "common practice, no source" in (rubric.about or "")
