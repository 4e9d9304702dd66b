"""Agreement figures beside the libraries that have them, on the same numbers in the same run.

Each row is the library's time over ours, medians of rounds in which both are done in turn, with
one thread for matrix products.  A library that is not there gives a row without a ratio, and fails.
"""

from __future__ import annotations

import importlib
import math
import os
import warnings
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # counts only when NumPy was not loaded before

import numpy as np  # noqa: E402 - after the number of threads
from numpy.typing import NDArray  # noqa: E402
from tests.bench.measured import Row, in_turn, seconds  # noqa: E402

from standfast.agreement.alpha import krippendorff_alpha  # noqa: E402
from standfast.agreement.bootstrap import DRAWS, bootstrapped, bootstrapped_alpha  # noqa: E402
from standfast.agreement.coefficients import FLEISS, fleiss_kappa  # noqa: E402
from standfast.agreement.icc import intraclass_correlations  # noqa: E402
from standfast.agreement.ratings import Ratings  # noqa: E402
from standfast.agreement.scores import scores_of  # noqa: E402
from standfast.agreement.tables import kappa_of_table, square_table  # noqa: E402
from standfast.agreement.weights import weights_for  # noqa: E402
from standfast.desk.comparing import compare  # noqa: E402
from standfast.desk.marks import Marks  # noqa: E402

Floats = NDArray[np.float64]
Figure = Callable[[], float]

ROUNDS = 7
SIZE = 1_000_000
SAME = 1e-9
"""How far two figures of the same numbers may lie apart."""
LESSONS, ASSESSORS, CRITERIA = 10_000, 200, 12


def rows() -> Iterator[Row]:
    """Every ratio."""
    yield from alphas()
    yield kappa()
    yield fleiss()
    yield icc()
    yield from bootstraps()
    yield from comparisons()


def marks(subjects: int, assessors: int, *, gaps: float = 0.0, levels: int = 5) -> Floats:
    """Seeded levels from 1 up that mostly agree; NaN for a gap."""
    random = np.random.default_rng(1)
    truth = random.normal(levels / 2 + 0.5, 1.1, (subjects, 1))
    table = np.clip(np.rint(truth + random.normal(0, 0.7, (subjects, assessors))), 1, levels)
    table[random.random(table.shape) < gaps] = np.nan
    return np.asarray(table, dtype=np.float64)


def beside(what: str, detail: str, least: float, ours: Figure, theirs: Figure) -> Row:
    """The library's time over ours; no ratio where the two do not give the same."""
    try:
        mine, other = ours(), theirs()
    except ImportError as missing:
        return Row(what, math.nan, None, f"not there: {missing.name}", least)
    if abs(mine - other) > SAME:
        return Row(what, math.nan, None, f"{mine} is not {other}", least)
    our_time, their_time = in_turn((ours, theirs), ROUNDS)
    return Row(what, their_time / our_time, None, detail, least)


