"""What a practical covers when it does not cover the whole rubric, and why just that."""

from __future__ import annotations

from typing import Literal

from standfast.model.base import Noun, Slug


class Covered(Noun):
    """Criteria of one competency that a practical covers."""

    competency: Slug
    criteria: tuple[Slug, ...]
    because: str


class Focus(Noun):
    """What a refresher or a top-up covers; incidents are watched for whatever it is."""

    kind: Literal["refresher", "top-up"]
    covered: tuple[Covered, ...]

    @property
    def criteria(self) -> tuple[str, ...]:
        """Every criterion that is covered, in the order of the rubric."""
        return tuple(criterion for one in self.covered for criterion in one.criteria)
