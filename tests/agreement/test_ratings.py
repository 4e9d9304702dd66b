"""Ratings in long form, as a table of one criterion, and in pairs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.agreement.ratings import first_of, joined_codes, long_form, shared
from standfast.problems import Refused

NAN = float("nan")


def test_one_criterion_is_a_table_with_gaps() -> None:
    ratings = long_form(
        ["s1", "s1", "s2", "s2", "s3"],
        ["bo", "ann", "ann", "cy", "ann"],
        ["spot", "spot", "spot", "voice", "spot"],
        [2, 3, 4, 1, None],
    )
    table = ratings.table(ratings.criteria.index("spot"))

    assert table.raters == ("ann", "bo")
    assert np.array_equal(table.scores, np.array([[3, 2], [4, NAN]]), equal_nan=True)
    assert len(ratings) == 4


def test_what_was_seen_on_two_occasions_has_two_rows() -> None:
    ratings = long_form(["s1"] * 3, ["ann", "ann", "bo"], ["spot"] * 3, [1, 2, 3], ["1", "2", "2"])

    table = ratings.table(0).scores

    assert np.array_equal(table, np.array([[1, NAN], [2, 3]]), equal_nan=True)


def test_occasions_are_in_the_order_of_their_numbers() -> None:
    ratings = long_form(["s"] * 3, ["ann"] * 3, ["spot"] * 3, [1, 1, 1], ["r10", "r2", "r1"])

    assert ratings.occasions == ("r1", "r2", "r10")


def test_the_same_mark_twice_is_refused_by_name() -> None:
    with pytest.raises(Refused, match="ann marked 'spot' of 's1' twice"):
        long_form(["s1", "s1"], ["ann", "ann"], ["spot", "spot"], [1, 1])


def test_a_missing_mark_that_is_there_twice_is_refused_too() -> None:
    with pytest.raises(Refused):
        long_form(["s1", "s1"], ["ann", "ann"], ["spot", "spot"], [1, None])


def test_three_who_marked_the_same_are_three_pairs() -> None:
    ratings = long_form(
        ["s1", "s1", "s1", "s2", "s2"],
        ["cy", "ann", "bo", "ann", "bo"],
        ["spot", "spot", "spot", "spot", "voice"],
        [1, 2, 3, 4, 5],
    )
    both = shared(ratings)
    found = sorted(
        (ratings.assessors[ratings.assessor[a]], ratings.assessors[ratings.assessor[b]])
        for a, b in zip(both.first, both.second, strict=True)
    )

    assert found == [("ann", "bo"), ("ann", "cy"), ("bo", "cy")]


def test_nothing_is_in_no_pair() -> None:
    assert not len(shared(long_form([], [], [], [])).first)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 2_000)), min_size=1, max_size=40))
def test_joined_codes_are_in_order_and_without_gaps_however_sparse(
    pairs: list[tuple[int, int]],
) -> None:
    one, other = (np.array(column, dtype=np.int64) for column in zip(*pairs, strict=True))

    joined = joined_codes(one, other).tolist()
    place = {pair: number for number, pair in enumerate(sorted(set(pairs)))}
    assert joined == [place[pair] for pair in pairs]
    first = first_of(joined_codes(one, other))
    assert [pairs[at] for at in first] == sorted(set(pairs))
    assert [pairs.index(pairs[at]) for at in first] == first.tolist()


def test_some_of_the_marks_are_units_of_the_same_things() -> None:
    ratings = long_form(["a", "b", "a", "b"], ["x", "x", "y", "y"], ["c"] * 4, [1, 2, 3, 4])
    known = ratings.unit

    part = ratings.only(np.array([False, True, False, True]))
    assert part.unit.tolist() == known[[1, 3]].tolist()
    assert len(shared(part).first) == 1
