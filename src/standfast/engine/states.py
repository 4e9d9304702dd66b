"""Evidence held to its standard: met, not met, or not enough seen."""

from __future__ import annotations

from standfast.engine.intervals import cannot_reach, reaches
from standfast.engine.looks import idle_share, low_enough, too_high
from standfast.engine.tallies import Answers, Choices, Incidents, Looks, Marks, Tally
from standfast.model.decision import State
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    ClearanceStandard,
    Criterion,
    IdleStandard,
    IncidentCriterion,
    IncidentStandard,
    RatingCriterion,
    RatingStandard,
    SamplesCriterion,
    ShareStandard,
)


def state_of(criterion: Criterion, tally: Tally) -> State:
    """What the tally says of the criterion.

    The tally is of the criterion's own kind; nothing seen is always `open`.
    """
    if isinstance(criterion, AttemptsCriterion) and isinstance(tally, Answers):
        return _attempts_state(criterion.standard, tally)
    if isinstance(criterion, ClearancesCriterion) and isinstance(tally, Choices):
        return _clearances_state(criterion.standard, tally)
    if isinstance(criterion, SamplesCriterion) and isinstance(tally, Looks):
        return _samples_state(criterion.standard, tally)
    if isinstance(criterion, RatingCriterion) and isinstance(tally, Marks):
        return _rating_state(criterion.standard, tally)
    if isinstance(criterion, IncidentCriterion) and isinstance(tally, Incidents):
        return _incident_state(criterion.standard, tally)
    raise mismatch(criterion, tally)


def mismatch(criterion: Criterion, tally: Tally) -> TypeError:
    """A tally of another kind than its criterion: a slip of the caller."""
    return TypeError(
        f"{criterion.id} is of kind {criterion.kind}, its tally {type(tally).__name__}"
    )


def _attempts_state(standard: ShareStandard, tally: Answers) -> State:
    x, n = tally.yes, tally.seen
    if standard.lapses is not None and tally.no > standard.lapses:
        return "not met"
    if cannot_reach(x, n, standard.share, standard.assurance, standard.method):
        return "not met"
    if n < standard.least:
        return "open"
    enough = reaches(x, n, standard.share, standard.assurance, standard.method)
    return "met" if enough else "open"


def _clearances_state(standard: ClearanceStandard, tally: Choices) -> State:
    x, n = tally.right, tally.seen
    if tally.false_clear > standard.false_clearances:
        return "not met"
    if cannot_reach(x, n, standard.accuracy, standard.assurance, standard.method):
        return "not met"
    if n < standard.least:
        return "open"
    enough = reaches(x, n, standard.accuracy, standard.assurance, standard.method)
    return "met" if enough else "open"


def _samples_state(standard: IdleStandard, tally: Looks) -> State:
    if not tally.seen:
        return "open"
    idle = idle_share(tally, standard.assurance)
    if too_high(idle.low, standard):
        return "not met"
    enough = tally.seen >= standard.least and low_enough(idle.high, standard)
    return "met" if enough else "open"


def _rating_state(standard: RatingStandard, tally: Marks) -> State:
    if not tally.practicals:
        return "open"
    if tally.lowest < standard.floor or tally.middle < standard.least:
        return "not met"
    return "met"


def _incident_state(standard: IncidentStandard, tally: Incidents) -> State:
    if not tally.practicals:
        return "open"
    limit = 0 if standard.effect == "stops" else standard.limit
    return "met" if tally.happened <= limit else "not met"
