"""Rasch models of one facet: the closed form of two checks, and section 6 of the LSAT.

Sources: Rasch (1960), Andersen (1970) for two checks, the figures by R survival 3.5-3 clogit.
Bock & Lieberman (1970), Psychometrika 35, 179-197, for the answers of 1,000 people to five
questions, as counts of each pattern.  Conditional figures by R eRm 1.0-2 and psychotools 0.7-2;
marginal ones by R lme4 glmer (nAGQ 50), and printed in Rizopoulos (2006), J. Stat. Softw. 17(5),
from memory: discrimination 0.7551, log-likelihood -2466.938, difficulties -3.6153, -1.3224,
-0.3176, -1.7301, -2.7802.
"""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.rasch.conditional import fit_conditional
from standfast.agreement.rasch.joint import fit_joint
from standfast.agreement.rasch.marginal import fit_marginal
from standfast.agreement.rasch.scores import Scored

LSAT6 = """
    00000 3  00001 6  00010 2  00011 11  00100 1  00101 1
    00110 3  00111 4  01000 1  01001 8  01011 16  01101 3
    01110 2  01111 15  10000 10  10001 29  10010 14  10011 81
    10100 3  10101 28  10110 15  10111 80  11000 16  11001 56
    11010 21  11011 173  11100 11  11101 61  11110 28  11111 298
"""


def one_facet(patterns: dict[str, int]) -> Scored:
    """Scores of that many people with each pattern of digits, all by one assessor."""
    answers = [pattern for pattern, count in patterns.items() for _ in range(count)]
    table = np.array([[int(digit) for digit in pattern] for pattern in answers])
    person, criterion = np.indices(table.shape)
    return Scored(person.ravel(), np.zeros(table.size, int), criterion.ravel(), table.ravel())


def lsat6() -> Scored:
    words = LSAT6.split()
    return one_facet(dict(zip(words[::2], map(int, words[1::2]), strict=True)))


def close(found: object, expected: object, tolerance: float) -> None:
    assert np.asarray(found) == pytest.approx(np.asarray(expected), abs=tolerance)


def test_two_checks_differ_by_the_log_of_the_odds() -> None:
    found = fit_conditional(one_facet({"10": 34, "01": 12, "11": 5, "00": 3}))
    difference = found.criteria.measure[1] - found.criteria.measure[0]

    close(difference, 1.04145387483, 1e-6)
    close(2 * found.criteria.se[1], 0.335775368422, 1e-6)
    close(difference / (2 * found.criteria.se[1]), 3.10163869292, 1e-5)


def test_joint_figures_of_two_checks_are_twice_too_far_apart() -> None:
    found = fit_joint(one_facet({"10": 34, "01": 12, "11": 5, "00": 3}))

    close(found.criteria.measure[1] - found.criteria.measure[0], 2.08290774966, 1e-6)


def test_conditional_figures_of_the_lsat() -> None:
    found = fit_conditional(lsat6())

    close(found.loglik, -1091.569690, 1e-4)
    close(found.criteria.measure, [-1.2561285, 0.474906, 1.2359842, 0.1684106, -0.6231723], 1e-4)
    close(found.criteria.se, [0.1044112, 0.0699173, 0.0687788, 0.0726191, 0.0859159], 1e-3)
    close(found.criteria.infit, [0.82772, 0.967996, 0.972798, 0.954093, 0.895298], 1e-3)
    close(found.criteria.outfit, [0.800754, 0.957721, 0.949424, 0.943763, 0.872079], 1e-3)
    close(found.criteria.infit_z, [-2.293373, -0.991837, -1.032532, -1.235808, -1.903536], 1e-3)
    close(found.criteria.outfit_z, [-1.820344, -1.115529, -1.252033, -1.248307, -1.691931], 1e-3)


def test_conditional_measures_of_persons_of_the_lsat() -> None:
    scores = lsat6()
    found = fit_conditional(scores)
    totals = np.bincount(scores.person, weights=scores.score)
    by_total = [found.persons.measure[totals == total][0] for total in range(1, 5)]

    close(by_total, [-1.601533, -0.474328, 0.480863, 1.599947], 1e-4)


def test_marginal_figures_of_the_lsat() -> None:
    found = fit_marginal(lsat6())
    assert found.person_mean is not None
    easiness = found.person_mean - found.criteria.measure

    close(found.loglik, -2466.937600, 1e-4)
    close(found.person_sd, 0.7551346, 1e-4)
    close(easiness, [2.7300129, 0.9986054, 0.2398541, 1.3064511, 2.0994043], 1e-4)


def test_marginal_figures_of_the_lsat_are_those_in_print() -> None:
    found = fit_marginal(lsat6())
    assert found.person_sd is not None
    assert found.person_mean is not None

    close(found.person_sd, 0.7551, 0.00006)
    close(found.loglik, -2466.938, 0.0006)
    printed = [-3.6153, -1.3224, -0.3176, -1.7301, -2.7802]
    close((found.criteria.measure - found.person_mean) / found.person_sd, printed, 0.0001)
