"""Consistency of pass marks against recomputed values.

Worked examples of the papers were not recalled, except the row z = 0 of Subkoviak's tables (from
memory); the values are of scipy 1.12 (beta-binomial, quadrature), R VGAM 1.1-7, R betafunctions
1.9.0 (CC0) and simulation, on own scores.
"""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.consistency import (
    EffectiveTest,
    beta_binomial,
    classification,
    conditional_sem,
    effective_test,
    kr21,
    normal_consistency,
    person_by_person,
)

Figures = dict[str, float]

# Huynh H (1976), J Educ Meas 13, 253-264; Peng C-YJ, Subkoviak MJ (1980), J Educ Meas 17, 359-368:
# own numbers; points, mean, spread and cut to the figures.
HUYNH: dict[tuple[int, float, float, int], Figures] = {
    (10, 6.1, 2.2, 6): {
        "KR21": 0.564967860422,
        "alpha": 4.69707436002,
        "beta": 3.00304754165,
        "pass_rate": 0.618751694508,
        "p_both_pass": 0.477592149667,
        "p_both_fail": 0.240088760652,
        "p0": 0.717680910318,
        "p_chance": 0.528203929897,
        "kappa": 0.401607797157,
        "normal_z": -0.272727272727,
        "normal_p0": 0.703344125896,
        "normal_kappa": 0.377950843212,
        "simulated_p0_2e6": 0.717878,
    },
    (20, 13.4, 3.6, 14): {
        "KR21": 0.693469785575,
        "alpha": 5.92312016866,
        "beta": 2.91735769501,
        "pass_rate": 0.523423547551,
        "p_both_pass": 0.399558316507,
        "p_both_fail": 0.352711221405,
        "p0": 0.752269537912,
        "p_chance": 0.50109732516,
        "kappa": 0.503449320717,
        "normal_z": 0.0277777777778,
        "normal_p0": 0.744023384031,
        "normal_kappa": 0.487795228068,
        "simulated_p0_2e6": 0.7520495,
    },
}

# Subkoviak MJ (1988), J Educ Meas 25, 47-55, tables 1-2: z and reliability to agreement and kappa.
SUBKOVIAK_1988 = {
    (0.0, 0.1): (0.531884280429, 0.0637685608585),
    (0.0, 0.3): (0.596986684021, 0.193973368041),
    (0.0, 0.5): (0.666666666667, 0.333333333333),
    (0.0, 0.7): (0.746816688893, 0.493633377787),
    (0.0, 0.8): (0.795167235301, 0.590334470602),
    (0.0, 0.9): (0.856433706871, 0.712867413743),
    (0.5, 0.1): (0.59844087971, 0.05888460014),
    (0.5, 0.3): (0.65128338599, 0.182729119949),
    (0.5, 0.5): (0.709563965166, 0.319318597822),
    (0.5, 0.7): (0.778128355992, 0.480009765891),
    (0.5, 0.8): (0.820045804405, 0.578249736623),
    (0.5, 0.9): (0.873576702408, 0.703707608039),
    (1.0, 0.1): (0.745329933119, 0.0460635113305),
    (1.0, 0.3): (0.773605189168, 0.15197622735),
    (1.0, 0.5): (0.807717681556, 0.279753910872),
    (1.0, 0.7): (0.850648255388, 0.440562133681),
    (1.0, 0.8): (0.8779625303, 0.542875231639),
    (1.0, 0.9): (0.913670166994, 0.676627965061),
    (1.5, 0.1): (0.879053393858, 0.0300060323762),
    (1.5, 0.3): (0.88904542611, 0.110142311667),
    (1.5, 0.5): (0.903031681446, 0.222312332297),
    (1.5, 0.7): (0.922717635996, 0.380194043648),
    (1.5, 0.8): (0.936096810109, 0.487495261891),
    (1.5, 0.9): (0.954282398889, 0.633344012645),
    (2.0, 0.1): (0.956243336019, 0.0159330009203),
    (2.0, 0.3): (0.958582270829, 0.0685345557486),
    (2.0, 0.5): (0.962605628574, 0.159017998097),
    (2.0, 0.7): (0.969222903087, 0.30783742078),
    (2.0, 0.8): (0.974149941324, 0.418644216609),
    (2.0, 0.9): (0.981222248358, 0.577697108811),
}
# As printed, from memory.
SUBKOVIAK_PRINTED = {(0.0, 0.5): (0.67, 0.33), (0.0, 0.8): (0.8, 0.59), (0.0, 0.9): (0.86, 0.71)}

