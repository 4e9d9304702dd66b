"""What ids are called in words, where the record book has words for them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING

from standfast.desk.opening import Desk
from standfast.model.rubric import Rubric

if TYPE_CHECKING:
    from standfast.model.syllabus import Syllabus

AN_ID = r"(?<![\w/.@-])(?P<id>[a-z][a-z0-9]*(?:-[a-z0-9]+)+)(?![\w@-]|\.\w)"
"""Of several words: one alone could be a word of the sentence."""


def in_titles(words: str, called: Callable[[str], str | None]) -> str:
    """The sentence with every id in it as it is `called`; None when it is no id.

    >>> in_titles("consent-asked is left out", {"consent-asked": "Consent asked for"}.get)
    'Consent asked for is left out'
    """
    return re.sub(AN_ID, lambda found: called(found["id"]) or found["id"], words)


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
