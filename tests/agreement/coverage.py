"""How often intervals hold the true value: simulations whose truth is known in closed form.

    python -m tests.agreement.coverage     writes coverage.json anew (about a minute)

Marks come from assessors who see the right level with known errors, so that what a coefficient is
of endlessly many subjects can be worked out from the table of chances.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.alpha import krippendorff_alpha
from standfast.agreement.bootstrap import bootstrapped, bootstrapped_alpha
from standfast.agreement.coefficients import CONGER, cohen_kappa, gwet_ac
from standfast.agreement.estimate import Estimate
from standfast.agreement.icc import intraclass_correlations
from standfast.agreement.percent import percent_agreement
from standfast.agreement.scores import scores_of
from standfast.agreement.tables import kappa_of_table, square_table
from standfast.agreement.weights import Weights, weights_for

Floats = NDArray[np.float64]
Random = np.random.Generator

STORED = Path(__file__).with_name("coverage.json")
NOMINAL = 0.95
LEVELS = [1.0, 2.0, 3.0]
RIGHT = np.array([0.5, 0.3, 0.2])
"""How often each level is the right one."""
GIVEN = np.array([[0.85, 0.12, 0.03], [0.15, 0.7, 0.15], [0.05, 0.2, 0.75]])
"""Right level to level given, of every assessor."""
DRAWS = 400


@dataclass(frozen=True)
class Case:
    """A method, what it is asked, and what is true."""

    what: str
    truth: float
    ask: Callable[[Random], Estimate]


@dataclass(frozen=True)
class Covered:
    """What came out."""

    what: str
    truth: float
    seed: int
    simulations: int
    coverage: float
    mean: float
    """Of the estimates."""


def run(case: Case, simulations: int, seed: int) -> Covered:
    """How often the interval held the truth; every simulation has a stream of its own."""
    streams = np.random.default_rng(seed).spawn(simulations)
    found = [case.ask(stream) for stream in streams]
    held = [
        one.low is not None and one.high is not None and one.low <= case.truth <= one.high
        for one in found
    ]
    mean = float(np.mean([one.value for one in found]))
    return Covered(case.what, case.truth, seed, simulations, float(np.mean(held)), mean)


def cases() -> list[Case]:
    """All of them."""
    quadratic = weights_for("quadratic", LEVELS)
    apart = np.square(np.subtract.outer(LEVELS, LEVELS))
    return [
        Case("kappa, large sample, 100 subjects", kappa_truth(np.eye(3)), large_sample),
        Case("weighted kappa, linearised, 100 subjects", kappa_truth(quadratic.matrix), linear),
        Case("kappa of 4, bootstrap, 100 subjects", kappa_truth(np.eye(3)), drawn_kappa),
        Case("Gwet's AC1, linearised, 60 subjects x 3, a tenth missing", ac1_truth(), ac1),
        Case(
            "alpha nominal, linearised, 60 x 4, a fifth missing",
            alpha_truth(1 - np.eye(3)),
            nominal,
        ),
        Case("alpha interval, linearised, 60 x 4, a fifth missing", alpha_truth(apart), interval),
        Case(
            "alpha interval, bootstrap, 100 x 4, a fifth missing", alpha_truth(apart), drawn_alpha
        ),
        Case("ICC(2,1), 30 subjects x 5 raters", 1.0 / (1.0 + 0.15 + 0.6), icc),
        Case("share alike, Wilson with effective n, 40 lessons of 1 to 9 pairs", 0.8, alike),
    ]


def seen(random: Random, subjects: int, assessors: int, gaps: float = 0.0) -> Floats:
    """Marks of so many subjects, gaps by chance."""
    right = random.choice(3, size=subjects, p=RIGHT)
    reached = np.cumsum(GIVEN, axis=1)[right]
    dice = random.random((subjects, assessors))
    table = 1.0 + (dice[:, :, None] > reached[:, None, :2]).sum(axis=2)
    table[random.random(table.shape) < gaps] = np.nan
    return np.asarray(table)


def two_marks() -> Floats:
    """The chance of each two levels by two assessors of one subject."""
    return np.asarray(np.einsum("t,ti,tj->ij", RIGHT, GIVEN, GIVEN), dtype=np.float64)


def kappa_truth(weights: Floats) -> float:
    """Kappa of endlessly many subjects; everybody uses the levels alike, so of any two or four."""
    both, share = two_marks(), RIGHT @ GIVEN
    chance = share @ weights @ share
    return float(((weights * both).sum() - chance) / (1.0 - chance))


def ac1_truth() -> float:
    """AC1 of endlessly many subjects."""
    share = RIGHT @ GIVEN
    chance = (share * (1 - share)).sum() / 2
    return float((np.trace(two_marks()) - chance) / (1.0 - chance))


def alpha_truth(distance: Floats) -> float:
    """Alpha of endlessly many subjects; what is missing is missing by chance."""
    share = RIGHT @ GIVEN
    return float(1.0 - (two_marks() * distance).sum() / (share @ distance @ share))


def large_sample(random: Random) -> Estimate:
    return kappa_of_table(square_table(scores_of(seen(random, 100, 2), LEVELS))).kappa


def linear(random: Random) -> Estimate:
    weights: Weights = weights_for("quadratic", LEVELS)
    return cohen_kappa(scores_of(seen(random, 100, 2), LEVELS), weights)


def drawn_kappa(random: Random) -> Estimate:
    scores = scores_of(seen(random, 100, 4), LEVELS)
    return bootstrapped(CONGER, scores, seed=int(random.integers(2**31)), draws=DRAWS)


def ac1(random: Random) -> Estimate:
    return gwet_ac(scores_of(seen(random, 60, 3, 0.1), LEVELS))


def nominal(random: Random) -> Estimate:
    return krippendorff_alpha(seen(random, 60, 4, 0.2), "nominal")


def interval(random: Random) -> Estimate:
    return krippendorff_alpha(seen(random, 60, 4, 0.2), "interval")


def drawn_alpha(random: Random) -> Estimate:
    table = seen(random, 100, 4, 0.2)
    return bootstrapped_alpha(table, "interval", seed=int(random.integers(2**31)), draws=DRAWS)


def icc(random: Random) -> Estimate:
    """Variances 1 of subjects, 0.15 of raters, 0.6 of what is left."""
    subjects, raters = random.normal(size=(30, 1)), random.normal(size=(1, 5))
    table = subjects + math.sqrt(0.15) * raters + math.sqrt(0.6) * random.normal(size=(30, 5))
    return intraclass_correlations(table)["ICC(2,1)"].estimate


def alike(random: Random) -> Estimate:
    """Lessons differ: their own shares are Beta(8, 2)."""
    pairs = random.integers(1, 10, size=40)
    own = random.beta(8, 2, size=40)
    lesson = np.repeat(np.arange(40), pairs)
    return percent_agreement((random.random(len(lesson)) < own[lesson]).astype(float), lesson)


def main() -> None:
    """Writes what is stored."""
    found = [
        asdict(run(case, 1_500 if "bootstrap" in case.what else 4_000, 20_261)) for case in cases()
    ]
    STORED.write_text(json.dumps(found, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
