"""Newcombe's table of interval methods for one proportion.

Source: Newcombe RG (1998), Two-sided confidence intervals for the single proportion, Statistics
in Medicine 17, 857-872, table I.  The printed limits (four digits) were recalled from memory and
then reproduced by statsmodels 0.15 and R 4.2.2; the longer values are those libraries'.
"""

from __future__ import annotations

import pytest

from standfast.engine.intervals import lower_bound, upper_bound
from standfast.model.rubric import Method

Limits = tuple[float, float]
TWO_SIDED_95 = 0.975

# From memory: (successes, n) to the limits as printed.
TABLE_I: dict[tuple[int, int], dict[Method, Limits]] = {
    (81, 263): {"wilson": (0.2553, 0.3662), "clopper-pearson": (0.2527, 0.3676)},
    (15, 148): {"wilson": (0.0624, 0.1605), "clopper-pearson": (0.0578, 0.1617)},
    (0, 20): {"wilson": (0.0, 0.1611), "clopper-pearson": (0.0, 0.1684)},
    (1, 29): {"wilson": (0.0061, 0.1718), "clopper-pearson": (0.0009, 0.1776)},
}

# statsmodels 0.15.0 and R 4.2.2; Jeffreys end-adjusted after Brown, Cai & DasGupta (2001).
COMPUTED: dict[tuple[int, int], dict[Method, Limits]] = {
    (81, 263): {
        "wilson": (0.255288519878, 0.366209576983),
        "clopper-pearson": (0.252736745585, 0.367621922601),
        "jeffreys": (0.254521934991, 0.365647499174),
    },
    (15, 148): {
        "wilson": (0.0623863995307, 0.160487241723),
        "clopper-pearson": (0.0578440100834, 0.161650490349),
        "jeffreys": (0.0604485170093, 0.157643143479),
    },
    (0, 20): {
        "wilson": (0.0, 0.161125158053),
        "clopper-pearson": (0.0, 0.168433470983),
        "jeffreys": (0.0, 0.116638982905),
    },
    (1, 29): {
        "wilson": (0.00611321429276, 0.171755218793),
        "clopper-pearson": (0.00087264688358, 0.177644295489),
        "jeffreys": (0.00374617364906, 0.150077686002),
    },
    (29, 29): {
        "wilson": (0.8830302015, 1.0),
        "clopper-pearson": (0.88055513093, 1.0),
        "jeffreys": (0.917713517076, 1.0),
    },
    (7, 12): {
        "wilson": (0.31951131255, 0.806739686341),
        "clopper-pearson": (0.276669685682, 0.848347770192),
        "jeffreys": (0.31194042504, 0.81952130521),
    },
}

# The same libraries at two-sided 90 % and 99 %.
OTHER_LEVELS: dict[tuple[int, int, float], dict[Method, Limits]] = {
    (81, 263, 0.95): {
        "wilson": (0.263313617188, 0.356566349608),
        "clopper-pearson": (0.261055746009, 0.358178495576),
    },
    (81, 263, 0.995): {
        "wilson": (0.240136902688, 0.385282502318),
        "clopper-pearson": (0.236837358166, 0.38625832567),
    },
    (0, 20, 0.95): {
        "wilson": (0.0, 0.119157837361),
        "clopper-pearson": (0.0, 0.139108340668),
    },
    (1, 29, 0.995): {
        "wilson": (0.00406149419688, 0.238254253136),
        "clopper-pearson": (0.000172831332722, 0.229600306575),
    },
    (29, 29, 0.995): {
        "wilson": (0.813809012123, 1.0),
        "clopper-pearson": (0.833017524812, 1.0),
    },
    (7, 12, 0.95): {
        "wilson": (0.355981014901, 0.780022119308),
        "clopper-pearson": (0.315237790724, 0.818975242758),
    },
}


def _limits(x: int, n: int, assurance: float, method: Method) -> Limits:
    return lower_bound(x, n, assurance, method), upper_bound(x, n, assurance, method)


@pytest.mark.parametrize(
    ("x", "n", "method", "printed"),
    [
        pytest.param(x, n, method, limits, id=f"{x} of {n}, {method}")
        for (x, n), row in TABLE_I.items()
        for method, limits in row.items()
    ],
)
def test_limits_round_to_the_printed_digits(
    x: int, n: int, method: Method, printed: Limits
) -> None:
    low, high = _limits(x, n, TWO_SIDED_95, method)

    assert (round(low, 4), round(high, 4)) == printed


@pytest.mark.parametrize(
    ("x", "n", "assurance", "method", "computed"),
    [
        pytest.param(x, n, a, method, limits, id=f"{x} of {n} at {a}, {method}")
        for (x, n, a), row in [
            *(((x, n, TWO_SIDED_95), row) for (x, n), row in COMPUTED.items()),
            *OTHER_LEVELS.items(),
        ]
        for method, limits in row.items()
    ],
)
def test_limits_equal_those_of_two_libraries(
    x: int, n: int, assurance: float, method: Method, computed: Limits
) -> None:
    assert _limits(x, n, assurance, method) == pytest.approx(computed, abs=1e-9)
