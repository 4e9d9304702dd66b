"""The prevalence paradox is told when it is there, with its figures, and not otherwise."""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.paradox import paradox
from standfast.agreement.scores import ratings_of_table, scores_of, scores_of_counts

# Feinstein & Cicchetti (1990), J Clin Epidemiol 43, 543-549, cells from memory.
EVEN = [[40, 9], [6, 45]]
LOPSIDED = [[80, 10], [5, 5]]
ALIKE = [[45, 15], [25, 15]]
UNLIKE = [[25, 35], [5, 35]]


def told(table: list[list[int]]) -> str | None:
    names = {0.0: "kept contact", 1.0: "let go early"}
    return paradox(scores_of(ratings_of_table(table), [0, 1]), names)


@pytest.mark.parametrize("table", [EVEN, ALIKE], ids=["high and even", "moderate, used alike"])
def test_nothing_is_told_where_kappa_does_not_mislead(table: list[list[int]]) -> None:
    assert told(table) is None


def test_lopsided_shares_are_told_with_every_figure() -> None:
    words = told(LOPSIDED)

    assert words is not None
    assert words.startswith("the assessors agree 85 % of the time, yet kappa is only 0.32: ")
    assert "88 % of the scores are 'kept contact'" in words
    assert "78 % of the time by chance alone" in words
    assert "would make it 0.70" in words
    assert "AC1, which lopsided shares hardly move, is 0.81" in words


def test_a_kappa_that_is_raised_by_unlike_use_is_told() -> None:
    words = told(UNLIKE)

    assert words is not None
    assert "30 % of the scores of one and 60 % of another's" in words
    assert "(0.26)" in words
    assert "(0.19)" in words


def test_no_variation_is_told_as_such() -> None:
    words = told([[9, 0], [0, 0]])

    assert words is not None
    assert words.startswith("every score is 0: without variation")


def test_more_than_two_assessors_and_mere_counts_can_be_lopsided_too() -> None:
    ratings = np.zeros((30, 3))
    ratings[[0, 5, 9], [0, 1, 2]] = 1
    counts = np.column_stack([(ratings == 0).sum(axis=1), (ratings == 1).sum(axis=1)])

    for words in (paradox(scores_of(ratings)), paradox(scores_of_counts(counts))):
        assert words is not None
        assert "97 % of the scores are '0'" in words