# Subkoviak MJ (1976), J Educ Meas 13, 265-276: own scores out of 10, cut 7.
SUBKOVIAK_1976 = [10, 9, 9, 8, 8, 8, 7, 7, 7, 6, 6, 6, 5, 5, 4, 4, 3, 3, 2, 8, 9, 7, 6, 5, 10]
PASSING = {
    2: 0.0478878710487,
    3: 0.0994780368932,
    4: 0.180772106522,
    5: 0.294021903862,
    6: 0.434612894718,
    7: 0.58995517743,
    8: 0.740921185386,
    9: 0.866406429771,
    10: 0.9505510217,
}
SUBKOVIAK_FIGURES = {
    "p0": 0.655738403926,
    "mean_pass": 0.522109289293,
    "p_chance": 0.500977641346,
    "kappa": 0.310127912899,
    "KR21_population_variance": 0.575251841828,
    "mean": 6.48,
    "sd_population": 2.17476435505,
}

# Livingston SA, Lewis C (1995), J Educ Meas 32, 179-197; moments of Hanson BA (1991).  Scores as
# (lowest, how many of it and of each next); the last is the documented example of R betafunctions.
DC_LL_4P_SCORES = (
    10,
    [
        3,
        3,
        2,
        2,
        6,
        10,
        15,
        12,
        14,
        20,
        31,
        25,
        32,
        35,
        50,
        44,
        41,
        36,
        56,
        61,
        47,
        51,
        63,
        76,
        74,
        63,
        81,
        64,
        60,
        61,
        55,
        61,
        51,
        38,
        45,
        34,
        38,
        19,
        15,
        6,
    ],
)
DC_LL_4P_LIMITS = (0, 50, 0.84)
DC_LL_4P_FIT = (47.3662934736, 47, [0.660973333333, 0.459226849591, 0.332203417916, 0.24829244758])
DC_LL_4P_BETAS = (
    (2.77360883824, 1.93039627633, 0.233073988448, 0.958785804445),
    (2.77360883824, 1.93039627633, 0.233073988448, 0.958785804445),
)
DC_LL_4P_CUT = 0.6
DC_LL_4P_FIGURES: dict[int, Figures] = {
    28: {
        "accuracy": 0.887487532207,
        "true_pass": 0.611354268379,
        "false_pass": 0.067048055509,
        "false_fail": 0.0454644122843,
        "true_fail": 0.276133263828,
        "consistency": 0.846285298376,
        "chance": 0.563654778337,
        "kappa": 0.647722275867,
        "pass_rate": 0.678402323888,
    },
    29: {
        "accuracy": 0.885465420563,
        "true_pass": 0.589863819326,
        "false_pass": 0.0475797180996,
        "false_fail": 0.0669548613374,
        "true_fail": 0.295601601237,
        "consistency": 0.840199122506,
        "chance": 0.53778145196,
        "kappa": 0.654274199572,
        "pass_rate": 0.637443537426,
    },
}
DC_LL_4P_SIMULATED = (29, 0.840667, 0.885548)

