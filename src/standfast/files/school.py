"""The school's settings from YAML."""

from __future__ import annotations

from pathlib import Path

from standfast.files.read import Placed, read_yaml
from standfast.files.shape import as_noun
from standfast.model.school import School


def read_school(path: Path) -> Placed[School]:
    """The settings of a YAML file whose first key is `school:`.

    Raises:
        BadInput: every fault of its form and shape.
    """
    return as_noun(School, read_yaml(path), word="school")
