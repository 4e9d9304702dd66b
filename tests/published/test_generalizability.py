"""Variance components and decision studies against printed and recomputed values.

Expected values: R lme4 1.1-31 (REML, bobyqa) and R stats 4.2.2 mean squares solved by their
expectations, unless a line says otherwise.
"""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.components import Components, balanced_components, henderson_components
from standfast.agreement.generalizability import (
    DecisionStudy,
    composite,
    decision_study,
    phi_of_cut,
)
from standfast.agreement.icc import icc_unbalanced
from standfast.agreement.reml import reml_components

Figures = dict[str, float]
Studies = list[tuple[Figures, Figures]]
TOLERANCE = 1e-6
REML_TOLERANCE = 1e-4

# Brennan RL (2001), Generalizability Theory, Springer: synthetic data set no. 4, table 3.2 p. 73.
# Ten persons x twelve raters, the first four of them in task 1, the next in task 2, the last in 3.
BRENNAN_4 = np.array(
    [
        [5, 6, 5, 5, 5, 3, 4, 5, 6, 7, 3, 3],
        [9, 3, 7, 7, 7, 5, 5, 5, 7, 7, 5, 2],
        [3, 4, 3, 3, 5, 3, 3, 5, 6, 5, 1, 6],
        [7, 5, 5, 3, 3, 1, 4, 3, 5, 3, 3, 5],
        [9, 2, 9, 7, 7, 7, 3, 7, 2, 7, 5, 3],
        [3, 4, 3, 5, 3, 3, 6, 3, 4, 5, 1, 2],
        [7, 3, 7, 7, 7, 5, 5, 7, 5, 5, 5, 4],
        [5, 8, 5, 7, 7, 5, 5, 4, 3, 2, 1, 1],
        [9, 9, 8, 8, 6, 6, 6, 5, 5, 8, 1, 1],
        [4, 4, 4, 3, 3, 5, 6, 5, 5, 7, 1, 1],
    ]
)
# Printed, p. 73: components .4731 .3252 .6475 .5596 2.3802, mean square of p 10.2963; the other
# mean squares and the coefficients .55 and .46 of p. 116 recalled from memory.
NESTED_MS = {
    "p": 10.2962962963,
    "t": 24.1,
    "rt": 8.85555555556,
    "pt": 4.61851851852,
    "prt": 2.38024691358,
}
NESTED_DF = {"p": 9, "t": 2, "rt": 9, "pt": 18, "prt": 81}
NESTED = {
    "prt": 2.38024691358,
    "pt": 0.559567901235,
    "rt": 0.647530864198,
    "t": 0.325154320988,
    "p": 0.473148148148,
}
NESTED_STUDIES: Studies = [
    (
        {"t": 3, "r": 4},
        {
            "universe": 0.473148148148,
            "relative_error": 0.38487654321,
            "absolute_error": 0.547222222222,
            "Erho2": 0.551438848921,
            "Phi": 0.463702359347,
            "SEM_relative": 0.620384190006,
            "SEM_absolute": 0.739744700706,
        },
    ),
    (
        {"t": 1, "r": 4},
        {
            "universe": 0.473148148148,
            "relative_error": 1.15462962963,
            "absolute_error": 1.64166666667,
            "Erho2": 0.290671217292,
            "Phi": 0.223730297723,
            "SEM_relative": 1.0745369373,
            "SEM_absolute": 1.28127540625,
        },
    ),
    (
        {"t": 2, "r": 2},
        {
            "universe": 0.473148148148,
            "relative_error": 0.874845679012,
            "absolute_error": 1.19930555556,
            "Erho2": 0.35100171723,
            "Phi": 0.282906574394,
            "SEM_relative": 0.935331855018,
            "SEM_absolute": 1.09512810007,
        },
    ),
    (
        {"t": 3, "r": 1},
        {
            "universe": 0.473148148148,
            "relative_error": 0.979938271605,
            "absolute_error": 1.30416666667,
            "Erho2": 0.325615972812,
            "Phi": 0.266215160198,
            "SEM_relative": 0.989918315623,
            "SEM_absolute": 1.14200116754,
        },
    ),
    (
        {"t": 6, "r": 2},
        {
            "universe": 0.473148148148,
            "relative_error": 0.291615226337,
            "absolute_error": 0.399768518519,
            "Erho2": 0.618685679693,
            "Phi": 0.542031291435,
            "SEM_relative": 0.540014098277,
            "SEM_absolute": 0.632272503371,
        },
    ),
    (
        {"t": 3, "r": 2},
        {
            "universe": 0.473148148148,
            "relative_error": 0.583230452675,
            "absolute_error": 0.799537037037,
            "Erho2": 0.447896377094,
            "Phi": 0.371771553292,
            "SEM_relative": 0.763695261655,
            "SEM_absolute": 0.894168349382,
        },
    ),
]
# The same as persons x items: table 6.2 p. 182, printed .6258 .8840 2.7872 and mean squares
# 10.2963 11.6273 2.7872.
CROSSED_MS = {"p": 10.2962962963, "i": 11.6272727273, "pi": 2.78720538721}
CROSSED = {"pi": 2.78720538721, "i": 0.884006734007, "p": 0.625757575758}
CROSSED_STUDIES: Studies = [
    (
        {"i": 1},
        {
            "universe": 0.625757575758,
            "relative_error": 2.78720538721,
            "absolute_error": 3.67121212121,
            "Erho2": 0.183347309229,
            "Phi": 0.14562764457,
            "SEM_relative": 1.6694925538,
            "SEM_absolute": 1.91604074101,
        },
    ),
    (
        {"i": 6},
        {
            "universe": 0.625757575758,
            "relative_error": 0.464534231201,
            "absolute_error": 0.611868686869,
            "Erho2": 0.573935869062,
            "Phi": 0.505611099776,
            "SEM_relative": 0.681567481032,
            "SEM_absolute": 0.782220356977,
        },
    ),
    (
        {"i": 12},
        {
            "universe": 0.625757575758,
            "relative_error": 0.2322671156,
            "absolute_error": 0.305934343434,
            "Erho2": 0.729300196207,
            "Phi": 0.671635722998,
            "SEM_relative": 0.481940987674,
            "SEM_absolute": 0.5531133188,
        },
    ),
    (
        {"i": 24},
        {
            "universe": 0.625757575758,
            "relative_error": 0.1161335578,
            "absolute_error": 0.152967171717,
            "Erho2": 0.843462803979,
            "Phi": 0.803567085529,
            "SEM_relative": 0.340783740516,
            "SEM_absolute": 0.391110178488,
        },
    ),
]

