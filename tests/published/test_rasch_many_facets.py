"""Many-facet Rasch models on the project's own scores, against independent programs.

Source of the scores: drawn for this project (gen4.py, invented people).  Expected figures:
conditional estimates and errors from R eRm 1.0-2 (LPCM with a design over assessor-by-criterion
items) and, for yes-no scores, R survival 3.5-3 clogit; joint estimates from R VGAM 1.1-7 vglm acat
and R glm with persons as fixed effects; marginal estimates of the yes-no scores from R lme4 1.1-31
glmer (nAGQ 50), of the others from an independent quadrature of 81 points; fit by formula only.
Tolerances: estimates and log-likelihood 0.0001, errors, fit and persons 0.001.

Left out: data sets copied from packages under the GPL (eRm's raschdat1, rsmdat, pcmdat2).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from standfast.agreement.rasch.conditional import fit_conditional
from standfast.agreement.rasch.fitted import Facet, Fitted
from standfast.agreement.rasch.joint import fit_joint
from standfast.agreement.rasch.marginal import fit_marginal
from standfast.agreement.rasch.scores import Scored


def rows(text: str) -> Scored:
    """Persons between bars, a word for each assessor, a digit for each criterion; `.` for none."""
    found = []
    for person, line in enumerate(text.replace("\n", " | ").strip(" |").split(" | "), start=1):
        for assessor, word in enumerate(line.split(), start=1):
            for criterion, digit in enumerate(word, start=1):
                if digit != ".":
                    found.append((person, assessor, criterion, int(digit)))
    return Scored(*np.array(found).T)


# MF-RSM-36x3x4: 36 persons x 3 assessors x 4 criteria, 0 to 3, complete, common thresholds.
COMPLETE = rows("""
    2223 2322 3322 | 3220 2001 2121 | 0001 1101 1100 | 3323 2332 3222 | 1210 0100 1100
    3011 1001 1200 | 1311 2101 2101 | 2320 1102 1001 | 3323 1311 1201 | 3332 2210 2301
    3323 2221 0212 | 3333 3231 3332 | 2221 1111 2101 | 3011 3121 3021 | 2322 2231 2122
    3232 3322 3331 | 3333 3322 2313 | 2210 3111 2212 | 3212 1113 2132 | 1011 2120 1000
    3222 1211 1011 | 2222 1200 0120 | 2131 2310 3211 | 3333 3232 3232 | 2201 3300 3110
    3322 2310 1031 | 3332 3333 3231 | 2211 1211 2100 | 3222 2323 3222 | 1101 1000 0000
    2111 2120 2212 | 3211 2111 0101 | 2211 3212 0101 | 3122 2021 1100 | 3210 3010 1012
    1000 0110 0000
""")

# MF-DICH-INC: 60 persons, each by 2 of 3 assessors, 5 yes-no checks.
LINKED = rows("""
    10010 11000 ..... | ..... 00000 00000 | 11111 ..... 11010 | 11011 11000 .....
    ..... 10000 00010 | 11101 ..... 11011 | 11111 11101 ..... | ..... 00010 10000
    11110 ..... 11110 | 01010 01101 ..... | ..... 11100 00000 | 10110 ..... 10000
    11010 01000 ..... | ..... 00000 00000 | 01000 ..... 01000 | 10011 01000 .....
    ..... 10000 01000 | 10000 ..... 01000 | 11010 11010 ..... | ..... 11110 00001
    10000 ..... 11000 | 11010 00111 ..... | ..... 10000 00000 | 01101 ..... 01001
    10100 00000 ..... | ..... 00110 01000 | 11100 ..... 10010 | 10000 00000 .....
    ..... 01010 10000 | 01111 ..... 11111 | 11111 11101 ..... | ..... 11010 10100
    10000 ..... 10110 | 10111 11100 ..... | ..... 10110 00000 | 11111 ..... 11111
    00100 01000 ..... | ..... 11010 10000 | 10000 ..... 11000 | 11101 11111 .....
    ..... 11101 11110 | 11100 ..... 11111 | 11110 11111 ..... | ..... 10110 11010
    10110 ..... 01110 | 10001 00000 ..... | ..... 10000 00110 | 11010 ..... 01000
    11100 11001 ..... | ..... 11000 11000 | 10000 ..... 11110 | 11111 11100 .....
    ..... 01000 10100 | 10000 ..... 01000 | 01010 00101 ..... | ..... 10000 11000
    11010 ..... 10000 | 11100 11000 ..... | ..... 11100 00000 | 00100 ..... 11000
