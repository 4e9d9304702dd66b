"""Intraclass correlations against printed and recomputed values.

The printed values (two or three digits) were recalled from memory unless a line says otherwise,
and then reproduced by the libraries named; the longer values are those libraries'.
"""

from __future__ import annotations

import pytest

from standfast.agreement.icc import (
    MCGRAW_WONG,
    agreement_df,
    agreement_interval,
    agreement_of_means_interval,
    icc_unbalanced,
    intraclass_correlations,
)
from standfast.agreement.squares import mean_squares

Scores = list[list[int]]
Row = tuple[float, float, int, int, float, float, float]
TOLERANCE = 1e-6

# Shrout PE, Fleiss JL (1979), Psychological Bulletin 86, 420-428, tables 2-4: 6 targets x 4 judges.
# Values: R psych 2.2.9 ICC(lmer=FALSE), R irr 0.84.1, pingouin 0.6.1; print from memory.
SHROUT_FLEISS_1979: Scores = [
    [9, 2, 5, 8],
    [6, 1, 3, 2],
    [8, 4, 6, 8],
    [7, 1, 2, 6],
    [10, 5, 6, 9],
    [6, 2, 4, 7],
]
SHROUT_FLEISS_1979_FORMS: dict[str, Row] = {
    "ICC(1,1)": (
        0.165741768405,
        1.79467849224,
        5,
        18,
        0.164768808345,
        -0.132932324875,
        0.722560062328,
    ),
    "ICC(2,1)": (
        0.289763779528,
        11.0272479564,
        5,
        15,
        0.000134566516484,
        0.0187865133747,
        0.761084369649,
    ),
    "ICC(3,1)": (
        0.714840714841,
        11.0272479564,
        5,
        15,
        0.000134566516484,
        0.342464765034,
        0.945858259955,
    ),
    "ICC(1,k)": (
        0.442797133679,
        1.79467849224,
        5,
        18,
        0.164768808345,
        -0.884442155238,
        0.912415420341,
    ),
    "ICC(2,k)": (
        0.620050547599,
        11.0272479564,
        5,
        15,
        0.000134566516484,
        0.0711368153025,
        0.927232040168,
    ),
    "ICC(3,k)": (
        0.909315542377,
        11.0272479564,
        5,
        15,
        0.000134566516484,
        0.675674713816,
        0.985891678169,
    ),
}
SHROUT_FLEISS_1979_MS = (11.2416666667, 32.4861111111, 1.01944444444, 6.26388888889)
# McGraw & Wong's own interval of ICC(A,k), and the degrees of freedom behind ICC(A,1): R irr.
SHROUT_FLEISS_1979_AGREEMENT = (0.0394401799214, 0.928573183377, 4.78514386221)

# The anxiety ratings of R irr 0.84.1, 20 subjects x 3 raters; ICC(A,1) = 0.198 in its help, from
# memory.  Values as above.
ANXIETY: Scores = [
    [3, 3, 2],
    [3, 6, 1],
    [3, 4, 4],
    [4, 6, 4],
    [5, 2, 3],
    [5, 4, 2],
    [2, 2, 1],
    [3, 4, 6],
    [5, 3, 1],
    [2, 3, 1],
    [2, 2, 1],
    [6, 3, 2],
    [1, 3, 3],
    [5, 3, 3],
    [2, 2, 1],
    [2, 2, 1],
    [1, 1, 3],
    [2, 3, 3],
    [4, 3, 2],
    [3, 4, 2],
]
ANXIETY_FORMS: dict[str, Row] = {
    "ICC(1,1)": (
        0.175022381379,
        1.63646228974,
        19,
        40,
        0.0939307271289,
        -0.0774465748655,
        0.484336093819,
    ),
    "ICC(2,1)": (
        0.197998259356,
        1.82677165354,
        19,
        38,
        0.0562012735475,
        -0.0389106260932,
        0.493573945972,
    ),
    "ICC(3,1)": (
        0.216049382716,
        1.82677165354,
        19,
        38,
        0.0562012735475,
        -0.0462578853236,
        0.522259078396,
    ),
    "ICC(1,k)": (
        0.388925729443,
        1.63646228974,
        19,
        40,
        0.0939307271289,
        -0.274923489879,
        0.73806512358,
    ),
    "ICC(2,k)": (
        0.425498753117,
        1.82677165354,
        19,
        38,
        0.0562012735475,
        -0.126582702709,
        0.745149288545,
    ),
    "ICC(3,k)": (
        0.452586206897,
        1.82677165354,
        19,
        38,
        0.0562012735475,
        -0.152921286654,
        0.766330800234,
    ),
}
ANXIETY_MS = (2.64561403509, 4.81666666667, 1.44824561404, 1.61666666667)
# McGraw & Wong's own interval of ICC(A,k), and the degrees of freedom behind ICC(A,1): R irr.
ANXIETY_AGREEMENT = (-0.137308090502, 0.746325723571, 39.7460409208)