# Brennan (2001), synthetic data set no. 1, table 2.2: data and the printed .0574 and .0754 from
# memory.
BRENNAN_1 = np.array(
    [
        [1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [1, 1, 1, 0, 0, 1, 0, 0, 0, 0, 0, 0],
        [1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0],
        [1, 1, 0, 1, 1, 0, 0, 1, 0, 0, 0, 0],
        [1, 1, 1, 1, 1, 0, 1, 0, 0, 0, 0, 0],
        [1, 1, 1, 0, 1, 1, 1, 0, 0, 0, 0, 0],
        [1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0],
        [1, 1, 1, 1, 0, 1, 1, 1, 1, 1, 0, 0],
        [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0],
        [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1],
    ]
)
DICHOTOMOUS_MS = {"p": 0.815740740741, "i": 0.881060606061, "pi": 0.126851851852}
DICHOTOMOUS = {"pi": 0.126851851852, "i": 0.0754208754209, "p": 0.0574074074074}
DICHOTOMOUS_STUDIES: Studies = [
    (
        {"i": 5},
        {
            "universe": 0.0574074074074,
            "relative_error": 0.0253703703704,
            "absolute_error": 0.0404545454545,
            "Erho2": 0.693512304251,
            "Phi": 0.586616205058,
            "SEM_relative": 0.159280790965,
            "SEM_absolute": 0.201133153544,
        },
    ),
    (
        {"i": 10},
        {
            "universe": 0.0574074074074,
            "relative_error": 0.0126851851852,
            "absolute_error": 0.0202272727273,
            "Erho2": 0.819022457067,
            "Phi": 0.739455708555,
            "SEM_relative": 0.112628527404,
            "SEM_absolute": 0.142222616792,
        },
    ),
    (
        {"i": 12},
        {
            "universe": 0.0574074074074,
            "relative_error": 0.0105709876543,
            "absolute_error": 0.0168560606061,
            "Erho2": 0.844494892168,
            "Phi": 0.773023519411,
            "SEM_relative": 0.102815308463,
            "SEM_absolute": 0.129830892341,
        },
    ),
    (
        {"i": 15},
        {
            "universe": 0.0574074074074,
            "relative_error": 0.00845679012346,
            "absolute_error": 0.0134848484848,
            "Erho2": 0.87160262418,
            "Phi": 0.809783899311,
            "SEM_relative": 0.0919608075403,
            "SEM_absolute": 0.116124280342,
        },
    ),
    (
        {"i": 20},
        {
            "universe": 0.0574074074074,
            "relative_error": 0.00634259259259,
            "absolute_error": 0.0101136363636,
            "Erho2": 0.900508351489,
            "Phi": 0.850215047061,
            "SEM_relative": 0.0796403954824,
            "SEM_absolute": 0.100566576772,
        },
    ),
]
# Free of the bias of (mean - cut) squared; Cronbach alpha equals the coefficient of 12 items.
PHI_OF_CUT = {0.5: 0.739002932551, 0.6: 0.73208910295, 0.7: 0.792540792541, 0.8: 0.859043395629}
ALPHA = 0.844494892168

# Own data, complete persons x raters x items, 12 x 4 x 3: a row per person, a word per rater, a
# digit per item.  The component of ri comes out below zero.
OWN_PRI = """
223 211 120 111
100 111 001 100
443 343 333 434
100 211 100 110
322 231 111 121
111 222 201 101
210 211 220 111
111 222 221 202
101 101 101 201
020 010 010 010
221 201 211 111
444 442 343 432
"""
PRI_MS = {
    "p": 12.0656565657,
    "r": 1.35185185185,
    "i": 3.02777777778,
    "pr": 0.447811447811,
    "pi": 0.671717171717,
    "ri": 0.12962962963,
    "pri": 0.308922558923,
}
PRI_ANOVA = {
    "pri": 0.308922558923,
    "pr": 0.0462962962963,
    "pi": 0.0906986531987,
    "ri": -0.0149410774411,
    "p": 0.937920875421,
    "r": 0.0300925925926,
    "i": 0.0528198653199,
}
PRI_REML = {
    "p": 0.936675779573,
    "r": 0.0251122342533,
    "i": 0.0490845985531,
    "pr": 0.0512766611783,
    "pi": 0.0944339305903,
    "ri": 0,
    "pri": 0.293981474428,
}
PRI_STUDIES: Studies = [
    (
        {"r": 1, "i": 3},
        {
            "universe": 0.937920875421,
            "relative_error": 0.179503367003,
            "absolute_error": 0.227202581369,
            "Erho2": 0.839359698682,
            "Phi": 0.804996989765,
            "SEM_relative": 0.423678376842,
            "SEM_absolute": 0.476657719301,
        },
    ),
    (
        {"r": 4, "i": 3},
        {
            "universe": 0.937920875421,
            "relative_error": 0.0675505050505,
            "absolute_error": 0.0926802749719,
            "Erho2": 0.932817078275,
            "Phi": 0.910071636407,
            "SEM_relative": 0.259904799976,
            "SEM_absolute": 0.304434352483,
        },
    ),
    (
        {"r": 2, "i": 3},
        {
            "universe": 0.937920875421,
            "relative_error": 0.104868125701,
            "absolute_error": 0.137521043771,
            "Erho2": 0.89943495224,
            "Phi": 0.872126015067,
            "SEM_relative": 0.323833484528,
            "SEM_absolute": 0.370838298684,
        },
    ),
    (
        {"r": 8, "i": 3},
        {
            "universe": 0.937920875421,
            "relative_error": 0.048891694725,
            "absolute_error": 0.0702598905724,
            "Erho2": 0.950454933182,
            "Phi": 0.930310225168,
            "SEM_relative": 0.221114664202,
            "SEM_absolute": 0.265065823094,
        },
    ),
    (
        {"r": 2, "i": 6},
        {
            "universe": 0.937920875421,
            "relative_error": 0.0640081369248,
            "absolute_error": 0.0878577441077,
            "Erho2": 0.93611509784,
            "Phi": 0.914350189763,
            "SEM_relative": 0.252998294312,
            "SEM_absolute": 0.296408070247,
        },
    ),
]

# Own data, items within persons, unequal numbers.
OWN_IP = [
    [2, 3, 4, 5],
    [4, 4, 6, 7, 6],
    [2, 5, 3, 1, 3, 2],
    [3, 3, 5],
    [4, 5, 6, 3, 5],
    [3, 2, 4, 3],
    [3, 4, 3, 3, 5, 3, 6],
    [3, 6],
]
IP_MS = (3.93548752834, 1.59846938776)
IP_N0 = 4.42857142857
IP_HARMONIC = 3.91608391608
IP_ANOVA = {"p": 0.527713773682, "ip": 1.59846938776}
IP_REML = {"p": 0.52477425066, "ip": 1.57464351748}
IP_ERHO2 = 0.563860412207

# Rajaratnam N, Cronbach LJ, Gleser GC (1965), Psychometrika 30, 39-56: 8 persons, parts of 2, 4 and
# 2 items; Brennan (2001), ch. 9.  Values by the standard formulas; none recalled from print.
PARTS = [
    [[4, 5], [2, 1], [2, 4], [1, 3], [3, 3], [1, 2], [3, 5], [0, 1]],
    [
        [3, 3, 5, 4],
        [2, 3, 1, 4],
        [4, 7, 6, 5],
        [5, 4, 5, 5],
        [6, 7, 5, 7],
        [5, 6, 4, 4],
        [6, 8, 6, 7],
        [1, 2, 0, 4],
    ],
    [[5, 7], [4, 6], [8, 7], [4, 5], [8, 9], [5, 6], [7, 8], [7, 8]],
]
PARTS_UNIVERSE = [
    [1.57142857143, 1.48214285714, 0.5],
    [1.48214285714, 2.78571428571, 0.946428571429],
    [0.5, 0.946428571429, 1.85714285714],
]
PARTS_ITEM = [0.428571428571, 0.199404761905, 0.446428571429]
PARTS_RESIDUAL = [0.571428571429, 1.07142857143, 0.428571428571]
PARTS_WEIGHTS = [0.25, 0.5, 0.25]
PARTS_STUDY: Figures = {
    "universe": 1.58035714286,
    "relative_error": 0.0982142857143,
    "absolute_error": 0.138020833333,
    "Erho2": 0.941489361702,
    "Phi": 0.919679584326,
    "SEM_relative": 0.313391585264,
    "SEM_absolute": 0.371511552086,
}


def figures(study: DecisionStudy) -> Figures:
    return {
        "universe": study.universe,
        "relative_error": study.relative_error,
        "absolute_error": study.absolute_error,
        "Erho2": study.erho2,
        "Phi": study.phi,
        "SEM_relative": study.sem_relative,
        "SEM_absolute": study.sem_absolute,
    }


def nested() -> Components:
    by_person_rater_task = BRENNAN_4.reshape(10, 3, 4).transpose(0, 2, 1)
    return balanced_components(by_person_rater_task, "prt", {"r": "t"})


def pri_scores() -> np.ndarray:
    digits = [int(digit) for digit in OWN_PRI if digit.isdigit()]
    return np.array(digits, dtype=float).reshape(12, 4, 3)


def long_pri() -> tuple[dict[str, np.ndarray], np.ndarray]:
    scores = pri_scores()
    places = np.indices(scores.shape).reshape(3, -1)
    return dict(zip("pri", places, strict=True)), scores.ravel()


def long_ip() -> tuple[dict[str, list[int]], list[int]]:
    person = [p for p, row in enumerate(OWN_IP) for _ in row]
    item = [i for row in OWN_IP for i, _ in enumerate(row)]
    return {"i": item, "p": person}, [score for row in OWN_IP for score in row]


@pytest.mark.parametrize(
    ("found", "squares", "expected", "studies"),
    [
        pytest.param(nested(), NESTED_MS, NESTED, NESTED_STUDIES, id="G-BRENNAN32"),
        pytest.param(
            balanced_components(BRENNAN_4, "pi"),
            CROSSED_MS,
            CROSSED,
            CROSSED_STUDIES,
            id="G-BRENNAN32-PI",
        ),
        pytest.param(
            balanced_components(BRENNAN_1, "pi"),
            DICHOTOMOUS_MS,
            DICHOTOMOUS,
            DICHOTOMOUS_STUDIES,
            id="G-BRENNAN31",
        ),
        pytest.param(
            balanced_components(pri_scores(), "pri"),
            PRI_MS,
            PRI_ANOVA,
            PRI_STUDIES,
            id="G-PRI-NEG",
        ),
    ],
)
def test_balanced_designs(
    found: Components, squares: Figures, expected: Figures, studies: Studies
) -> None:
    assert found.mean_squares == pytest.approx(squares, rel=TOLERANCE)
    assert found.as_estimated == pytest.approx(expected, rel=TOLERANCE)
    for counts, worth in studies:
        study = decision_study(found.at_least_zero, counts)

        assert figures(study) == pytest.approx(worth, rel=TOLERANCE)


def test_degrees_of_freedom_of_the_nested_design() -> None:
    assert nested().df == NESTED_DF


def test_the_digits_brennan_prints() -> None:
    found = {effect: round(value, 4) for effect, value in nested().as_estimated.items()}

    assert found == pytest.approx(
        {"p": 0.4731, "t": 0.3252, "rt": 0.6475, "pt": 0.5596, "prt": 2.3802}, abs=5e-5
    )


def test_reml_of_a_complete_nested_design_is_the_analysis_of_variance() -> None:
    person, place = np.indices((10, 12)).reshape(2, -1)
    codes = {"p": person, "r": place % 4, "t": place // 4}
    found = reml_components(codes, BRENNAN_4.ravel(), {"r": "t"})

    assert found.converged
    assert found.as_estimated == pytest.approx(NESTED, rel=TOLERANCE)


def test_a_negative_estimate_is_given_as_it_is_and_as_zero_and_said() -> None:
    found = balanced_components(pri_scores(), "pri")

    assert found.set_to_zero == ("ri",)
    assert found.at_least_zero["ri"] == 0
    assert any("ri was estimated as -0.01494" in sentence for sentence in found.said)


def test_reml_of_the_design_with_a_negative_estimate() -> None:
    found = reml_components(*long_pri())

    assert found.converged
    assert found.as_estimated == pytest.approx(PRI_REML, abs=REML_TOLERANCE)
    assert found.as_estimated["ri"] == 0
    assert "ri at the bound of zero" in found.note


def test_unequal_numbers_within_persons() -> None:
    codes, scores = long_ip()
    moments = henderson_components(codes, scores, {"i": "p"})
    likely = reml_components(codes, scores, {"i": "p"})
    icc = icc_unbalanced(codes["p"], scores)

    assert moments.as_estimated == pytest.approx(IP_ANOVA, rel=TOLERANCE)
    assert likely.converged
    assert likely.as_estimated == pytest.approx(IP_REML, abs=REML_TOLERANCE)
    assert icc.f == pytest.approx(IP_MS[0] / IP_MS[1], rel=TOLERANCE)
    assert IP_MS[0] - IP_MS[1] == pytest.approx(IP_N0 * moments.as_estimated["p"], rel=TOLERANCE)
    study = decision_study(moments.at_least_zero, {"i": IP_HARMONIC})
    assert study.erho2 == pytest.approx(IP_ERHO2, rel=TOLERANCE)


@pytest.mark.parametrize("cut", PHI_OF_CUT)
def test_the_coefficient_of_decisions_at_a_cut(cut: float) -> None:
    found = balanced_components(BRENNAN_1, "pi")
    study = decision_study(found.at_least_zero, {"i": 12})

    assert phi_of_cut(study, found, cut) == pytest.approx(PHI_OF_CUT[cut], rel=TOLERANCE)
    assert study.erho2 == pytest.approx(ALPHA, rel=TOLERANCE)


def test_a_total_of_three_parts() -> None:
    found = composite(PARTS)

    assert found.universe_cov == pytest.approx(np.array(PARTS_UNIVERSE), rel=TOLERANCE)
    assert found.item_var == pytest.approx(PARTS_ITEM, rel=TOLERANCE)
    assert found.residual_var == pytest.approx(PARTS_RESIDUAL, rel=TOLERANCE)
    assert found.weights == pytest.approx(PARTS_WEIGHTS)
    assert figures(found.study) == pytest.approx(PARTS_STUDY, rel=TOLERANCE)
