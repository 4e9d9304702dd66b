"""Days of practicals as they are wished, from YAML."""

from __future__ import annotations

from pathlib import Path

from standfast.files.read import Document, Placed, read_yaml
from standfast.files.shape import as_noun
from standfast.model.plan import AskedDay
from standfast.problems import BadInput, Place, Problem


def read_plan(path: Path) -> Placed[AskedDay]:
    """The day of a YAML file whose first key is `plan:`.

    Raises:
        BadInput: it is no plan, or every fault of its form and shape.
    """
    document = read_yaml(path)
    if not isinstance(document.value, dict) or "plan" not in document.value:
        first = next(iter(document.value), None) if isinstance(document.value, dict) else None
        what = f"is no plan: it begins with '{first}:'" if first else "is no plan"
        cure = "name a file that begins with 'plan:', the day's short name"
        raise BadInput([Problem(Place(document.file, 1, 1), what, cure)])
    return as_plan(document)


def as_plan(document: Document) -> Placed[AskedDay]:
    """The day that a document holds; as `read_plan`."""
    return as_noun(AskedDay, document, word="plan")
