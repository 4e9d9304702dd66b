"""Decisions near the line: single marks that, answered otherwise, would have changed them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from standfast.engine.rules import States, outcome
from standfast.engine.states import state_of
from standfast.engine.tallies import Answers, Choices, Incidents, Looks, Marks, Tally
from standfast.model.decision import OUTCOME_WORDS, Outcome, State
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Criterion,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
)

Variation = tuple[str, Tally]


def near(
    rubric: Rubric, tallies: Mapping[str, Tally], states: States, *, sufficient: bool
) -> tuple[str, ...]:
    """What one mark more or less would have made of the decision, where it changes it.

    An incident or a false clearance that nobody saw is no mark answered otherwise: where none is
    allowed and none was seen, the one that did not happen is not listed.
    """
    now = outcome(rubric, states, sufficient=sufficient)
    found: dict[str, None] = {}
    for criterion in rubric.criteria():
        known: dict[State, Outcome] = {states[criterion.id]: now}
        for words, tally in _variations(criterion, tallies[criterion.id]):
            state = state_of(criterion, tally)
            if state not in known:
                changed = {**states, criterion.id: state}
                known[state] = outcome(rubric, changed, sufficient=sufficient)
            if known[state] != now:
                found[f"{words} '{criterion.title}': {OUTCOME_WORDS[known[state]]}"] = None
    return tuple(found)


def _variations(criterion: Criterion, tally: Tally) -> Iterator[Variation]:
    if isinstance(tally, Answers) and isinstance(criterion, AttemptsCriterion):
        yield from _of_answers(tally)
    elif isinstance(tally, Choices) and isinstance(criterion, ClearancesCriterion):
        yield from _of_choices(tally, criterion.standard.false_clearances)
    elif isinstance(tally, Looks):
        yield from _of_looks(tally)
    elif isinstance(tally, Marks) and isinstance(criterion, RatingCriterion):
        yield from _of_marks(tally, {level.level for level in criterion.levels})
    elif isinstance(tally, Incidents) and isinstance(criterion, IncidentCriterion):
        yield from _of_incidents(tally)


def _of_answers(tally: Answers) -> Iterator[Variation]:
    if tally.yes:
        yield "one more lapse in", replace(tally, yes=tally.yes - 1, no=tally.no + 1)
    if tally.no:
        yield "one lapse fewer in", replace(tally, yes=tally.yes + 1, no=tally.no - 1)


def _of_choices(tally: Choices, allowed: int) -> Iterator[Variation]:
    right, clear, hold = tally.right, tally.false_clear, tally.false_hold
    if right:
        yield "one more false hold in", replace(tally, right=right - 1, false_hold=hold + 1)
    if right and (allowed or clear):
        yield (
            "one more false clearance in",
            replace(tally, right=right - 1, false_clear=clear + 1),
        )
    if hold:
        yield "one false hold fewer in", replace(tally, right=right + 1, false_hold=hold - 1)
    if clear:
        yield (
            "one false clearance fewer in",
            replace(tally, right=right + 1, false_clear=clear - 1),
        )


def _of_looks(tally: Looks) -> Iterator[Variation]:
    """One student more or fewer idle at the first look where that can be."""
    for step, words in (
        (1, "one student more idle at a look in"),
        (-1, "one idle student fewer in"),
    ):
        for p, looks in enumerate(tally.practicals):
            place = next(
                (n for n, (idle, waiting) in enumerate(looks) if 0 <= idle + step <= waiting), None
            )
            if place is not None:
                idle, waiting = looks[place]
                changed = (*looks[:place], (idle + step, waiting), *looks[place + 1 :])
                others = tally.practicals
                yield words, replace(tally, practicals=(*others[:p], changed, *others[p + 1 :]))
                break


def _of_marks(tally: Marks, levels: set[int]) -> Iterator[Variation]:
    for step, words in ((-1, "one mark a level lower in"), (1, "one mark a level higher in")):
        for p, marks in enumerate(tally.practicals):
            for n, mark in enumerate(marks):
                if mark + step in levels:
                    changed = tuple(sorted((*marks[:n], mark + step, *marks[n + 1 :])))
                    others = tally.practicals
                    yield words, replace(tally, practicals=(*others[:p], changed, *others[p + 1 :]))


def _of_incidents(tally: Incidents) -> Iterator[Variation]:
    if tally.happened:
        yield "one more incident in", replace(tally, happened=tally.happened + 1)
        yield "one incident fewer in", replace(tally, happened=tally.happened - 1)
