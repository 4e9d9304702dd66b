"""Days of practicals as they are wished, from YAML."""

from __future__ import annotations

from pathlib import Path

from standfast.files.read import Document, Placed, read_yaml
from standfast.files.shape import as_noun
from standfast.model.plan import AskedDay


def read_plan(path: Path) -> Placed[AskedDay]:
    """The day of a YAML file whose first key is `plan:`.

    Raises:
        BadInput: every fault of its form and shape.
    """
    return as_plan(read_yaml(path))


def as_plan(document: Document) -> Placed[AskedDay]:
    """The day that a document holds; as `read_plan`."""
    return as_noun(AskedDay, document, word="plan")
