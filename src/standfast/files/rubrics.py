"""Rubrics from YAML."""

from __future__ import annotations

from pathlib import Path

from standfast.files.read import Placed, read_yaml
from standfast.files.shape import as_noun
from standfast.model.rubric import Rubric


def read_rubric(path: Path) -> Placed[Rubric]:
    """The rubric of a YAML file whose first key is `rubric:`.

    Raises:
        BadInput: every fault of its form and shape.
    """
    return as_noun(Rubric, read_yaml(path), word="rubric")
