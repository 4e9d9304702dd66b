"""How many independent looks a lesson's looks are worth, by hand and by simulation."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest

from standfast.engine.intervals import upper_bound
from standfast.engine.looks import (
    MOST_ALIKE,
    alikeness,
    idle_free_looks_needed,
    idle_share,
    low_enough,
)
from standfast.engine.tallies import Looks
from standfast.model.rubric import IdleStandard

Practical = tuple[tuple[int, int], ...]
STUDENTS = 3
ASSURANCE = 0.8


def practical(*idle: int, of: int = 1) -> Practical:
    return tuple((number, of) for number in idle)


def test_alikeness_follows_its_formula_by_hand() -> None:
    # Shares 1 1 1 0 0 0 0 1, mean 1/2: offsets + + + - - - - +.  Neighbours alike in 5 of 7
    # pairs: products sum to (5 - 2) / 4 = 3/4; spread 8/4 = 2.
    # r = (3/4 / 7) / (2 / 8) = 3/7; with q = 7: (7 * 3/7 + 1) / (7 - 3) = 1.
    # Kept at 0.95.
    assert alikeness((practical(1, 1, 1, 0, 0, 0, 0, 1),)) == MOST_ALIKE


def test_alikeness_is_pooled_over_practicals() -> None:
    # Two of: 1 0 0 1 1 0, mean 1/2, products - + - + - = -1/4; spread 6/4.
    # Pooled r = (-1/2 / 10) / (3 / 12) = -1/5; q = 5: (5 * -1/5 + 1) / 2 = 0.
    one = practical(1, 0, 0, 1, 1, 0)

    assert alikeness((one, one)) == 0


def test_without_any_difference_only_the_bias_is_left() -> None:
    # r measured as 0; q = 23: 1 / 20.
    assert alikeness((practical(*[0] * 24),)) == Fraction(1, 20)


@pytest.mark.parametrize(
    ("number", "alike"),
    [
        pytest.param(1, MOST_ALIKE, id="one look"),
        pytest.param(4, MOST_ALIKE, id="three pairs"),
        pytest.param(5, MOST_ALIKE, id="four pairs: 1 / 1, kept at 0.95"),
        pytest.param(6, Fraction(1, 2), id="five pairs"),
    ],
)
def test_few_looks_are_taken_to_be_alike(number: int, alike: Fraction) -> None:
    assert alikeness((practical(*[0] * number),)) == alike


def test_a_look_counts_once_however_many_wait() -> None:
    few, many = (Looks((practical(*[0] * 24, of=n),)) for n in (1, 9))

    assert idle_share(few, ASSURANCE) == idle_share(many, ASSURANCE)


def test_the_share_counts_students_and_the_bounds_hold_it() -> None:
    found = idle_share(
        Looks((((1, 4), (0, 4), (0, 2), (2, 2), (0, 4), (0, 4), (0, 5), (0, 5)),)), 0.8
    )

    assert found.value == 0.1
    assert found.low < 0.1 < found.high


def test_idle_free_looks_that_are_needed_are_the_least() -> None:
    standard = IdleStandard(idle=0.25, assurance=0.8, least=6, every=60)
    seen = Looks((practical(1, 0, 0, 1, 0, 0, 0, 0, 1, 0),))
    more = idle_free_looks_needed(seen, standard)
    alike = float(alikeness(seen.practicals))
    worth = (1 - alike) / (1 + alike)

    assert more is not None

    def high(n: int) -> float:
        return upper_bound(3 * worth, (10 + n) * worth, 0.8, "clopper-pearson")

    assert low_enough(high(more), standard)
    assert not low_enough(high(more - 1), standard)


def lesson(chance: Random, looks: int, share: float, alike: float) -> Practical:
    """Two states, all idle or none: their share, and how alike neighbouring looks are."""
    idle = chance.random() < share
    seen = []
    for _ in range(looks):
        seen.append((STUDENTS if idle else 0, STUDENTS))
        again = share + alike * (1 - share) if idle else share * (1 - alike)
        idle = chance.random() < again
    return tuple(seen)


def coverage(share: float, alike: float, lessons: int) -> tuple[float, float]:
    """How often the true share lies under the honest upper bound, and under the naive one."""
    chance, runs = Random(20261125), 700
    honest = naive = 0
    for _ in range(runs):
        looks = Looks(tuple(lesson(chance, 24, share, alike) for _ in range(lessons)))
        honest += idle_share(looks, ASSURANCE).high >= share
        x = looks.idle / looks.waiting * looks.seen
        naive += upper_bound(x, looks.seen, ASSURANCE, "clopper-pearson") >= share
    return honest / runs, naive / runs


@pytest.mark.parametrize("alike", [0.6, 0.8])
def test_the_upper_bound_holds_when_idleness_comes_in_bouts_and_plain_counting_does_not(
    alike: float,
) -> None:
    honest, naive = coverage(0.25, alike, lessons=2)

    assert honest >= ASSURANCE
    assert naive < ASSURANCE - 0.05


def test_looks_that_are_not_alike_lose_little() -> None:
    honest, naive = coverage(0.25, 0.0, lessons=2)

    assert honest >= ASSURANCE
    assert honest - naive < 0.05


def test_rare_long_bouts_stay_a_known_weakness() -> None:
    # Said in the module's docstring: a lesson without a single bout cannot tell of bouts.
    honest, naive = coverage(0.1, 0.8, lessons=2)

    assert honest < ASSURANCE
    assert honest >= naive
