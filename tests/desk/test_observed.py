"""Tries and looks of two observers, counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.ratings import long_form, shared
from standfast.desk.marks import Marks
from standfast.desk.observed import Observed, observed

# Of one lesson: ten tries (yes, no), and five looks at five waiting (how many were idle).
ANN_TRIES, BO_TRIES = "yyyyyyynny", "yyyyyynnyy"
ANN_IDLE, BO_IDLE = (0, 1, 0, 2, 0), (0, 1, 1, 1, 0)


def rows_of(lesson: str, who: str, tries: str, idle: tuple[int, ...]) -> list[tuple[str, ...]]:
    said = [(f"{lesson} try {n}", who, "still", str(int(t == "y"))) for n, t in enumerate(tries)]
    looks = [(f"{lesson} look {n}", who, "idle", str(1 - i / 5)) for n, i in enumerate(idle)]
    return [(*row, lesson) for row in (*said, *looks)]


def found(*lessons: list[tuple[str, ...]], kind: str = "attempts") -> dict[str, Observed]:
    rows = [row for lesson in lessons for row in lesson]
    subjects, who, criteria, scores, of = (list(column) for column in zip(*rows, strict=True))
    ratings = long_form(subjects, who, criteria, [float(s) for s in scores], lessons=of)
    marks = Marks(
        ratings=ratings,
        within=np.zeros(2),
        better=np.ones(2, dtype=np.bool_),
        names={},
        lessons=[],
        source="by hand",
        kinds=["samples", kind],
        scale=np.full((2, 2), np.nan),
    )
    assert ratings.criteria == ("idle", "still")
    return {one.criterion: one for one in observed(marks, shared(ratings))}


ONE = [*rows_of("l1", "ann", ANN_TRIES, ANN_IDLE), *rows_of("l1", "bo", BO_TRIES, BO_IDLE)]


def test_tries_are_told_by_answer_and_by_count() -> None:
    still = found(ONE)["still"]

    assert (still.each.alike, still.each.of) == (8, 10)
    assert (still.there.alike, still.there.of) == (7, 9)  # nine with a yes of either
    assert (still.not_there.alike, still.not_there.of) == (1, 3)
    assert still.exact is None
    assert still.total.value == 1.0  # eight yes each, although two tries differ


def test_looks_are_told_by_who_was_idle() -> None:
    idle = found(ONE)["idle"]

    assert (idle.each.alike, idle.each.of) == (4, 5)
    assert (idle.there.alike, idle.there.of) == (2, 3)
    assert (idle.not_there.alike, idle.not_there.of) == (2, 3)
    assert idle.exact is not None
    assert (idle.exact.alike, idle.exact.of) == (3, 5)
    assert idle.total.value == pytest.approx(1.0)  # three idle each, in other places


def test_counts_are_compared_within_a_lesson() -> None:
    """Over both lessons the counts are the same; in each one is half the other."""
    two = found(
        [*rows_of("l1", "ann", "yyyy", (0,)), *rows_of("l1", "bo", "yynn", (0,))],
        [*rows_of("l2", "ann", "yynn", (0,)), *rows_of("l2", "bo", "yyyy", (0,))],
    )

    assert two["still"].total.value == 0.5
    assert two["idle"].total.value is None
    assert "neither of the two counted anything" in two["idle"].total.why


def test_what_only_one_saw_does_not_count_and_choices_are_no_tries() -> None:
    alone = rows_of("l2", "ann", "nnnn", (5, 5))

    assert found(ONE, alone) == found(ONE)
    assert set(found(ONE, kind="clearances")) == {"idle"}
    assert set(found(ONE, kind="rating")) == {"idle", "still"}  # of a table: yes or no
