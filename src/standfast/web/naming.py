"""Ids on a page: where somebody or something has a name, the name stands."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache

from markupsafe import escape

from standfast.desk.opening import Desk
from standfast.desk.titles import AN_ID, titles

_AS_IT_IS = r"<(code|pre|q|textarea|svg)\b.*?</\1>|<[^>]*>"
"""Tags, what somebody typed, drawings, and what is said to be an id."""
_EITHER = re.compile(f"{_AS_IT_IS}|{AN_ID}", re.DOTALL)


def named(page: str, name: Callable[[str], str | None]) -> str:
    """The page with every id in its sentences as `name` calls it; None when it is no id.

    >>> named("<a href='/people/ada-berg'>ada-berg</a>", {"ada-berg": "Ada Berg"}.get)
    "<a href='/people/ada-berg'>Ada Berg</a>"
    """

    def called(found: re.Match[str]) -> str:
        wanted = found["id"]
        return found[0] if wanted is None else escape(name(wanted) or wanted)

    return _EITHER.sub(called, page)


def names_of(desk: Desk) -> Callable[[str], str | None]:
    """Who or what an id of the record book is."""
    known = cache(lambda: titles(desk))  # read for a page that has an id

    @cache
    def name(wanted: str) -> str | None:
        if wanted in known():
            return known()[wanted]
        found = desk.book.find_person(wanted)
        return found.name if found else None

    return name