DC_LL_NOFIT_SCORES = (
    3,
    [
        1,
        0,
        0,
        0,
        0,
        1,
        0,
        1,
        3,
        3,
        3,
        3,
        4,
        7,
        5,
        17,
        15,
        20,
        27,
        19,
        24,
        25,
        18,
        26,
        23,
        27,
        22,
        16,
        24,
        20,
        9,
        8,
        11,
        9,
        6,
        2,
        1,
    ],
)
DC_LL_NOFIT_LIMITS = (0, 40, 0.8)
DC_LL_NOFIT_FIT = (47.0947417331, 47, [0.636, 0.422561644121, 0.291234101184, 0.207225386601])
DC_LL_NOFIT_BETAS = (None, (7.514085489, 4.30051433647, 0, 1))
DC_LL_NOFIT_CUT = 0.6
DC_LL_NOFIT_FIGURES: dict[int, Figures] = {
    28: {
        "accuracy": 0.863107883282,
        "true_pass": 0.563207427115,
        "false_pass": 0.0806841738026,
        "false_fail": 0.0562079429152,
        "true_fail": 0.299900456167,
        "consistency": 0.814091062698,
        "chance": 0.541409585629,
        "kappa": 0.594607886524,
        "pass_rate": 0.643891600918,
    },
    29: {
        "accuracy": 0.860026782088,
        "true_pass": 0.536966424806,
        "false_pass": 0.0575242726877,
        "false_fail": 0.0824489452245,
        "true_fail": 0.323060357282,
        "consistency": 0.805969631883,
        "chance": 0.517856983826,
        "kappa": 0.597566776645,
        "pass_rate": 0.594490697494,
    },
}
DC_LL_NOFIT_SIMULATED = (29, 0.8058, 0.859717)

DC_LL_OUTBOUND_SCORES = (
    17,
    [
        1,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        1,
        0,
        1,
        0,
        1,
        0,
        0,
        3,
        0,
        2,
        1,
        1,
        4,
        3,
        1,
        2,
        4,
        4,
        4,
        4,
        1,
        3,
        4,
        2,
        5,
        3,
        6,
        5,
        6,
        9,
        2,
        6,
        8,
        7,
        3,
        4,
        8,
        12,
        4,
        9,
        9,
        9,
        8,
        10,
        12,
        3,
        9,
        6,
        4,
        12,
        4,
        2,
        6,
        8,
        9,
        7,
        6,
        3,
        2,
        2,
        3,
        4,
        4,
        2,
        1,
        2,
        2,
        0,
        1,
        2,
        1,
        1,
        0,
        1,
        1,
    ],
)
DC_LL_OUTBOUND_LIMITS = (0, 100, 0.85)
DC_LL_OUTBOUND_FIT = (61.0049544445, 61, [0.6504, 0.442268959496, 0.31206753689, 0.227233761554])
DC_LL_OUTBOUND_BETAS = (
    (14.305794249, 8.01515511965, -0.244707011, 1.15190459436),
    (7.03256474615, 3.78011167782, 0, 1),
)
DC_LL_OUTBOUND_CUT = 0.65
DC_LL_OUTBOUND_FIGURES: dict[int, Figures] = {
    39: {
        "accuracy": 0.872387675316,
        "true_pass": 0.48605289414,
        "false_pass": 0.0867754278585,
        "false_fail": 0.0408368968256,
        "true_fail": 0.386334781176,
        "consistency": 0.830926991134,
        "chance": 0.51060792897,
        "kappa": 0.654524421472,
        "pass_rate": 0.572828321999,
    },
    40: {
        "accuracy": 0.876688313068,
        "true_pass": 0.468279774938,
        "false_pass": 0.0647016709046,
        "false_fail": 0.0586100160275,
        "true_fail": 0.408408538129,
        "consistency": 0.828102101945,
        "chance": 0.50217555154,
        "kappa": 0.654701775724,
        "pass_rate": 0.532981445843,
    },
}
DC_LL_OUTBOUND_SIMULATED = (40, 0.828274, 0.87667)