def alphas() -> Iterator[Row]:
    """Lessons that ten could score with a fifth missing; and two of four assessors for each."""
    for metric in ("nominal", "ordinal", "interval"):
        yield alpha(metric, marks(SIZE // 8, 10, gaps=0.2), "1 in 5 missing")
    yield alpha("interval", marks(SIZE // 2, 4, gaps=0.5), "half missing")
    yield alpha("ordinal", marks(SIZE // 2, 2), "none missing")
    yield alpha("nominal", marks(SIZE // 8, 10, gaps=0.2, levels=2), "yes or no, 1 in 5 missing")


def alpha(metric: str, table: Floats, gaps: str) -> Row:
    """The library takes observers in rows, so it is given them as it likes them."""
    turned = np.ascontiguousarray(table.T)

    def theirs() -> float:
        of: Any = importlib.import_module("krippendorff")
        return float(of.alpha(turned, level_of_measurement=metric))

    def ours() -> float:
        return krippendorff_alpha(table, metric).value

    count = int((~np.isnan(table)).sum())
    shape = f"{len(table):,} subjects x {table.shape[1]}, {gaps}: {count:,} marks"
    return beside(f"krippendorff / alpha, {metric}", shape, 5, ours, theirs)


def kappa() -> Row:
    """From two lists of a million marks, with the table of both, to kappa and its error."""
    table = marks(SIZE, 2)
    whole = table.astype(np.int64)

    def theirs() -> float:
        of: Any = importlib.import_module("statsmodels.stats.inter_rater")
        return float(of.cohens_kappa(of.to_table(whole)[0], wt="quadratic").kappa)

    def ours() -> float:
        scores = scores_of(table)
        weights = weights_for("quadratic", scores.categories)
        return kappa_of_table(square_table(scores), weights).kappa.value

    detail = f"{len(table):,} subjects x 2; to_table and cohens_kappa"
    return beside("statsmodels / quadratic kappa", detail, 5, ours, theirs)


def fleiss() -> Row:
    """From subjects x assessors; ours gives the error too."""
    table = marks(SIZE // 5, 5)
    whole = table.astype(np.int64)

    def theirs() -> float:
        of: Any = importlib.import_module("statsmodels.stats.inter_rater")
        return float(of.fleiss_kappa(of.aggregate_raters(whole)[0]))

    def ours() -> float:
        return fleiss_kappa(scores_of(table)).value

    detail = f"{len(table):,} subjects x 5; aggregate_raters and fleiss_kappa"
    return beside("statsmodels / Fleiss' kappa", detail, 10, ours, theirs)


def icc() -> Row:
    """All six forms with intervals; the library gives six too, and is handed a ready frame."""
    random = np.random.default_rng(2)
    table = random.normal(size=(20_000, 1)) + random.normal(size=(20_000, 5))
    subject, rater = np.indices(table.shape)

    def theirs() -> float:
        pandas, of = map(importlib.import_module, ("pandas", "pingouin"))
        columns = {"s": subject.ravel(), "r": rater.ravel(), "y": table.ravel()}
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # it asks pandas in an older way
            frame = pandas.DataFrame(columns)
            found = of.intraclass_corr(frame, targets="s", raters="r", ratings="y")
        return float(found.set_index("Type").loc["ICC(A,1)", "ICC"])

    def ours() -> float:
        return intraclass_correlations(table)["ICC(2,1)"].estimate.value

    return beside("pingouin / six ICCs", "20,000 subjects x 5 raters", 1_000, ours, theirs)


def bootstraps() -> Iterator[Row]:
    """2,000 draws over 10,000 subjects against drawing them and one product, nothing else."""
    table = marks(10_000, 4, gaps=0.2)
    scores = scores_of(table)
    parts = np.random.default_rng(3).normal(size=(10_000, 5 * 5))

    def floor() -> object:
        random = np.random.default_rng(4)
        return [times(random, 200) @ parts for _ in range(DRAWS // 200)]

    did = in_turn(
        (
            floor,
            lambda: bootstrapped(FLEISS, scores, seed=1),
            lambda: bootstrapped_alpha(table, "interval", seed=1),
            lambda: bootstrapped_alpha(table, "ordinal", seed=1),
        ),
        3,
    )
    for name, took in zip(("Fleiss", "alpha, interval", "alpha, ordinal"), did[1:], strict=True):
        what = f"bootstrap of {name} / draws and one product"
        yield Row(what, took / did[0], 2.5, f"{DRAWS:,} draws of 10,000 subjects")


def times(random: np.random.Generator, draws: int) -> Floats:
    """How often each of 10,000 subjects comes up in each draw."""
    drawn = random.integers(10_000, size=(draws, 10_000))
    return np.array([np.bincount(one, minlength=10_000) for one in drawn], dtype=np.float64)


def comparisons() -> Iterator[Row]:
    """How the time of `compare` grows with the book, from 10,000 to a million marks."""
    compare(book(1_000))  # what is loaded at first use
    sizes = (SIZE // 100, SIZE // 10, SIZE)
    books = [book(size) for size in sizes]
    took = [min(seconds(lambda of=of: compare(of)) for _ in range(2)) for of in books]  # type: ignore[misc] # bound at once
    for low, high, most in ((0, 1, None), (1, 2, None), (0, 2, 1.1)):
        grown = math.log(len(books[high].ratings) / len(books[low].ratings))
        slope = math.log(took[high] / took[low]) / grown
        detail = f"{len(books[low].ratings):,} to {len(books[high].ratings):,} marks"
        yield Row("compare: log time / log marks", slope, most, detail)


def book(size: int) -> Marks:
    """Marks of two assessors a lesson, 12 criteria, four students in each; three years of days."""
    random = np.random.default_rng(7)
    each, lessons = 4, max(1, size * LESSONS // SIZE)
    shape = np.indices((lessons, 2, CRITERIA, each), dtype=np.int64)
    lesson, side, criterion, student = (of.ravel() for of in shape)
    first = random.integers(ASSESSORS, size=lessons)
    second = (first + random.integers(1, ASSESSORS, size=lessons)) % ASSESSORS
    assessor = np.where(side == 0, first[lesson], second[lesson])
    subject = lesson * each + student
    place = random.normal(2.5, 1.0, (lessons * each, CRITERIA))[subject, criterion]
    severity = random.normal(0, 0.3, ASSESSORS)[assessor]
    score = np.clip(np.rint(place - severity + random.normal(0, 0.6, len(place))), 0, 4)
    days = [str(date(2023, 1, 1) + timedelta(days=day)) for day in range(3 * 365)]
    occasion = np.sort(random.integers(len(days), size=lessons))[lesson]
    names = [
        tuple(f"{word} {number}" for number in range(count))
        for word, count in (("a", ASSESSORS), ("c", CRITERIA), ("s", lessons * each))
    ]
    ratings = Ratings(
        *(subject, assessor, criterion, occasion, lesson, score),
        *(names[0], names[1], tuple(days), names[2]),
    )
    lesson_names = [f"lesson {number}" for number in range(lessons)]
    better = np.ones(CRITERIA, dtype=np.bool_)
    shown = {name: name for name in names[0]}
    return Marks(
        ratings=ratings,
        within=np.zeros(CRITERIA),
        better=better,
        names=shown,
        lessons=lesson_names,
        source="a made book",
        kinds=["rating"] * CRITERIA,
        scale=np.tile([0.0, 4.0], (CRITERIA, 1)),
    )
