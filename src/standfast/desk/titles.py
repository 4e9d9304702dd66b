"""What ids are called in words, where the record book has words for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from standfast.desk.opening import Desk
from standfast.model.rubric import Rubric

if TYPE_CHECKING:
    from standfast.model.syllabus import Syllabus


def titles(desk: Desk) -> Mapping[str, str]:
    """Titles of rubrics, competencies, criteria and skills, and documents in words, by their ids.

    Of several versions the newest says it; what two rubrics call by two names is its id, spoken.
    """
    references = [one for kind in ("rubric", "syllabus") for one in desk.book.texts(kind)]
    known: dict[str, dict[str, str]] = {}
    for one in sorted(references, key=lambda one: (one.id, one.version)):
        if text := desk.book.find_text(one.hash):
            known.setdefault(one.id, {}).update(_titles(text))
    called: dict[str, set[str]] = {}
    for each in known.values():
        for name, title in each.items():
            called.setdefault(name, set()).add(title)
    return {
        name: next(iter(found)) if len(found) == 1 else _spoken(name)
        for name, found in called.items()
    }


def _spoken(name: str) -> str:
    return name.replace("-", " ")


def _titles(text: Rubric | Syllabus) -> Iterator[tuple[str, str]]:
    yield text.id, text.title
    if not isinstance(text, Rubric):
        yield from ((skill.id, skill.title) for skill in text.skills)
        return
    yield from ((kind, _spoken(kind)) for kind in text.documents)
    for competency in text.competencies:
        yield competency.id, competency.title
        yield from ((criterion.id, criterion.title) for criterion in competency.criteria)