DC_LL_DOC_SCORES = (
    33,
    [
        1,
        0,
        0,
        1,
        1,
        0,
        1,
        1,
        2,
        1,
        1,
        0,
        1,
        1,
        2,
        1,
        1,
        4,
        1,
        2,
        5,
        2,
        3,
        5,
        1,
        4,
        7,
        5,
        11,
        4,
        4,
        3,
        5,
        4,
        3,
        8,
        2,
        0,
        0,
        1,
        1,
    ],
)
DC_LL_DOC_LIMITS = (0, 100, 0.7)
DC_LL_DOC_FIT = (109.152284596, 109, [0.5789, 0.340153723042, 0.202241549864, 0.121361472582])
DC_LL_DOC_BETAS = (
    (0.577029226187, 0.151186967982, 0.396778779488, 0.626617435937),
    (27.4853060066, 19.9931980642, 0, 1),
)
DC_LL_DOC_CUT = 0.5
DC_LL_DOC_FIGURES: dict[int, Figures] = {
    54: {
        "accuracy": 0.896059062588,
        "true_pass": 0.803846428399,
        "false_pass": 0.0436042189166,
        "false_fail": 0.0603367184956,
        "true_fail": 0.0922126341889,
        "consistency": 0.854902674676,
        "chance": 0.74144390464,
        "kappa": 0.438816845057,
        "pass_rate": 0.847450647315,
    },
    55: {
        "accuracy": 0.885724863626,
        "true_pass": 0.785672147358,
        "false_pass": 0.035764136838,
        "false_fail": 0.078510999536,
        "true_fail": 0.100052716268,
        "consistency": 0.838474178957,
        "chance": 0.706642569596,
        "kappa": 0.449389024099,
        "pass_rate": 0.821436284196,
    },
}
DC_LL_DOC_SIMULATED = (55, 0.838001, 0.885977)

# Lord FM (1957), Educational and Psychological Measurement 17: 20 points, counts 0 to 20.
LORD_20 = [
    0.0,
    1.0,
    1.37649440322,
    1.63835604382,
    1.83532587096,
    1.9867985356,
    2.10262993215,
    2.18848661961,
    2.2478059478,
    2.28265773076,
    2.29415733871,
    2.28265773076,
    2.2478059478,
    2.18848661961,
    2.10262993215,
    1.9867985356,
    1.83532587096,
    1.63835604382,
    1.37649440322,
    1.0,
    0.0,
]


@pytest.mark.parametrize("numbers", HUYNH)
def test_huynhs_beta_binomial(numbers: tuple[int, float, float, int]) -> None:
    expected = HUYNH[numbers]
    found = beta_binomial(*numbers)
    got = {
        "KR21": found.kr21,
        "alpha": found.alpha,
        "beta": found.beta,
        "pass_rate": found.pass_rate,
        "p_both_pass": found.p_both_pass,
        "p_both_fail": found.p_both_fail,
        "p0": found.p0,
        "p_chance": found.p_chance,
        "kappa": found.kappa,
    }

    assert got == pytest.approx({name: expected[name] for name in got}, rel=1e-6)
    assert found.p0 == pytest.approx(expected["simulated_p0_2e6"], abs=0.003)


@pytest.mark.parametrize("numbers", HUYNH)
def test_the_normal_approximation_to_it(numbers: tuple[int, float, float, int]) -> None:
    points, mean, sd, cut = numbers
    expected = HUYNH[numbers]
    z = (cut - 0.5 - mean) / sd
    found = normal_consistency(z, kr21(points, mean, sd**2))

    assert z == pytest.approx(expected["normal_z"], rel=1e-6)
    assert found.p0 == pytest.approx(expected["normal_p0"], rel=1e-6)
    assert found.kappa == pytest.approx(expected["normal_kappa"], rel=1e-6)


@pytest.mark.parametrize("at", SUBKOVIAK_1988)
def test_subkoviaks_tables(at: tuple[float, float]) -> None:
    found = normal_consistency(*at)

    assert (found.p0, found.kappa) == pytest.approx(SUBKOVIAK_1988[at], abs=1e-6)
    if at in SUBKOVIAK_PRINTED:
        assert (round(found.p0, 2), round(found.kappa, 2)) == SUBKOVIAK_PRINTED[at]


def test_subkoviaks_figures_person_by_person() -> None:
    found = person_by_person(SUBKOVIAK_1976, 10, 7)
    expected = SUBKOVIAK_FIGURES
    x = np.array(SUBKOVIAK_1976, dtype=float)

    assert found.person_pass_probability == pytest.approx(
        [PASSING[score] for score in SUBKOVIAK_1976], abs=1e-8
    )
    assert found.p0 == pytest.approx(expected["p0"], abs=1e-8)
    assert found.pass_rate == pytest.approx(expected["mean_pass"], abs=1e-8)
    assert found.p_chance == pytest.approx(expected["p_chance"], abs=1e-8)
    assert found.kappa == pytest.approx(expected["kappa"], abs=1e-8)
    assert kr21(10, x.mean(), x.var()) == pytest.approx(
        expected["KR21_population_variance"], abs=1e-8
    )


