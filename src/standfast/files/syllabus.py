"""Syllabuses from YAML."""

from __future__ import annotations

from pathlib import Path

from standfast.files.read import Document, Placed, read_yaml
from standfast.files.shape import as_noun
from standfast.model.syllabus import Syllabus


def read_syllabus(path: Path) -> Placed[Syllabus]:
    """The syllabus of a YAML file whose first key is `syllabus:`.

    Raises:
        BadInput: every fault of its form and shape.
    """
    return as_syllabus(read_yaml(path))


def as_syllabus(document: Document) -> Placed[Syllabus]:
    """The syllabus that a document holds; as `read_syllabus`."""
    return as_noun(Syllabus, document, word="syllabus")
