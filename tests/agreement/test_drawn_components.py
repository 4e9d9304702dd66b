"""Draws of persons: what one of everybody once is, and how often the bounds hold the truth."""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.components import henderson_components
from standfast.agreement.drawn_components import chances, drawn_components, times_drawn
from standfast.agreement.generalizability import decision_study

Array = np.ndarray
TRUTH = {"p": 1.0, "pt": 0.3, "r": 0.1, "ptr": 0.4}


def sheets(persons: int, days: int, seed: int) -> tuple[Array, Array, Array, Array]:
    """Person, lesson, assessor and total of each sheet, two of eight assessors each day."""
    rng = np.random.default_rng(seed)
    person = np.repeat(np.arange(persons), days * 2)
    lesson = np.repeat(np.arange(persons * days), 2)
    assessor = np.concatenate([rng.choice(8, 2, replace=False) for _ in range(persons * days)])
    x = rng.normal(0, TRUTH["p"] ** 0.5, persons)[person]
    x += rng.normal(0, TRUTH["pt"] ** 0.5, persons * days)[lesson]
    x += rng.normal(0, TRUTH["r"] ** 0.5, 8)[assessor]
    x += rng.normal(0, TRUTH["ptr"] ** 0.5, x.size)
    kept = rng.random(x.size) < 0.85
    kept[:2] = True
    who, which, by = (
        np.unique(c[kept], return_inverse=True)[1] for c in (person, lesson, assessor)
    )
    return who, which, by, x[kept]


def test_everybody_once_is_hendersons_method() -> None:
    person, lesson, assessor, x = sheets(25, 2, 1)
    once = np.ones((1, person.max() + 1))
    plain = henderson_components(
        {"p": person, "t": lesson, "r": assessor}, x, {"t": "p"}, without=("pr",)
    )
    found = drawn_components(person, lesson, assessor, x, once)
    simple = drawn_components(lesson, None, assessor, x, np.ones((1, lesson.max() + 1)))
    of_lessons = henderson_components({"p": lesson, "r": assessor}, x)

    assert dict(zip(found.effects, found.variances[0], strict=True)) == pytest.approx(
        {effect: plain.at_least_zero[effect] for effect in found.effects}
    )
    assert dict(zip(simple.effects, simple.variances[0], strict=True)) == pytest.approx(
        {effect: of_lessons.at_least_zero[effect] for effect in simple.effects}
    )
    assert found.means[0] == pytest.approx(x.mean())


def test_somebody_twice_is_two_people() -> None:
    person, lesson, assessor, x = sheets(12, 2, 2)
    times = np.ones((1, 12))
    times[0, 0], times[0, 1] = 2, 0
    again, kept = person == 0, person != 1
    plain = henderson_components(
        {
            "p": np.append(person[kept], np.full(again.sum(), 99)),
            "t": np.append(lesson[kept], lesson[again] + 1000),
            "r": np.append(assessor[kept], assessor[again]),
        },
        np.append(x[kept], x[again]),
        {"t": "p"},
        without=("pr",),
    )
    found = drawn_components(person, lesson, assessor, x, times)

    assert found.variances[0].tolist() == pytest.approx(
        [plain.at_least_zero[effect] for effect in found.effects]
    )


@pytest.mark.parametrize("line", [None, 0.5])
def test_the_chance_is_that_of_the_decision_study(line: float | None) -> None:
    person, lesson, assessor, x = sheets(40, 2, 3)
    drawn = drawn_components(person, lesson, assessor, x, times_drawn(40, draws=5))
    for row, chance in enumerate(chances(drawn, 2, 3, line)):
        by_effect = dict(zip(drawn.effects, map(float, drawn.variances[row]), strict=True))
        mean = float(drawn.means[row])
        study = decision_study(by_effect, {"r": 2, "t": 3})

        cut = mean if line is None else line
        assert chance == pytest.approx(study.another_panel(mean, cut).otherwise)


def test_bounds_hold_the_truth_about_as_often_as_they_say() -> None:
    study = decision_study(TRUTH, {"r": 2, "t": 2})
    truth = study.another_panel(0.0, 0.0).otherwise
    held, books = 0, 120
    for seed in range(books):
        person, lesson, assessor, x = sheets(50, 2, 100 + seed)
        times = times_drawn(50, seed=seed, draws=400)
        of = chances(drawn_components(person, lesson, assessor, x, times), 2, 2, None)
        low, high = np.nanquantile(of, [0.025, 0.975])
        held += int(low <= truth <= high)

    assert held / books > 0.86  # 0.95 asked for; assessors are not drawn
