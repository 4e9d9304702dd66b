"""A sheet of an invented refresher without what the refresher does not cover."""

from __future__ import annotations

from standfast.engine.narrowing import asked
from standfast.model.rubric import ClearancesCriterion, Rubric, SamplesCriterion
from standfast.model.sheet import Sheet


def only(sheet: Sheet, rubric: Rubric, covers: tuple[str, ...]) -> Sheet:
    """The sheet as it is when only these criteria, and incidents, are asked for."""
    if not covers:
        return sheet
    criteria = list(asked(rubric, covers).criteria())
    names = {criterion.id for criterion in criteria}
    attempts = tuple(
        attempt.model_copy(
            update={"answers": {k: v for k, v in attempt.answers.items() if k in names}}
        )
        for attempt in sheet.attempts
    )
    choices = any(isinstance(criterion, ClearancesCriterion) for criterion in criteria)
    looks = any(isinstance(criterion, SamplesCriterion) for criterion in criteria)
    return sheet.model_copy(
        update={
            "covers": covers,
            "attempts": attempts,
            "clearances": sheet.clearances if choices else (),
            "samples": sheet.samples if looks else (),
            "ratings": tuple(one for one in sheet.ratings if one.criterion in names),
        }
    )