""")

COMPLETE_CONDITIONAL: dict[str, Any] = {
    "assessor_severity": [-0.6000468, 0.1336809, 0.4663659],
    "assessor_severity_se": [0.1035051, 0.0947441, 0.0998116],
    "criterion_difficulty": [-0.8078103, -0.1977676, 0.3780555, 0.6275223],
    "criterion_difficulty_se": [0.1297769, 0.1158053, 0.1181869, 0.1237438],
    "thresholds": [-1.3414608, 0.0368137, 1.3046471],
    "thresholds_se": [0.1671667, 0.1411066, 0.1703808],
    "loglik": -356.5586694,
}
COMPLETE_MARGINAL: dict[str, Any] = {
    "assessor_severity": [-0.5992985, 0.1335959, 0.4657025],
    "assessor_severity_se": [0.1034138, 0.0946636, 0.0997325],
    "criterion_difficulty": [-0.8069469, -0.1971357, 0.3775687, 0.6265139],
    "criterion_difficulty_se": [0.1296256, 0.1157245, 0.1180367, 0.1236175],
    "thresholds": [-1.3438113, 0.0459526, 1.2978587],
    "thresholds_se": [0.1671919, 0.1389234, 0.1690717],
    "person_mean": 0.0976052,
    "person_sd": 1.2168403,
    "loglik": -480.9788536,
}
COMPLETE_JOINT: dict[str, Any] = {
    "assessor_severity": [-0.6572287, 0.1465425, 0.5106861],
    "criterion_difficulty": [-0.8850772, -0.2164162, 0.4142974, 0.687196],
    "thresholds": [-1.504561, 0.0323217, 1.4722393],
    "persons_extreme": [],
    "se_full_information": {
        "assessor": [0.1084803, 0.099149],
        "criterion": [0.1360569, 0.1212291, 0.1237077],
    },
    "loglik": -421.0107842,
    "person_measure": [
        1.610422,
        -0.2801095,
        -2.042769,
        2.0374474,
        -1.8136064,
        -1.2303608,
        -0.5798446,
        -0.7344009,
        0.4527663,
        0.602609,
        0.7554848,
        2.5789944,
        -0.4287212,
        0.0128291,
        0.9124279,
        2.0374474,
        2.288163,
        0.0128291,
        0.602609,
        -1.411735,
        -0.1331822,
        -0.5798446,
        0.3050554,
        2.5789944,
        -0.2801095,
        0.4527663,
        2.5789944,
        -0.5798446,
        1.610422,
        -2.5990833,
        -0.1331822,
        -0.5798446,
        -0.2801095,
        -0.4287212,
        -0.5798446,
        -2.963267,
    ],
    "fit": {
        "person": {
            "infit_msq": [
                0.6690804,
                1.0760656,
                1.057347,
                0.5269307,
                0.7212751,
                1.2044397,
                0.7668152,
                1.2414178,
                1.1891264,
                1.0948326,
                1.1698394,
                1.1479913,
                0.313291,
                1.7137006,
                0.7113315,
                0.8432774,
                1.0278484,
                0.8948374,
                1.6393234,
                1.0751131,
                0.603858,
                1.1527559,
                1.1808434,
                0.6339612,
                1.5959909,
                1.6021729,
                1.1506211,
                0.3773437,
                0.6055129,
                0.472611,
                0.8351053,
                0.5955343,
                1.0038173,
                0.9554684,
                1.4574629,
                0.8352227,
            ],
            "outfit_msq": [
                0.996821,
                1.073848,
                1.0003129,
                0.6290264,
                0.638518,
                1.1421751,
                0.7595868,
                1.2778479,
                1.1843182,
                1.0399379,
                1.1875143,
                0.888029,
                0.3170819,
                1.7020116,
                0.7275016,
                0.8396816,
                0.8426252,
                0.8887853,
                1.5795151,
                1.1113562,
                0.5904071,
                1.1875491,
                1.1660766,
                0.5782516,
                1.5240715,
                1.5327988,
                0.843838,
                0.3873697,
                0.6680782,
                0.453935,
                0.8716396,
                0.5856864,
                0.984012,
                0.957107,
                1.5254509,
                1.0299953,
            ],
        },
        "assessor": {
            "infit_msq": [0.8810197, 1.024932, 1.0914628],
            "outfit_msq": [0.8385996, 1.0413092, 1.0128213],
        },
        "criterion": {
            "infit_msq": [1.0297986, 1.1078308, 0.9190708, 0.943394],
            "outfit_msq": [0.9419575, 1.0784992, 0.9190526, 0.9174641],
        },
    },
}
LINKED_CONDITIONAL: dict[str, Any] = {
    "assessor_severity": [-0.2417131, -0.0214213, 0.2631344],
    "assessor_severity_se": [0.1583413, 0.1593001, 0.1595845],
    "criterion_difficulty": [-1.1637729, -0.688386, 0.2549292, 0.3008912, 1.2963385],
    "criterion_difficulty_se": [0.1972105, 0.1894503, 0.1928057, 0.1935697, 0.2252025],
    "thresholds": [0.0],
    "thresholds_se": [0.0],
    "loglik": -215.9861696,
}
LINKED_MARGINAL: dict[str, Any] = {
    "assessor_severity": [-0.3654441, 0.0422604, 0.3231837],
    "assessor_severity_se": [0.1514173, 0.1514235, 0.1521621],
    "criterion_difficulty": [-1.1749724, -0.6793752, 0.2706572, 0.3154312, 1.2682593],
    "criterion_difficulty_se": [0.2009744, 0.1912147, 0.1909204, 0.1915314, 0.2185594],
    "thresholds": [0.0],
    "thresholds_se": [0.0],
    "person_mean": -0.2307316,
    "person_sd": 1.1194045,
    "loglik": -351.3646515,
}
LINKED_JOINT: dict[str, Any] = {
    "assessor_severity": [-0.2726885, -0.0237806, 0.2964691],
    "criterion_difficulty": [-1.3116758, -0.7696149, 0.288654, 0.3396729, 1.4529637],
    "thresholds": [0.0],
    "persons_extreme": [2, 14, 36],
    "loglik": -283.8296772,
    "se_full_information": {
        "assessor": [0.1683372, 0.1692733],
        "criterion": [0.211563, 0.2017438, 0.2037459, 0.2045436],
    },
    "person_measure": [
        -0.6469941,
        1.6780015,
        0.3415484,
        -1.5172957,
        1.6780015,
        2.4046695,
        -1.5172957,
        1.6780015,
        -0.1530902,
        -0.8927576,
        -0.491204,
        -0.6469941,
        -1.6545604,
        -0.6469941,
        -1.5172957,
        -1.6545604,
        0.3415484,
        0.1315031,
        -1.025003,
        0.3415484,
        -2.4102998,
        0.0071293,
        -1.7995296,
        -0.8927576,
        0.0071293,
        -2.6913496,
        -0.8927576,
        2.5871503,
        2.4046695,
        0.1315031,
        -0.491204,
        0.8732147,
        -0.8927576,
        -1.7995296,
        -0.3630842,
        -1.025003,
        2.4046695,
        1.789707,
        1.6780015,
        2.4046695,
        0.6268311,
        0.5062326,
        -1.7995296,
        -0.8927576,
        -0.491204,
        0.3415484,
        -0.3630842,
        0.0071293,
        1.5027941,
        -0.8927576,
        -1.6545604,
        -0.6469941,
        -0.8927576,
        -0.491204,
        -0.1530902,
        -0.8927576,
        -1.025003,
    ],
    "fit": {
        "person": {
            "infit_msq": [
                0.7665941,
                0.7781849,
                0.8811776,
                1.0437852,
                1.2857576,
                1.138877,
                1.1058459,
                0.5947459,
                1.5653019,
                0.8883579,
                0.9175433,
                0.8352825,
                1.0204858,
                1.2984851,
                0.822097,
                0.833376,
                0.6740503,
                1.3352113,
                0.7034913,
                1.5122691,
                0.7759684,
                1.7211252,
                1.0015476,
                1.4036096,
                0.8225737,
                0.7883654,
                0.9868804,
                1.3838097,
                1.138877,
                0.830783,
                1.1629199,
                1.1205506,
                1.1645358,
                1.2545403,
                0.6921832,
                0.7034913,
                1.1921028,
                0.8978778,
                1.1023186,
                0.8577061,
                0.8965225,
                1.2543841,
                1.1312858,
                1.2829346,
                0.7893053,
                0.9189038,
                0.4991662,
                1.080291,
                0.839263,
                1.0366477,
                0.833376,
                1.7001883,
                0.6485931,
                0.6542835,
                0.5703496,
                0.8883579,
                1.1295502,
            ],
            "outfit_msq": [
                0.6869906,
                0.555222,
                0.780558,
                1.1796949,
                1.0503422,
                0.916691,
                1.0073718,
                0.3941688,
                1.7748951,
                0.7629499,
                0.8011749,
                0.7546838,
                0.7230009,
                1.4414245,
                0.5787602,
                0.6068053,
                0.5873103,
                1.4505635,
                0.5586394,
                1.6301972,
                0.3788992,
                2.0647053,
                0.9340047,
                1.2259479,
                0.7402096,
                0.3893666,
                0.8480795,
                6.6025896,
                0.916691,
                0.7502309,
                1.1134702,
                1.226888,
                1.0480808,
                1.1275766,
                0.6214431,
                0.5586394,
                1.1476395,
                0.7221283,
                0.889289,
                0.4323882,
                0.9059779,
                1.4058445,
                2.2991859,
                1.3114141,
                0.6927265,
                0.8447977,
                0.452914,
                1.0113847,
                0.6114887,
                0.958596,
                0.6068053,
                1.9938002,
                0.518085,
                0.5794519,
                0.5223433,
                0.7629499,
                0.9243221,
            ],
        },
        "assessor": {
            "infit_msq": [1.0426961, 1.0155401, 0.9503634],
            "outfit_msq": [1.3116239, 0.9272288, 0.8209614],
        },
        "criterion": {
            "infit_msq": [1.0408454, 1.0016306, 0.9212451, 1.1309633, 0.8957951],
            "outfit_msq": [1.3983245, 0.8975217, 0.8366191, 1.1751805, 0.8135647],
        },
    },
}


def close(found: object, expected: object, tolerance: float) -> None:
    assert np.asarray(found) == pytest.approx(np.asarray(expected), abs=tolerance)


def holds(found: Fitted, expected: dict[str, Any]) -> None:
    close(found.assessors.measure, expected["assessor_severity"], 1e-4)
    close(found.criteria.measure, expected["criterion_difficulty"], 1e-4)
    close(found.thresholds[0], expected["thresholds"], 1e-4)
    close(found.loglik, expected["loglik"], 1e-4)


def errors_hold(found: Fitted, expected: dict[str, Any]) -> None:
    close(found.assessors.se, expected["assessor_severity_se"], 1e-3)
    close(found.criteria.se, expected["criterion_difficulty_se"], 1e-3)
    close(found.thresholds_se[0], expected["thresholds_se"], 1e-3)


@pytest.mark.parametrize(
    ("scores", "expected"),
    [
        pytest.param(COMPLETE, COMPLETE_CONDITIONAL, id="MF-RSM-36x3x4"),
        pytest.param(LINKED, LINKED_CONDITIONAL, id="MF-DICH-INC"),
    ],
)
def test_conditional_figures_are_those_of_the_published_programs(
    scores: Scored, expected: dict[str, Any]
) -> None:
    found = fit_conditional(scores)

    holds(found, expected)
    errors_hold(found, expected)


@pytest.mark.parametrize(
    ("scores", "expected"),
    [
        pytest.param(COMPLETE, COMPLETE_MARGINAL, id="MF-RSM-36x3x4"),
        pytest.param(LINKED, LINKED_MARGINAL, id="MF-DICH-INC"),
    ],
)
def test_marginal_figures_are_those_of_the_published_programs(
    scores: Scored, expected: dict[str, Any]
) -> None:
    found = fit_marginal(scores)

    holds(found, expected)
    errors_hold(found, expected)
    close(found.person_mean, expected["person_mean"], 1e-4)
    close(found.person_sd, expected["person_sd"], 1e-4)


@pytest.mark.parametrize(
    ("scores", "expected"),
    [
        pytest.param(COMPLETE, COMPLETE_JOINT, id="MF-RSM-36x3x4"),
        pytest.param(LINKED, LINKED_JOINT, id="MF-DICH-INC"),
    ],
)
def test_joint_figures_and_fit_are_those_of_the_published_programs(
    scores: Scored, expected: dict[str, Any]
) -> None:
    found = fit_joint(scores)
    within = ~np.isin(found.persons.codes, found.extreme)

    holds(found, expected)
    close(found.assessors.se[:-1], expected["se_full_information"]["assessor"], 1e-3)
    close(found.criteria.se[:-1], expected["se_full_information"]["criterion"], 1e-3)
    assert found.extreme.tolist() == expected["persons_extreme"]
    close(found.persons.measure[within], expected["person_measure"], 1e-3)
    facets: dict[str, Facet] = {
        "person": found.persons,
        "assessor": found.assessors,
        "criterion": found.criteria,
    }
    for name, facet in facets.items():
        mask = within if name == "person" else np.ones(len(facet.codes), dtype=bool)
        close(facet.infit[mask], expected["fit"][name]["infit_msq"], 1e-3)
        close(facet.outfit[mask], expected["fit"][name]["outfit_msq"], 1e-3)
