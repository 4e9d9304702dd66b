"""What severity costs: the many-facet fit of a million scores beside one pass of all chances."""

from __future__ import annotations

import math
import statistics
import subprocess
import sys
from collections.abc import Iterator

import numpy as np
from tests.bench.measured import Row, seconds

from standfast.agreement.rasch.joint import fit_joint
from standfast.agreement.rasch.marginal import fit_marginal, search
from standfast.agreement.rasch.scores import Scored, arranged
from standfast.agreement.rasch.structure import structure_of

ASSESSORS, CRITERIA, EACH = 200, 12, 100
SIZES = (1_000, 10_000)
"""Persons, each with about a hundred scores by nine assessors on twelve criteria."""


def rows() -> Iterator[Row]:
    """Search and whole answer against the pass, how time grows, and memory in a fresh process."""
    scores = [made(persons) for persons in SIZES]
    took = [seconds(lambda of=of: found(of)) for of in scores]  # type: ignore[misc] # bound at once
    whole = [seconds(lambda of=of: fit_marginal(of)) for of in scores]  # type: ignore[misc] # likewise
    once = statistics.median(seconds(lambda: one_pass(scores[1])) for _ in range(5))
    arranging = statistics.median(seconds(lambda: prepared(scores[1])) for _ in range(3))
    count = len(scores[1].score)
    detail = f"{count:,} scores of {SIZES[1]:,} persons, {ASSESSORS} assessors, {CRITERIA} criteria"
    searching = (took[1] - arranging) / once
    yield Row("marginal Rasch, figures / one pass of chances", searching, 15, detail)
    yield Row("marginal Rasch, with errors, fit, measures / pass", whole[1] / once, None, detail)
    joint = seconds(lambda: fit_joint(scores[1])) / once
    yield Row("joint Rasch, whole answer / one pass", joint, None, detail)
    grown = math.log(count / len(scores[0].score))
    slope = math.log(whole[1] / whole[0]) / grown
    yield Row("marginal Rasch: log time / log scores", slope, 1.05, "98,000 to 980,000 scores")
    yield Row("marginal Rasch, memory in GB", memory(), 1, "a fresh process, all in")


def made(persons: int) -> Scored:
    """Scores of a known truth, each person seen by nine assessors."""
    random = np.random.default_rng(1)
    place = random.normal(0.5, 1.2, persons)
    severity, difficulty = random.normal(0, 0.5, ASSESSORS), np.linspace(-1, 1, CRITERIA)
    thresholds = np.array([-1.5, -0.5, 0.5, 1.5])
    nth = np.tile(np.arange(EACH), persons)
    person = np.repeat(np.arange(persons), EACH)
    assessor = random.integers(ASSESSORS, size=(persons, 9))[person, nth // CRITERIA]
    key = np.unique((person * ASSESSORS + assessor) * CRITERIA + nth % CRITERIA)
    person, rest = np.divmod(key, ASSESSORS * CRITERIA)
    assessor, criterion = np.divmod(rest, CRITERIA)
    line = place[person] - severity[assessor] - difficulty[criterion]
    weight = np.exp(np.cumsum(line[:, None] - thresholds, axis=1))
    upper = np.cumsum(np.column_stack((np.ones(len(line)), weight)), axis=1)
    drawn = random.random(len(line)) * upper[:, -1]
    return Scored(person, assessor, criterion, (drawn[:, None] > upper).sum(axis=1))


def one_pass(scores: Scored) -> object:
    """The chance of every score of every rating, once, from a line that is there already."""
    line = np.zeros((len(scores.score), 4))
    eta = np.column_stack((np.zeros(len(line)), np.cumsum(line, axis=1)))
    raised = np.exp(eta - eta.max(axis=1, keepdims=True))
    return raised / raised.sum(axis=1, keepdims=True)


def prepared(scores: Scored) -> object:
    """Checking and arranging, which is no part of the fit."""
    ready = arranged(scores, "common", extreme_persons_count=True)
    return structure_of(ready, np.arange(len(ready.score)))


def found(scores: Scored) -> object:
    """The figures, without errors and fit."""
    ready = arranged(scores, "common", extreme_persons_count=True)
    return search(ready, structure_of(ready, np.arange(len(ready.score))))


def memory() -> float:
    """Gigabytes at the most of a process that makes the scores and fits them."""
    code = (
        "from tests.bench import severity as s; from tests.bench.measured import most_memory;"
        "s.fit_marginal(s.made(s.SIZES[1])); print(most_memory())"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(done.stdout) / 1024
