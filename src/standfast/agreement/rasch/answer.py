"""From where a search ended to the answer: names, errors, fit and fair scores put together."""

from __future__ import annotations

import numpy as np

from standfast.agreement.rasch.fitted import Facet, Fitted, Settled, threshold_table
from standfast.agreement.rasch.persons import Fit, fair_scores, fit_of, likeliest, moments
from standfast.agreement.rasch.scores import Arranged, Floats, Whole
from standfast.agreement.rasch.structure import NEVER, Structure
from standfast.problems import Refused

BOUND = 1.959963984540054
"""Standard errors to each side of a 95 % interval."""
FARTHEST = 12.0
"""Logits beyond which nobody is: odds of 160,000 to 1."""
CROWD = "marginal maximum likelihood"


def answer(
    made: Arranged,
    structure: Structure,
    settled: Settled,
    method: str,
    measures: tuple[Floats, Floats] | None = None,
) -> Fitted:
    """The fit in full.  `measures` of persons and their errors, when the method has its own.

    Raises:
        Refused: some figure ran away, since the scores are in perfect order.
    """
    wide = structure.contrast.shape[1]
    named = structure.contrast @ settled.free[:wide]
    variance = structure.contrast @ settled.covariance[:wide, :wide] @ structure.contrast.T
    errors = np.sqrt(np.maximum(np.diag(variance), 0))
    refuse_runaway(made, named, errors)
    weights = structure.weights(settled.free[:wide])
    place, place_se = likeliest(made, structure, weights, measures and measures[0])
    persons, assessors, criteria = fits(made, structure, weights, place)
    place, place_se = measures or (place, place_se)
    split = len(made.assessors)
    end = split + len(made.criteria)
    average = average_assessor(made, named)
    low, middle, high = (
        fair_scores(made, average, structure, place + shift * place_se)
        for shift in (-BOUND, 0, BOUND)
    )
    crowd = settled.free[wide:] if method == CROWD else None
    crowd_se = np.sqrt(np.diag(settled.covariance)[wide:]) if crowd is not None else None
    return Fitted(
        method=method,
        persons=facet(made, "person", made.persons, (place, place_se), persons),
        assessors=facet(
            made, "assessor", made.assessors, (named[:split], errors[:split]), assessors
        ),
        criteria=facet(
            made, "criterion", made.criteria, (named[split:end], errors[split:end]), criteria
        ),
        thresholds=threshold_table(made, named),
        thresholds_se=threshold_table(made, errors),
        loglik=settled.loglik,
        steps=settled.steps,
        extreme=made.persons[made.extreme],
        fair=middle,
        fair_low=low,
        fair_high=high,
        notes=made.notes + words_about_ends(made, method),
        person_mean=None if crowd is None else float(crowd[0]),
        person_sd=None if crowd is None else float(crowd[1]),
        person_mean_se=None if crowd_se is None else float(crowd_se[0]),
        person_sd_se=None if crowd_se is None else float(crowd_se[1]),
    )


def refuse_runaway(made: Arranged, named: Floats, errors: Floats) -> None:
    """Refuse figures on their way to infinity: the search only stopped because it was steep.

    Raises:
        Refused: names them.
    """
    away = (np.abs(named) > FARTHEST) | (errors > FARTHEST)
    if not away.any():
        return
    labels = [made.scores.called("assessor", code) for code in made.assessors]
    labels += [made.scores.called("criterion", code) for code in made.criteria]
    labels += ["the thresholds"] * (len(named) - len(labels))
    who = dict.fromkeys(label for label, gone in zip(labels, away, strict=True) if gone)
    raise Refused(
        "the scores are in so perfect an order that figures have no bound: whoever is ahead is "
        "always ahead; more scores are needed, that also differ by chance",
        [f"without bound: {', '.join(who)}"],
    )


def facet(
    made: Arranged, kind: str, codes: Whole, measures: tuple[Floats, Floats], fit: Fit
) -> Facet:
    """One facet with its names."""
    names = tuple(made.scores.called(kind, code) for code in codes)
    return Facet(codes, names, *measures, fit.n, fit.infit, fit.outfit, fit.infit_z, fit.outfit_z)


def fits(
    made: Arranged, structure: Structure, weights: Floats, place: Floats
) -> tuple[Fit, Fit, Fit]:
    """Fit of persons, assessors and criteria, over persons who are not at an end."""
    used = ~made.extreme[made.person]
    person, cell = made.person[used], made.cell[used]
    score = made.score[used].astype(float)
    found = moments(weights, structure, cell, place[person])
    assessor, criterion = made.cells[cell, 0], made.cells[cell, 1]
    return (
        fit_of(person, len(made.persons), score, found),
        fit_of(assessor, len(made.assessors), score, found),
        fit_of(criterion, len(made.criteria), score, found),
    )


def average_assessor(made: Arranged, named: Floats) -> Floats:
    """Log weights of the scores on each criterion from an assessor of severity 0."""
    difficulty = named[len(made.assessors) : len(made.assessors) + len(made.criteria)]
    table = threshold_table(made, named)
    own = np.broadcast_to(table, (len(difficulty), made.top))
    climbed = np.cumsum(np.nan_to_num(own, nan=0.0) + difficulty[:, None], axis=1)
    weights = np.hstack((np.zeros((len(difficulty), 1)), -climbed))
    beyond = np.arange(made.top + 1) > made.tops[:, None]
    return np.where(beyond, NEVER, weights)


def words_about_ends(made: Arranged, method: str) -> tuple[str, ...]:
    """What was done about persons whose every score is at one end."""
    count = int(made.extreme.sum())
    if not count:
        return ()
    if method == CROWD:
        how = "such measures lean on the crowd"
    else:
        how = (
            "that says nothing about severity; such measures are rough, "
            "taken as if the total were 0.3 points from the end"
        )
    who = "1 person has" if count == 1 else f"{count} persons have"
    return (f"{who} every score at one end: {how}",)
