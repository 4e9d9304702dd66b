"""What each subject was given, counted in ways that must come to the same."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from standfast.agreement import counting
from standfast.agreement.counting import MISSING, Tally, coded, counted, different_rows, tally_of
from standfast.agreement.scores import scores_of
from standfast.problems import Refused

Floats = NDArray[np.float64]
GAP = float("nan")

TABLES = st.one_of(
    *(
        arrays(np.float64, (7, 4), elements=st.sampled_from([*values, GAP]))
        for values in ([1.0, 2.0, 3.0], [0.0, 5.0, 900.0], [0.1, 1.1, 2.5], [-3.0, -1.0])
    )
)


def spelled_out(tally: Tally) -> list[tuple[float, ...]]:
    """A row for each subject, sorted."""
    rows = np.repeat(tally.counts, tally.times.astype(int), axis=0)
    return sorted(map(tuple, rows.tolist()))


def by_hand(table: Floats, values: Floats) -> list[tuple[float, ...]]:
    return sorted(tuple(float((row == value).sum()) for value in values) for row in table)


@given(TABLES)
def test_a_tally_holds_every_subject_with_what_it_was_given(table: Floats) -> None:
    tally = tally_of(table)

    assert tally.values.tolist() == np.unique(table[~np.isnan(table)]).tolist()
    assert spelled_out(tally) == by_hand(table, tally.values)


@given(TABLES)
def test_a_code_is_the_place_of_the_value(table: Floats) -> None:
    values, codes = coded(table)

    back = np.append(values, GAP)[codes]
    assert np.array_equal(back, table, equal_nan=True)
    assert (codes[np.isnan(table)] == MISSING).all()


@pytest.mark.parametrize("few", [0, 1 << 20], ids=["sorted", "counted"])
@given(table=TABLES)
def test_different_rows_are_those_that_counting_gives(few: int, table: Floats) -> None:
    values, codes = coded(table)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(counting, "_FEW_PACKED", few)
        rows, times = different_rows(codes, len(values))

    assert len(np.unique(rows, axis=0)) == len(rows)
    assert spelled_out(Tally(values, rows, times)) == sorted(
        map(tuple, counted(codes, len(values)).tolist())
    )


def test_pieces_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    table = np.random.default_rng(2).integers(1, 6, (50, 3)).astype(float)
    whole = spelled_out(tally_of(table))
    monkeypatch.setattr(counting, "_PIECE", 7)

    assert spelled_out(tally_of(table)) == whole
    assert np.array_equal(coded(table)[1], table.astype(int) - 1)


def test_a_value_between_whole_numbers_late_in_the_table_is_not_lost() -> None:
    table = np.ones((20_000, 3))
    table[-1] = [1, 2, 1.5]

    tally = tally_of(table)
    assert tally.values.tolist() == [1, 1.5, 2]
    assert spelled_out(tally)[0] == (1, 1, 1)


def test_more_values_than_one_number_holds_are_counted_all_the_same() -> None:
    table = np.arange(200.0).reshape(40, 5)

    tally = tally_of(table)
    assert spelled_out(tally) == by_hand(table, tally.values)
    rows, times = different_rows(coded(table)[1], 200)
    assert (rows.sum(), times.sum()) == (200, 40)


def test_too_many_values_are_refused_with_the_cure() -> None:
    with pytest.raises(Refused, match="2001 different values") as refused:
        tally_of(np.repeat(np.arange(2_001.0), 2).reshape(-1, 2) * 1.5)

    assert refused.value.reasons == ("round the scores to the levels that matter",)


def test_an_assessor_without_a_mark_makes_no_pair() -> None:
    with pytest.raises(Refused, match="no two assessors"):
        scores_of([[1, GAP], [2, GAP]])
    with pytest.raises(Refused, match="no two assessors"):
        scores_of([[1, GAP], [GAP, 2]])