# Davies OL, Goldsmith PL (1972), Statistical Methods in Research and Production: the assay of
# penicillin, 24 plates x 6 samples, as R lme4 1.1-31 has it.  Values as above; nothing printed.
PENICILLIN: Scores = [
    [27, 23, 26, 23, 23, 21],
    [27, 23, 26, 23, 23, 21],
    [25, 21, 25, 24, 24, 20],
    [26, 23, 25, 23, 23, 20],
    [25, 22, 26, 22, 23, 20],
    [24, 22, 25, 23, 22, 19],
    [24, 20, 23, 21, 22, 19],
    [26, 22, 26, 24, 24, 21],
    [24, 21, 24, 22, 22, 20],
    [24, 21, 24, 23, 22, 19],
    [26, 23, 26, 24, 24, 21],
    [25, 22, 26, 24, 24, 20],
    [26, 24, 26, 24, 25, 22],
    [26, 23, 26, 23, 23, 20],
    [26, 23, 25, 24, 24, 22],
    [25, 22, 25, 23, 23, 20],
    [25, 21, 24, 23, 23, 20],
    [25, 22, 24, 23, 23, 19],
    [24, 21, 23, 21, 21, 19],
    [26, 23, 26, 24, 24, 21],
    [25, 21, 24, 22, 22, 18],
    [25, 22, 25, 22, 22, 20],
    [24, 21, 24, 22, 24, 19],
    [24, 21, 24, 22, 21, 18],
]
PENICILLIN_FORMS: dict[str, Row] = {
    "ICC(1,1)": (
        0.0230326669917,
        1.14145406636,
        23,
        120,
        0.312718896934,
        -0.0631993310268,
        0.181473791156,
    ),
    "ICC(2,1)": (
        0.150920370182,
        15.2236421725,
        23,
        115,
        4.62802259426e-25,
        0.0276900724682,
        0.353672034792,
    ),
    "ICC(3,1)": (
        0.703317535545,
        15.2236421725,
        23,
        115,
        4.62802259426e-25,
        0.557364284536,
        0.833913741082,
    ),
    "ICC(1,k)": (
        0.123924449108,
        1.14145406636,
        23,
        120,
        0.312718896934,
        -0.554377385735,
        0.570861103531,
    ),
    "ICC(2,k)": (
        0.516084159277,
        15.2236421725,
        23,
        115,
        4.62802259426e-25,
        0.14593559834,
        0.766530391786,
    ),
    "ICC(3,k)": (
        0.934312696747,
        15.2236421725,
        23,
        115,
        4.62802259426e-25,
        0.883111542358,
        0.967872318102,
    ),
}
PENICILLIN_MS = (4.6038647343, 89.8444444444, 0.302415458937, 4.03333333333)
# McGraw & Wong's own interval of ICC(A,k), and the degrees of freedom behind ICC(A,1): R irr.
PENICILLIN_AGREEMENT = (0.12683628072, 0.771975952974, 6.64218565603)

# Eight wines x 4 judges, the "icc" data of pingouin 0.6.1; its documentation prints the values
# 0.728 and 0.915 and intervals to two digits.
WINE: Scores = [
    [1, 2, 0, 1],
    [1, 3, 3, 2],
    [3, 8, 1, 4],
    [6, 4, 3, 3],
    [6, 5, 5, 6],
    [7, 5, 6, 2],
    [8, 7, 7, 9],
    [9, 9, 9, 8],
]
WINE_FORMS: dict[str, tuple[float, float, int, int, float, float]] = {
    "ICC(1,1)": (0.727520915896, 11.6800258565, 7, 24, 0.43, 0.93),
    "ICC(2,1)": (0.727688787185, 11.7866927593, 7, 21, 0.43, 0.93),
    "ICC(3,1)": (0.729486500794, 11.7866927593, 7, 21, 0.43, 0.93),
    "ICC(1,k)": (0.914383751176, 11.6800258565, 7, 24, 0.75, 0.98),
    "ICC(2,k)": (0.914450035945, 11.7866927593, 7, 21, 0.75, 0.98),
    "ICC(3,k)": (0.915158558858, 11.7866927593, 7, 21, 0.75, 0.98),
}