def spelt_out(counted: tuple[int, list[int]]) -> list[int]:
    lowest, counts = counted
    return [lowest + row for row, count in enumerate(counts) for _ in range(count)]


def fitted(
    counted: tuple[int, list[int]], limits: tuple[float, float, float], *, fit_bounds: bool = True
) -> EffectiveTest:
    return effective_test(spelt_out(counted), *limits, fit_bounds=fit_bounds)


EXAMPLES = [
    pytest.param(
        fitted(DC_LL_4P_SCORES, DC_LL_4P_LIMITS),
        DC_LL_4P_FIT,
        DC_LL_4P_BETAS,
        DC_LL_4P_CUT,
        DC_LL_4P_FIGURES,
        DC_LL_4P_SIMULATED,
        id="DC-LL-4P",
    ),
    pytest.param(
        fitted(DC_LL_NOFIT_SCORES, DC_LL_NOFIT_LIMITS),
        DC_LL_NOFIT_FIT,
        DC_LL_NOFIT_BETAS,
        DC_LL_NOFIT_CUT,
        DC_LL_NOFIT_FIGURES,
        DC_LL_NOFIT_SIMULATED,
        id="DC-LL-NOFIT",
    ),
    pytest.param(
        fitted(DC_LL_OUTBOUND_SCORES, DC_LL_OUTBOUND_LIMITS),
        DC_LL_OUTBOUND_FIT,
        DC_LL_OUTBOUND_BETAS,
        DC_LL_OUTBOUND_CUT,
        DC_LL_OUTBOUND_FIGURES,
        DC_LL_OUTBOUND_SIMULATED,
        id="DC-LL-OUTBOUND",
    ),
    pytest.param(
        fitted(DC_LL_DOC_SCORES, DC_LL_DOC_LIMITS, fit_bounds=False),
        DC_LL_DOC_FIT,
        DC_LL_DOC_BETAS,
        DC_LL_DOC_CUT,
        DC_LL_DOC_FIGURES,
        DC_LL_DOC_SIMULATED,
        id="DC-LL-DOC",
    ),
]


@pytest.mark.parametrize(("found", "fit", "betas", "cut", "figures", "simulated"), EXAMPLES)
def test_livingston_and_lewis(
    found: EffectiveTest,
    fit: tuple[float, int, list[float]],
    betas: tuple[tuple[float, ...] | None, tuple[float, ...]],
    cut: float,
    figures: dict[int, Figures],
    simulated: tuple[int, float, float],
) -> None:
    length, rounded, moments = fit
    four, used = found.four_parameters, found.true_scores

    assert (found.length, found.rounded) == pytest.approx((length, rounded), rel=1e-9)
    assert found.true_moments == pytest.approx(moments, rel=1e-9)
    assert (used.alpha, used.beta, used.lower, used.upper) == pytest.approx(betas[1], rel=1e-5)
    if betas[0] is None:
        assert four is None
    else:
        assert four is not None
        assert (four.alpha, four.beta, four.lower, four.upper) == pytest.approx(betas[0], rel=1e-5)
    for effective, expected in figures.items():
        got = classification(found, cut, effective)

        assert {
            "accuracy": got.accuracy,
            "true_pass": got.true_pass,
            "false_pass": got.false_pass,
            "false_fail": got.false_fail,
            "true_fail": got.true_fail,
            "consistency": got.p0,
            "chance": got.p_chance,
            "kappa": got.kappa,
            "pass_rate": got.pass_rate,
        } == pytest.approx(expected, abs=1e-5)
    effective, p0, accuracy = simulated
    got = classification(found, cut, effective)
    assert (got.p0, got.accuracy) == pytest.approx((p0, accuracy), abs=0.004)


def test_lords_standard_error_of_each_count() -> None:
    assert conditional_sem(range(21), 20) == pytest.approx(LORD_20, abs=1e-9)
