"""Figures from counts are those from the marks themselves, to the last digits."""

from __future__ import annotations

import numpy as np
import pytest
from tests.desk.closeness import CLOSE, same
from tests.published.test_agreement_coefficients import TABLES, Table

from standfast.agreement.counting import Floats, tally_of
from standfast.agreement.icc import icc_unbalanced, intraclass_correlations
from standfast.agreement.percent import percent_agreement, percent_of_sums
from standfast.agreement.scores import ratings_of_table
from standfast.desk.figures import (
    CountedCriterion,
    OneCriterion,
    alpha,
    figures_of,
    figures_of_counts,
    other_chances,
    with_gaps,
    without_paradox,
)
from standfast.desk.grouped import agreement_of, tally_of_group
from standfast.store.grouped import GroupedMarks, LessonSums


def drawn(seed: int, values: list[float], gaps: float) -> Floats:
    """60 things that up to 4 of 5 assessors marked more or less alike."""
    random = np.random.default_rng(seed)
    middle = random.integers(0, len(values), size=(60, 1))
    off = np.clip(middle + random.integers(-1, 2, size=(60, 5)), 0, len(values) - 1)
    table: Floats = np.array(values)[off]
    table[random.random(table.shape) < gaps] = np.nan
    return table


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    "values",
    [
        pytest.param([0.0, 1.0], id="yes or no"),
        pytest.param([1.0, 2.0, 3.0, 4.0, 5.0], id="levels"),
        pytest.param([0.0, 0.2, 1 / 3, 0.5, 2 / 3, 1.0], id="measured"),
    ],
)
def test_figures_from_counts_are_those_from_marks(values: list[float], seed: int) -> None:
    table = drawn(seed, values, 0.3)
    both = (without_paradox, alpha, with_gaps, other_chances)
    theirs, why = figures_of(OneCriterion(table), both)
    ours, why_ours = figures_of_counts(CountedCriterion(tally_of(table)))

    assert len(ours) == len(theirs) > 0
    assert why_ours == why
    for one, other in zip(ours, theirs, strict=True):
        same(one, other)


@pytest.mark.parametrize("table", TABLES, ids=lambda one: one.name)
def test_counts_of_published_tables_give_their_figures(table: Table) -> None:
    group = GroupedMarks("r", "rating", "c", counts_of(table.cells), LessonSums())
    shown, _ = figures_of_counts(CountedCriterion(tally_of_group(group)))
    theirs, _ = figures_of(
        OneCriterion(ratings_of_table(table.cells)), (without_paradox, alpha, other_chances)
    )

    known = {one.name: one for one in shown}
    for one in theirs:
        same(known[one.name], one)
    if len(table.cells) == 2:  # of two categories there are no weights, so the printed ones
        assert known["gwet_ac1"].value == pytest.approx(table.expected["gwet_ac1"], abs=1e-6)
        alone = known["krippendorff_alpha_nominal"].value
        assert alone == pytest.approx(table.expected["krippendorff_alpha_nominal"], abs=1e-6)


def counts_of(cells: list[list[int]]) -> tuple[tuple[tuple[tuple[float, int], ...], int], ...]:
    """What two assessors gave, whoever gave which."""
    found = []
    for row, of in enumerate(cells):
        for column, subjects in enumerate(of):
            scores = sorted((float(row), float(column)))
            given = tuple((score, scores.count(score)) for score in sorted(set(scores)))
            found.append((given, subjects))
    return tuple(one for one in found if one[1])


def test_one_score_from_counts_is_that_of_a_complete_table_and_of_one_with_gaps() -> None:
    # Shrout & Fleiss (1979), table 2: six targets, four judges; printed 0.17.
    table = np.array(
        [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]],
        float,
    )
    (icc,) = (
        one
        for one in figures_of_counts(CountedCriterion(tally_of(table)))[0]
        if one.name == "ICC(1,1)"
    )

    assert round(icc.value, 2) == 0.17
    whole = intraclass_correlations(table)["ICC(1,1)"].estimate
    assert icc.value == pytest.approx(whole.value, abs=CLOSE)
    table[2, 1] = table[5, 3] = np.nan
    there = ~np.isnan(table)
    theirs = icc_unbalanced(np.nonzero(there)[0], table[there]).estimate
    (ours,) = (
        one
        for one in figures_of_counts(CountedCriterion(tally_of(table)))[0]
        if one.name == "ICC(1,1)"
    )
    same(ours, theirs)


@pytest.mark.parametrize(
    ("lessons", "chance"),
    [
        pytest.param(40, 0.8, id="many lessons"),
        pytest.param(5, 0.5, id="just enough for an interval"),
        pytest.param(4, 0.5, id="too few for one"),
        pytest.param(12, 1.0, id="all alike"),
        pytest.param(12, 0.0, id="none alike"),
    ],
)
def test_the_share_alike_from_sums_is_that_from_pairs(lessons: int, chance: float) -> None:
    random = np.random.default_rng(5)
    pairs = random.integers(1, 30, size=lessons)
    lesson = np.repeat(np.arange(lessons), pairs)
    alike = (random.random(len(lesson)) < chance).astype(float)
    each = np.bincount(lesson, alike).astype(int)
    squares = (int(pairs @ pairs), int(pairs @ each), int(each @ each))
    ours = percent_of_sums(lessons, int(pairs.sum()), int(each.sum()), squares)

    theirs = percent_agreement(alike, lesson)
    same(ours, theirs)
    assert ours.method == theirs.method


def test_what_nobody_marked_twice_is_left_out_and_the_least_alike_comes_first() -> None:
    alone = GroupedMarks("r", "rating", "alone", ((((1.0, 1),), 9),), LessonSums())
    given = ((((0.0, 2),), 5), (((0.0, 1), (1.0, 1)), 5))
    half = GroupedMarks("r", "attempts", "half", given, LessonSums(2, 10, 5, 50, 25, 13))
    most = GroupedMarks("r", "attempts", "most", given, LessonSums(2, 10, 9, 50, 45, 41))
    found = agreement_of([alone, most, half])

    assert [one.criterion for one in found] == ["half", "most"]
    assert [one.alike.value for one in found] == [0.5, 0.9]
    assert found[0].word == "cannot be told"
    assert "gwet_ac1" in [one.name for one in found[0].figures]
    assert "conger_kappa" not in [one.name for one in found[0].figures]
