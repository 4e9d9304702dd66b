"""Agreement of two assessors from square tables, and of many: worked examples of the literature.

Each example has its source beside it.  Figures under `expected` are those of libraries (statsmodels
0.15.0, R vcd 1.4-11, R psych 2.2.9, irrCAC 0.4.4, krippendorff 0.9.0, scikit-learn 1.9.1), to 1e-6;
under `printed` those of the source, as printed.  `se_linearised` is Gwet's with n - 1, `se` and
`se_h0` are those of Fleiss, Cohen & Everitt (1969).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest

from standfast.agreement.alpha import krippendorff_alpha
from standfast.agreement.coefficients import (
    brennan_prediger,
    cohen_kappa,
    conger_kappa,
    fleiss_kappa,
    gwet_ac,
    percent_agreement,
    scott_pi,
)
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import Scores, ratings_of_table, scores_of, scores_of_counts
from standfast.agreement.tables import fleiss_of_counts, kappa_of_table, square_table
from standfast.agreement.weights import Weights, own_weights, weights_for

NA = float("nan")
TOLERANCE = 1e-6


@dataclass(frozen=True)
class Table:
    """A square table: row the first assessor, column the second."""

    name: str
    cells: list[list[int]]
    expected: dict[str, float]
    printed: dict[str, float]
    own: list[list[float]] = field(default_factory=list)
    disagreement: bool = False


TABLES = [
    # Cohen J. 1960, Educ Psychol Meas 20:37-46, Table 1 (proportions, N=200).
    # Cells from memory; printed values from memory.
    Table(
        "cohen60",
        [[50, 26, 24], [24, 4, 32], [6, 30, 4]],
        {
            "n": 200,
            "percent_agreement": 0.29,
            "cohen_kappa": -0.0923076923077,
            "cohen_kappa_se": 0.0400515441158,
            "cohen_kappa_se_h0": 0.049673490126,
            "weighted_kappa_linear": 0.0227272727273,
            "weighted_kappa_linear_se": 0.0449780741954,
            "weighted_kappa_linear_se_h0": 0.0551107075136,
            "weighted_kappa_quadratic": 0.134328358209,
            "weighted_kappa_quadratic_se": 0.0558634286767,
            "weighted_kappa_quadratic_se_h0": 0.0684698950746,
            "scott_pi": -0.100775193798,
            "scott_pi_se_linearised": 0.040802812575,
            "gwet_ac1": -0.047970479705,
            "gwet_ac1_se_linearised": 0.052738112155,
            "brennan_prediger": -0.065,
            "brennan_prediger_se_linearised": 0.048249508551,
            "krippendorff_alpha_nominal": -0.098023255814,
            "cohen_kappa_se_linearised": 0.040152050031,
            "gwet_ac2_quadratic": 0.183098591549,
            "gwet_ac2_linear": 0.07027027027,
        },
        {"cohen_kappa": -0.09, "percent_agreement": 0.29},
    ),
    # Cohen J. 1968, Psychol Bull 70:213-220, Tables 1-2 (proportions x N=200; also carried
    # in R psych help of cohen.kappa).
    Table(
        "cohen68",
        [[88, 14, 18], [10, 40, 10], [2, 6, 12]],
        {
            "n": 200,
            "percent_agreement": 0.7,
            "cohen_kappa": 0.491525423729,
            "cohen_kappa_se": 0.0510018155761,
            "cohen_kappa_se_h0": 0.0519789363566,
            "weighted_kappa_linear": 0.473684210526,
            "weighted_kappa_linear_se": 0.0544323091776,
            "weighted_kappa_linear_se_h0": 0.0546963412916,
            "weighted_kappa_quadratic": 0.454545454545,
            "weighted_kappa_quadratic_se": 0.0664536815911,
            "weighted_kappa_quadratic_se_h0": 0.0673586674649,
            "scott_pi": 0.487179487179,
            "scott_pi_se_linearised": 0.052414029117,
            "gwet_ac1": 0.575971731449,
            "gwet_ac1_se_linearised": 0.048120576902,
            "brennan_prediger": 0.55,
            "brennan_prediger_se_linearised": 0.04872752671,
            "krippendorff_alpha_nominal": 0.488461538462,
            "cohen_kappa_se_linearised": 0.051129800258,
            "gwet_ac2_quadratic": 0.638554216867,
            "gwet_ac2_linear": 0.609756097561,
            "weighted_kappa_user": 0.347826086957,
            "weighted_kappa_user_se": 0.0755040152548,
            "weighted_kappa_user_se_h0": 0.0597199935595,
            "weighted_kappa_asymmetric": 0.353383458647,
        },
        {"cohen_kappa": 0.492, "weighted_kappa_user": 0.348, "weighted_kappa_asymmetric": 0.353},
        own=[[0, 1, 3], [1, 0, 6], [3, 6, 0]],
        disagreement=True,
    ),
    # Fleiss JL, Cohen J, Everitt BS 1969, Psychol Bull 72:323-327 (worked example, N=200).
    # Printed values from memory.
    Table(
        "fce69",
        [[106, 10, 4], [22, 28, 10], [2, 12, 6]],
        {
            "n": 200,
            "percent_agreement": 0.7,
            "cohen_kappa": 0.428571428571,
            "cohen_kappa_se": 0.0537110048692,
            "cohen_kappa_se_h0": 0.0555124549364,
            "weighted_kappa_linear": 0.492307692308,
            "weighted_kappa_linear_se": 0.0507186076077,
            "weighted_kappa_linear_se_h0": 0.0577691795554,
            "weighted_kappa_quadratic": 0.566666666667,
            "weighted_kappa_quadratic_se": 0.0556663401582,
            "weighted_kappa_quadratic_se_h0": 0.0705139860044,
            "scott_pi": 0.427207637232,
            "scott_pi_se_linearised": 0.054287688319,
            "gwet_ac1": 0.593564775614,
            "gwet_ac1_se_linearised": 0.047747407811,
            "brennan_prediger": 0.55,
            "brennan_prediger_se_linearised": 0.04872752671,
            "krippendorff_alpha_nominal": 0.428639618138,
            "cohen_kappa_se_linearised": 0.053845788029,
            "gwet_ac2_quadratic": 0.795275590551,
            "gwet_ac2_linear": 0.707208872458,
            "weighted_kappa_user": 0.507069964867,
            "weighted_kappa_user_se": 0.0569938847033,
            "weighted_kappa_user_se_h0": 0.0653358845673,
        },
        {"cohen_kappa": 0.429, "weighted_kappa_user": 0.507, "var_weighted": 0.003248},
        own=[[1.0, 0.0, 0.4444], [0.0, 1.0, 0.6667], [0.4444, 0.6667, 1.0]],
        disagreement=False,
    ),
    # Fleiss JL, Levin B, Paik MC 2003, Statistical Methods for Rates and Proportions 3rd
    # ed., Table 18.1 (N=100).
    # Cells from memory; printed values from memory.
    Table(
        "fleiss-t",
        [[75, 1, 4], [5, 4, 1], [0, 0, 10]],
        {
            "n": 100,
            "percent_agreement": 0.89,
            "cohen_kappa": 0.676470588235,
            "cohen_kappa_se": 0.0877029534752,
            "cohen_kappa_se_h0": 0.0761872579235,
            "weighted_kappa_linear": 0.722222222222,
            "weighted_kappa_linear_se": 0.0843009539232,
            "weighted_kappa_linear_se_h0": 0.0878605641798,
            "weighted_kappa_quadratic": 0.755319148936,
            "weighted_kappa_quadratic_se": 0.0867071324938,
            "weighted_kappa_quadratic_se_h0": 0.0989476085815,
            "scott_pi": 0.675276752768,
            "scott_pi_se_linearised": 0.089069052547,
            "gwet_ac1": 0.867569601204,
            "gwet_ac1_se_linearised": 0.039427868274,
            "brennan_prediger": 0.835,
            "brennan_prediger_se_linearised": 0.04716990566,
            "krippendorff_alpha_nominal": 0.676900369004,
            "cohen_kappa_se_linearised": 0.088144784753,
            "gwet_ac2_quadratic": 0.913043478261,
            "gwet_ac2_linear": 0.895500725689,
        },
        {"cohen_kappa": 0.68, "cohen_kappa_se": 0.088, "cohen_kappa_se_h0": 0.076},
    ),
    # Feinstein AR, Cicchetti DV 1990, J Clin Epidemiol 43:543-549 (Table series, N=100).
    # Cells from memory; printed values from memory.
    Table(
        "paradox-1",
        [[40, 9], [6, 45]],
        {
            "n": 100,
            "percent_agreement": 0.85,
            "cohen_kappa": 0.699519230769,
            "cohen_kappa_se": 0.0713936027,
            "cohen_kappa_se_h0": 0.0998192592786,
            "scott_pi": 0.699248120301,
            "scott_pi_se_linearised": 0.071944369361,
            "gwet_ac1": 0.700748129676,
            "gwet_ac1_se_linearised": 0.071711260563,
            "brennan_prediger": 0.7,
            "brennan_prediger_se_linearised": 0.071774056257,
            "krippendorff_alpha_nominal": 0.700751879699,
            "cohen_kappa_se_linearised": 0.071753270481,
        },
        {"cohen_kappa": 0.7, "percent_agreement": 0.85},
    ),
    # Feinstein AR, Cicchetti DV 1990, J Clin Epidemiol 43:543-549 (Table series, N=100).
    # Cells from memory; printed values from memory.
    Table(
        "paradox-2",
        [[80, 10], [5, 5]],
        {
            "n": 100,
            "percent_agreement": 0.85,
            "cohen_kappa": 0.318181818182,
            "cohen_kappa_se": 0.133456521224,
            "cohen_kappa_se_h0": 0.0973831149347,
            "scott_pi": 0.314285714286,
            "scott_pi_se_linearised": 0.136159266962,
            "gwet_ac1": 0.808,
            "gwet_ac1_se_linearised": 0.052392038627,
            "brennan_prediger": 0.7,
            "brennan_prediger_se_linearised": 0.071774056257,
            "krippendorff_alpha_nominal": 0.317714285714,
            "cohen_kappa_se_linearised": 0.134128850523,
        },
        {"cohen_kappa": 0.32, "percent_agreement": 0.85},
    ),
    # Feinstein AR, Cicchetti DV 1990, J Clin Epidemiol 43:543-549 (Table series, N=100).
    # Cells from memory; printed values from memory.
    Table(
        "paradox-3",
        [[45, 15], [25, 15]],
        {
            "n": 100,
            "percent_agreement": 0.6,
            "cohen_kappa": 0.130434782609,
            "cohen_kappa_se": 0.0986615376234,
            "cohen_kappa_se_h0": 0.097608453568,
            "scott_pi": 0.120879120879,
            "scott_pi_se_linearised": 0.101746724731,
            "gwet_ac1": 0.266055045872,
            "gwet_ac1_se_linearised": 0.10392142833,
            "brennan_prediger": 0.2,
            "brennan_prediger_se_linearised": 0.098473192783,
            "krippendorff_alpha_nominal": 0.125274725275,
            "cohen_kappa_se_linearised": 0.099158576223,
        },
        {"cohen_kappa": 0.13, "percent_agreement": 0.6},
    ),
    # Feinstein AR, Cicchetti DV 1990, J Clin Epidemiol 43:543-549 (Table series, N=100).
    # Cells from memory; printed values from memory.
    Table(
        "paradox-4",
        [[25, 35], [5, 35]],
        {
            "n": 100,
            "percent_agreement": 0.6,
            "cohen_kappa": 0.259259259259,
            "cohen_kappa_se": 0.0771597317444,
            "cohen_kappa_se_h0": 0.0831479419283,
            "scott_pi": 0.191919191919,
            "scott_pi_se_linearised": 0.098925124228,
            "gwet_ac1": 0.207920792079,
            "gwet_ac1_se_linearised": 0.099516303032,
            "brennan_prediger": 0.2,
            "brennan_prediger_se_linearised": 0.098473192783,
            "krippendorff_alpha_nominal": 0.19595959596,
            "cohen_kappa_se_linearised": 0.077548448218,
        },
        {"cohen_kappa": 0.26, "percent_agreement": 0.6},
    ),
    # Gwet K. 2002 (Kappa statistic is not satisfactory...)/Gwet 2008 Br J Math Stat Psychol
    # 61:29-48; N=125.
    # Cells from memory; printed values from memory.
    Table(
        "gwet-paradox",
        [[118, 5], [2, 0]],
        {
            "n": 125,
            "percent_agreement": 0.944,
            "cohen_kappa": -0.0233918128655,
            "cohen_kappa_se": 0.0122867566728,
            "cohen_kappa_se_h0": 0.0803807498289,
            "scott_pi": -0.028806584362,
            "scott_pi_se_linearised": 0.010927143402,
            "gwet_ac1": 0.940776337609,
            "gwet_ac1_se_linearised": 0.023056964302,
            "brennan_prediger": 0.888,
            "brennan_prediger_se_linearised": 0.041295161007,
            "krippendorff_alpha_nominal": -0.024691358025,
            "cohen_kappa_se_linearised": 0.012336200561,
        },
        {"cohen_kappa": -0.0234, "gwet_ac1": 0.9408, "percent_agreement": 0.944},
    ),
    # Westlund KB, Kurland LT 1953; analysed by Landis JR, Koch GG 1977, Biometrics
    # 33:159-174; data object MSPatients[,,1] in R vcd 1.4-11 (GPL-2).
    # Printed values from memory.
    Table(
        "ms-winnipeg",
        [[38, 5, 0, 1], [33, 11, 3, 0], [10, 14, 5, 6], [3, 7, 3, 10]],
        {
            "n": 149,
            "percent_agreement": 0.429530201342,
            "cohen_kappa": 0.20794246404,
            "cohen_kappa_se": 0.0504553652409,
            "cohen_kappa_se_h0": 0.0456075837495,
            "weighted_kappa_linear": 0.379730547987,
            "weighted_kappa_linear_se": 0.0516668262183,
            "weighted_kappa_linear_se_h0": 0.0530204607136,
            "weighted_kappa_quadratic": 0.524576464332,
            "weighted_kappa_quadratic_se": 0.0600550988318,
            "weighted_kappa_quadratic_se_h0": 0.0729061155852,
            "scott_pi": 0.178237736828,
            "scott_pi_se_linearised": 0.056708854662,
            "gwet_ac1": 0.257779687836,
            "gwet_ac1_se_linearised": 0.054595708742,
            "brennan_prediger": 0.23937360179,
            "brennan_prediger_se_linearised": 0.054252662987,
            "krippendorff_alpha_nominal": 0.180995328316,
            "cohen_kappa_se_linearised": 0.05062553559,
            "gwet_ac2_quadratic": 0.622091940719,
            "gwet_ac2_linear": 0.465107424531,
        },
        {"cohen_kappa": 0.208, "cohen_kappa_se": 0.05},
    ),
]

FIGURES: dict[str, Callable[[Scores], Estimate]] = {
    "percent_agreement": percent_agreement,
    "cohen_kappa": cohen_kappa,
    "scott_pi": scott_pi,
    "gwet_ac1": gwet_ac,
    "brennan_prediger": brennan_prediger,
    "gwet_ac2_linear": lambda scores: gwet_ac(scores, weights_for("linear", scores.categories)),
    "gwet_ac2_quadratic": lambda scores: gwet_ac(
        scores, weights_for("quadratic", scores.categories)
    ),
}


def scores_in(table: Table) -> Scores:
    return scores_of(ratings_of_table(table.cells), list(range(len(table.cells))))


def weights_in(table: Table, kind: str) -> Weights:
    if kind == "user":
        return own_weights(table.own, disagreement=table.disagreement)
    return weights_for(kind, np.arange(len(table.cells)))


def large_sample_cases() -> list[object]:
    kinds = {
        "cohen_kappa": "identity",
        "weighted_kappa_linear": "linear",
        "weighted_kappa_quadratic": "quadratic",
        "weighted_kappa_user": "user",
    }
    return [
        pytest.param(table, key, kind, id=f"{table.name} {key}")
        for table in TABLES
        for key, kind in kinds.items()
        if key in table.expected
    ]


@pytest.mark.parametrize(("table", "key", "kind"), large_sample_cases())
def test_kappa_of_a_table_and_its_two_errors_are_those_of_the_example(
    table: Table, key: str, kind: str
) -> None:
    found = kappa_of_table(table.cells, weights_in(table, kind))

    assert found.kappa.name == key
    assert found.kappa.value == pytest.approx(table.expected[key], abs=TOLERANCE)
    assert found.kappa.se == pytest.approx(table.expected[f"{key}_se"], abs=TOLERANCE)
    assert found.se_h0 == pytest.approx(table.expected[f"{key}_se_h0"], abs=TOLERANCE)


@pytest.mark.parametrize(
    ("table", "key"),
    [
        pytest.param(table, key, id=f"{table.name} {key}")
        for table in TABLES
        for key in FIGURES
        if key in table.expected
    ],
)
def test_figures_from_ratings_are_those_of_the_example(table: Table, key: str) -> None:
    found = FIGURES[key](scores_in(table))

    assert found.name == key
    assert found.value == pytest.approx(table.expected[key], abs=TOLERANCE)
    if f"{key}_se_linearised" in table.expected:
        assert found.se == pytest.approx(table.expected[f"{key}_se_linearised"], abs=TOLERANCE)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_alpha_of_a_table_is_that_of_the_example(table: Table) -> None:
    found = krippendorff_alpha(ratings_of_table(table.cells))

    expected = table.expected["krippendorff_alpha_nominal"]
    assert found.value == pytest.approx(expected, abs=TOLERANCE)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_table_comes_back_from_its_ratings(table: Table) -> None:
    assert square_table(scores_in(table)).tolist() == table.cells


def digits_of(printed: float) -> int:
    return len(str(printed).partition(".")[2])


@pytest.mark.parametrize(
    ("table", "key"),
    [
        pytest.param(table, key, id=f"{table.name} {key}")
        for table in TABLES
        for key in table.printed
        if key in FIGURES
    ],
)
def test_figures_round_to_what_the_source_prints(table: Table, key: str) -> None:
    printed = table.printed[key]

    assert round(FIGURES[key](scores_in(table)).value, digits_of(printed)) == printed


def test_weights_that_differ_by_who_gave_the_score_are_those_of_cohen_1968() -> None:
    cells = [[88, 14, 18], [10, 40, 10], [2, 6, 12]]
    weights = own_weights([[0, 1, 4], [1, 0, 6], [2, 2, 0]], disagreement=True)

    found = kappa_of_table(cells, weights).kappa.value

    assert found == pytest.approx(0.353383458647, abs=TOLERANCE)


def test_the_variance_of_weighted_kappa_is_the_printed_one() -> None:
    """Fleiss, Cohen & Everitt (1969): .003248 (from memory)."""
    table = next(table for table in TABLES if table.name == "fce69")

    se = kappa_of_table(table.cells, weights_in(table, "user")).kappa.se

    assert se is not None
    assert round(se**2, 6) == table.printed["var_weighted"]


# Fleiss JL (1971), Psychol Bull 76, 378-382, table 1: 30 subjects, 6 assessors, 5 categories.
FLEISS_1971 = [
    [0, 0, 0, 6, 0],
    [0, 3, 0, 0, 3],
    [0, 1, 4, 0, 1],
    [0, 0, 0, 0, 6],
    [0, 3, 0, 3, 0],
    [2, 0, 4, 0, 0],
    [0, 0, 4, 0, 2],
    [2, 0, 3, 1, 0],
    [2, 0, 0, 4, 0],
    [0, 0, 0, 0, 6],
    [1, 0, 0, 5, 0],
    [1, 1, 0, 4, 0],
    [0, 3, 3, 0, 0],
    [1, 0, 0, 5, 0],
    [0, 2, 0, 3, 1],
    [0, 0, 5, 0, 1],
    [3, 0, 0, 1, 2],
    [5, 1, 0, 0, 0],
    [0, 2, 0, 4, 0],
    [1, 0, 2, 0, 3],
    [0, 0, 0, 0, 6],
    [0, 1, 0, 5, 0],
    [0, 2, 0, 1, 3],
    [2, 0, 0, 4, 0],
    [1, 0, 0, 4, 1],
    [0, 5, 0, 1, 0],
    [4, 0, 0, 0, 2],
    [0, 2, 0, 4, 0],
    [1, 0, 5, 0, 0],
    [0, 0, 0, 0, 6],
]


def test_fleiss_1971_by_category_with_the_error_of_1979() -> None:
    """Printed: .430 and .245 .245 .520 .471 .566; z 17.65.  The 1971 error formula is not used."""
    found = fleiss_of_counts(FLEISS_1971)

    assert found.kappa.value == pytest.approx(0.43024452006, abs=TOLERANCE)
    assert found.kappa.se == pytest.approx(0.054198935515, abs=TOLERANCE)
    assert found.se_h0 == pytest.approx(0.0243739320994, abs=TOLERANCE)
    assert found.kappa.value / found.se_h0 == pytest.approx(17.651830583, abs=1e-5)
    assert found.category_se_h0 == pytest.approx(0.0471404520791, abs=TOLERANCE)
    expected = [0.244755244755, 0.244755244755, 0.52, 0.471127272727, 0.566117806824]
    assert found.by_category == pytest.approx(expected, abs=TOLERANCE)


def test_other_coefficients_of_fleiss_1971() -> None:
    """Computed with irrCAC 0.4.4 and statsmodels 0.15.0."""
    scores = scores_of_counts(FLEISS_1971)
    ac1, even = gwet_ac(scores), brennan_prediger(scores)

    assert percent_agreement(scores).value == pytest.approx(0.555555555556, abs=TOLERANCE)
    assert ac1.value == pytest.approx(0.447884515845, abs=TOLERANCE)
    assert ac1.se == pytest.approx(0.055662141682, abs=TOLERANCE)
    assert even.value == pytest.approx(0.444444444444, abs=TOLERANCE)
    assert even.se == pytest.approx(0.055122835856, abs=TOLERANCE)


def test_alpha_of_fleiss_1971() -> None:
    ratings = [np.repeat(np.arange(5.0), row) for row in FLEISS_1971]

    found = krippendorff_alpha(np.array(ratings)).value

    assert found == pytest.approx(0.433409828282, abs=TOLERANCE)


def test_fleiss_kappa_of_the_textbook_table_of_ten_subjects() -> None:
    """Widely reproduced example, 10 subjects by 14 assessors; printed .21 (statsmodels 0.15.0)."""
    counts = [
        [0, 0, 0, 0, 14],
        [0, 2, 6, 4, 2],
        [0, 0, 3, 5, 6],
        [0, 3, 9, 2, 0],
        [2, 2, 8, 1, 1],
        [7, 7, 0, 0, 0],
        [3, 2, 6, 3, 0],
        [2, 5, 3, 2, 2],
        [6, 5, 2, 1, 0],
        [0, 2, 2, 3, 7],
    ]

    assert fleiss_of_counts(counts).kappa.value == pytest.approx(0.209930704422, abs=TOLERANCE)


# Gwet KL, Handbook of Inter-Rater Reliability (4th ed. 2014), chapters 2 and 5: 12 subjects, 4
# assessors, gaps.  AC1 and Fleiss lines read, the other printed values recalled; computed with
# irrCAC 0.4.4.  Its ordinal weight is not Krippendorff's ordinal metric.
GWET_12 = [
    [1.0, 1.0, NA, 1.0],
    [2.0, 2.0, 3.0, 2.0],
    [3.0, 3.0, 3.0, 3.0],
    [3.0, 3.0, 3.0, 3.0],
    [2.0, 2.0, 2.0, 2.0],
    [1.0, 2.0, 3.0, 4.0],
    [4.0, 4.0, 4.0, 4.0],
    [1.0, 1.0, 2.0, 1.0],
    [2.0, 2.0, 2.0, 2.0],
    [NA, 5.0, 5.0, 5.0],
    [NA, NA, 1.0, 1.0],
    [NA, NA, 3.0, NA],
]

# value, standard error, agreement, chance, lower end of the interval (the upper is 1 throughout)
GWET_12_EXPECTED = {
    ("identity", "gwet_ac"): (
        0.775444068127,
        0.142949950641,
        0.818181818182,
        0.190321180556,
        0.460813348132,
    ),
    ("identity", "fleiss"): (
        0.761169275422,
        0.153019203469,
        0.818181818182,
        0.238715277778,
        0.424376279378,
    ),
    ("identity", "conger"): (
        0.762817441303,
        0.14916815248,
        0.818181818182,
        0.233425160698,
        0.434500551337,
    ),
    ("identity", "brennan_prediger"): (
        0.772727272727,
        0.144716619899,
        0.818181818182,
        0.2,
        0.454208139911,
    ),
    ("identity", "alpha"): (0.743421052632, 0.145573886985, 0.805, 0.24, 0.419062219209),
    ("linear", "gwet_ac"): (
        0.858739136433,
        0.117329021881,
        0.939393939394,
        0.570963541667,
        0.600499700425,
    ),
    ("linear", "fleiss"): (
        0.817944767097,
        0.148504355499,
        0.939393939394,
        0.667100694444,
        0.491088884435,
    ),
    ("linear", "conger"): (
        0.813776319966,
        0.145085402493,
        0.939393939394,
        0.674552341598,
        0.494445502134,
    ),
    ("linear", "brennan_prediger"): (
        0.848484848485,
        0.123356124494,
        0.939393939394,
        0.6,
        0.576979849068,
    ),
    ("linear", "alpha"): (0.800383877159, 0.135477744125, 0.935, 0.674375, 0.498520651897),
    ("quadratic", "gwet_ac"): (
        0.914000723552,
        0.103962244645,
        0.975378787879,
        0.713704427083,
        0.685181365879,
    ),
    ("quadratic", "fleiss"): (
        0.864935064935,
        0.146033610757,
        0.975378787879,
        0.817708333333,
        0.543517254786,
    ),
    ("quadratic", "conger"): (
        0.857710656223,
        0.143670663829,
        0.975378787879,
        0.826963766452,
        0.541493657196,
    ),
    ("quadratic", "brennan_prediger"): (
        0.901515151515,
        0.110894374974,
        0.975378787879,
        0.75,
        0.657438277861,
    ),
    ("quadratic", "alpha"): (0.849107142857, 0.129129965715, 0.97359375, 0.825, 0.561387649295),
    ("ordinal", "gwet_ac"): (
        0.898939769908,
        0.106903523815,
        0.968181818182,
        0.68515625,
        0.663646700429,
    ),
    ("ordinal", "fleiss"): (
        0.850206189397,
        0.147035693874,
        0.968181818182,
        0.787586805556,
        0.526582809178,
    ),
    ("ordinal", "conger"): (
        0.843659525188,
        0.144099959112,
        0.968181818182,
        0.796481481481,
        0.526497653615,
    ),
    ("ordinal", "brennan_prediger"): (
        0.886363636364,
        0.113905903978,
        0.968181818182,
        0.72,
        0.635658432063,
    ),
    ("ordinal", "alpha"): (0.833638025594, 0.13107343031, 0.965875, 0.794875, 0.54158822306),
    ("ratio", "gwet_ac"): (
        0.85736755783,
        0.122071330135,
        0.954114873222,
        0.678298106099,
        0.588690371731,
    ),
    ("ratio", "fleiss"): (
        0.821338343945,
        0.152386040561,
        0.954114873222,
        0.743173057996,
        0.485938930067,
    ),
    ("ratio", "conger"): (
        0.81196517587,
        0.148600701756,
        0.954114873222,
        0.755975378549,
        0.484897236526,
    ),
    ("ratio", "brennan_prediger"): (
        0.840236692761,
        0.132208831633,
        0.954114873222,
        0.7127930839,
        0.549247016304,
    ),
    ("ratio", "alpha"): (
        0.797402774712,
        0.140481053775,
        0.950788201531,
        0.757095397534,
        0.48439148083,
    ),
    ("radical", "gwet_ac"): (
        0.819811702198,
        0.128355524617,
        0.897269106573,
        0.429869227471,
        0.537303097301,
    ),
    ("radical", "fleiss"): (
        0.789924094651,
        0.15003645829,
        0.897269106573,
        0.510982026921,
        0.459696076484,
    ),
    ("radical", "conger"): (
        0.788340007583,
        0.146365207509,
        0.897269106573,
        0.514641892151,
        0.466192357905,
    ),
    ("radical", "brennan_prediger"): (
        0.812627079504,
        0.132779374985,
        0.897269106573,
        0.45173030791,
        0.520381645597,
    ),
    ("radical", "alpha"): (
        0.771981312139,
        0.139612098486,
        0.8898211168,
        0.516798889453,
        0.460906171298,
    ),
}
MANY: dict[str, Callable[[Scores, Weights], Estimate]] = {
    "gwet_ac": gwet_ac,
    "fleiss": fleiss_kappa,
    "conger": conger_kappa,
    "brennan_prediger": brennan_prediger,
    "alpha": lambda _, weights: krippendorff_alpha(GWET_12, weights),
}


@pytest.mark.parametrize(("kind", "name"), GWET_12_EXPECTED)
def test_gwets_twelve_subjects_under_each_weight(kind: str, name: str) -> None:
    value, se, agreement, chance, low = GWET_12_EXPECTED[kind, name]
    scores = scores_of(GWET_12)
    weights = weights_for(kind, scores.categories)

    found = MANY[name](scores, weights)

    assert found.value == pytest.approx(value, abs=TOLERANCE)
    assert found.value == pytest.approx((agreement - chance) / (1 - chance), abs=TOLERANCE)
    assert found.se == pytest.approx(se, abs=TOLERANCE)
    assert (found.low, found.high) == pytest.approx((low, 1.0), abs=TOLERANCE)


@pytest.mark.parametrize("kind", ["identity", "linear", "quadratic", "ordinal", "ratio", "radical"])
def test_gwets_twelve_subjects_agree_as_often_as_computed(kind: str) -> None:
    scores = scores_of(GWET_12)

    found = percent_agreement(scores, weights_for(kind, scores.categories))

    assert found.value == pytest.approx(GWET_12_EXPECTED[kind, "gwet_ac"][2], abs=TOLERANCE)


@pytest.mark.parametrize(
    ("name", "value", "se"),
    [
        ("gwet_ac", 0.77544, 0.14295),
        ("fleiss", 0.76117, 0.15302),
        ("conger", 0.76282, 0.14917),
        ("brennan_prediger", 0.77273, 0.14472),
        ("alpha", 0.74342, 0.14557),
    ],
)
def test_gwets_twelve_subjects_round_to_the_printed_digits(
    name: str, value: float, se: float
) -> None:
    scores = scores_of(GWET_12)

    found = MANY[name](scores, weights_for("identity", scores.categories))

    assert found.se is not None
    assert (round(found.value, 5), round(found.se, 5)) == (value, se)