# Randall JH (1989), Biometrical Journal 31: bitterness 1-5 of 8 bottles by 9 judges, as R ordinal
# has it.  Values: pingouin; to 1e-5.
BITTERNESS: Scores = [
    [2, 1, 2, 3, 2, 3, 1, 2, 1],
    [3, 2, 3, 2, 3, 2, 1, 2, 2],
    [3, 1, 3, 3, 4, 3, 2, 2, 3],
    [4, 3, 2, 2, 3, 2, 2, 3, 2],
    [4, 2, 5, 3, 3, 2, 2, 3, 3],
    [4, 3, 5, 2, 3, 4, 3, 3, 2],
    [5, 5, 4, 5, 3, 5, 2, 3, 4],
    [5, 4, 4, 3, 3, 4, 3, 4, 4],
]
BITTERNESS_ICC = {
    "ICC(1,1)": 0.377298639206,
    "ICC(2,1)": 0.38845997562,
    "ICC(3,1)": 0.463178294574,
    "ICC(1,k)": 0.845037067545,
    "ICC(2,k)": 0.851122761895,
    "ICC(3,k)": 0.885914332784,
}


EXAMPLES = [
    pytest.param(
        SHROUT_FLEISS_1979,
        SHROUT_FLEISS_1979_FORMS,
        SHROUT_FLEISS_1979_MS,
        SHROUT_FLEISS_1979_AGREEMENT,
        id="ICC-SF79",
    ),
    pytest.param(ANXIETY, ANXIETY_FORMS, ANXIETY_MS, ANXIETY_AGREEMENT, id="ICC-ANXIETY"),
    pytest.param(
        PENICILLIN, PENICILLIN_FORMS, PENICILLIN_MS, PENICILLIN_AGREEMENT, id="ICC-PENICILLIN"
    ),
]


@pytest.mark.parametrize(("scores", "forms", "squares", "agreement"), EXAMPLES)
def test_all_six_forms_with_test_and_interval(
    scores: Scores, forms: dict[str, Row], squares: tuple[float, ...], agreement: tuple[float, ...]
) -> None:
    found = intraclass_correlations(scores)

    assert list(found) == list(MCGRAW_WONG)
    for name, row in forms.items():
        icc = found[name]
        value = icc.estimate
        got = (value.value, icc.f, icc.df1, icc.df2, icc.p, value.low, value.high)

        assert got == pytest.approx(row, rel=TOLERANCE, abs=1e-9)
        assert icc.also_called == MCGRAW_WONG[name]


@pytest.mark.parametrize(("scores", "forms", "squares", "agreement"), EXAMPLES)
def test_mean_squares_and_the_intervals_of_agreement(
    scores: Scores, forms: dict[str, Row], squares: tuple[float, ...], agreement: tuple[float, ...]
) -> None:
    ms = mean_squares(scores)

    assert (ms.subjects, ms.raters, ms.error, ms.within) == pytest.approx(squares, rel=TOLERANCE)
    low, high, df = agreement
    assert agreement_of_means_interval(ms) == pytest.approx((low, high), abs=TOLERANCE)
    assert agreement_df(ms) == pytest.approx(df, rel=TOLERANCE)
    assert agreement_interval(ms) == pytest.approx(forms["ICC(2,1)"][-2:], abs=TOLERANCE)


def test_the_printed_digits_of_shrout_and_fleiss() -> None:
    found = {
        name: round(icc.estimate.value, 2)
        for name, icc in intraclass_correlations(SHROUT_FLEISS_1979).items()
    }

    assert found == {
        "ICC(1,1)": 0.17,
        "ICC(2,1)": 0.29,
        "ICC(3,1)": 0.71,
        "ICC(1,k)": 0.44,
        "ICC(2,k)": 0.62,
        "ICC(3,k)": 0.91,
    }


def test_wine_by_four_judges() -> None:
    found = intraclass_correlations(WINE)

    for name, (value, f, df1, df2, low, high) in WINE_FORMS.items():
        icc = found[name]
        assert (icc.estimate.value, icc.f) == pytest.approx((value, f), rel=TOLERANCE)
        assert (icc.df1, icc.df2) == (df1, df2)
        assert (icc.estimate.low, icc.estimate.high) == pytest.approx((low, high), abs=0.005)


def test_bitterness_by_nine_judges() -> None:
    found = {name: icc.estimate.value for name, icc in intraclass_correlations(BITTERNESS).items()}

    assert found == pytest.approx(BITTERNESS_ICC, abs=1e-5)


@pytest.mark.parametrize(("scores", "forms", "squares", "agreement"), EXAMPLES)
def test_the_unbalanced_form_gives_the_same_when_numbers_are_equal(
    scores: Scores, forms: dict[str, Row], squares: tuple[float, ...], agreement: tuple[float, ...]
) -> None:
    subject = [row for row, marks in enumerate(scores) for _ in marks]
    icc = icc_unbalanced(subject, [mark for marks in scores for mark in marks])
    value = icc.estimate
    got = (value.value, icc.f, icc.df1, icc.df2, icc.p, value.low, value.high)

    assert got == pytest.approx(forms["ICC(1,1)"], rel=TOLERANCE)
