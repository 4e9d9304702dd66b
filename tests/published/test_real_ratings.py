"""Two small sets of real ratings against what several libraries computed."""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.alpha import krippendorff_alpha
from standfast.agreement.coefficients import (
    brennan_prediger,
    conger_kappa,
    fleiss_kappa,
    gwet_ac,
)
from standfast.agreement.scores import scores_of
from standfast.agreement.tables import kappa_of_each_pair, light_kappa
from standfast.agreement.weights import weights_for

# Randall (1989), The analysis of sensory data by generalised linear model; printed in Tutz &
# Hennevogl (1996): bitterness 1 to 5, 8 bottles by 9 judges.  Computed: irrCAC 0.4.4,
# krippendorff 0.9.0.
BITTERNESS = [
    [2, 1, 2, 3, 2, 3, 1, 2, 1],
    [3, 2, 3, 2, 3, 2, 1, 2, 2],
    [3, 1, 3, 3, 4, 3, 2, 2, 3],
    [4, 3, 2, 2, 3, 2, 2, 3, 2],
    [4, 2, 5, 3, 3, 2, 2, 3, 3],
    [4, 3, 5, 2, 3, 4, 3, 3, 2],
    [5, 5, 4, 5, 3, 5, 2, 3, 4],
    [5, 4, 4, 3, 3, 4, 3, 4, 4],
]
AGREEMENT = {
    "identity": {
        "gwet": 0.136680448907,
        "fleiss": 0.039936941671,
        "conger": 0.052508751459,
        "bp": 0.118923611111,
        "krippendorff": 0.053271150815,
    },
    "linear": {
        "gwet": 0.474565357373,
        "fleiss": 0.187250996016,
        "conger": 0.20293040293,
        "bp": 0.409722222222,
        "krippendorff": 0.198539176627,
    },
    "quadratic": {
        "gwet": 0.700626595498,
        "fleiss": 0.340490797546,
        "conger": 0.357249626308,
        "bp": 0.626736111111,
        "krippendorff": 0.34965064758,
    },
}
ALPHA = {
    "nominal": 0.0532711508145,
    "ordinal": 0.344143692318,
    "interval": 0.34965064758,
    "ratio": 0.295369272032,
}

COEFFICIENTS = {
    "gwet": gwet_ac,
    "fleiss": fleiss_kappa,
    "conger": conger_kappa,
    "bp": brennan_prediger,
}


@pytest.mark.parametrize("kind", AGREEMENT)
@pytest.mark.parametrize("name", COEFFICIENTS)
def test_agreement_about_bitterness(name: str, kind: str) -> None:
    scores = scores_of(BITTERNESS)

    found = COEFFICIENTS[name](scores, weights_for(kind, scores.categories)).value

    assert found == pytest.approx(AGREEMENT[kind][name], abs=1e-5)


@pytest.mark.parametrize("kind", AGREEMENT)
def test_alpha_about_bitterness_under_weights(kind: str) -> None:
    weights = weights_for(kind, range(1, 6))

    found = krippendorff_alpha(BITTERNESS, weights).value

    assert found == pytest.approx(AGREEMENT[kind]["krippendorff"], abs=1e-5)


@pytest.mark.parametrize("metric", ALPHA)
def test_alpha_about_bitterness_under_metrics(metric: str) -> None:
    assert krippendorff_alpha(BITTERNESS, metric).value == pytest.approx(ALPHA[metric], abs=1e-5)


# Falissard's set of 30 psychiatric patients, three assessors, one item as yes or no, as patterns
# with how many patients had them.  Source: R psy 1.2; computed with it, statsmodels 0.15.0,
# irrCAC 0.4.4 and krippendorff 0.9.0.
PATTERNS = [
    ((1.0, 1.0, 1.0), 17),
    ((0.0, 0.0, 0.0), 6),
    ((1.0, 0.0, 0.0), 2),
    ((1.0, 0.0, 1.0), 2),
    ((1.0, 1.0, 0.0), 2),
    ((float("nan"), 1.0, 1.0), 1),
]
PATIENTS = np.array([pattern for pattern, times in PATTERNS for _ in range(times)])


def test_kappa_of_every_two_assessors_of_the_patients_and_their_mean() -> None:
    """A pair uses the patients that both scored (R psy 1.2 lkappa)."""
    scores = scores_of(PATIENTS)

    found = {
        (pair.first, pair.second): pair.found.kappa.value
        for pair in kappa_of_each_pair(scores)
        if pair.found
    }

    expected = {(0, 1): 0.662790697674, (0, 2): 0.662790697674, (1, 2): 0.7}
    assert found == pytest.approx(expected, abs=1e-6)
    assert light_kappa(scores).value == pytest.approx(0.67519379845, abs=1e-6)


def test_all_three_assessors_of_the_patients() -> None:
    scores = scores_of(PATIENTS)

    assert fleiss_kappa(scores).value == pytest.approx(0.675480769231, abs=1e-6)
    assert gwet_ac(scores).value == pytest.approx(0.773679798826, abs=1e-6)
    assert brennan_prediger(scores).value == pytest.approx(0.733333333333, abs=1e-6)


@pytest.mark.parametrize("metric", ["nominal", "ordinal", "interval"])
def test_alpha_of_the_patients(metric: str) -> None:
    """With two levels every metric is the same."""
    assert krippendorff_alpha(PATIENTS, metric).value == pytest.approx(0.677655677656, abs=1e-6)
