"""What all nouns share: frozen, closed, and strict about what a word or a number is."""

from __future__ import annotations

import re
import typing
from collections.abc import Callable
from contextlib import suppress
from datetime import date, datetime
from fractions import Fraction
from functools import cache, lru_cache
from typing import Annotated, Any, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    Strict,
    StringConstraints,
)


class Noun(BaseModel):
    """A frozen value with no room for unknown keys.

    A changed noun is a new noun (`model_copy(update=...)`); nothing is handed back to be
    completed.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        defer_build=True,
        ser_json_inf_nan="constants",
        allow_inf_nan=False,
        str_strip_whitespace=True,
    )


class PersonMark:
    """Marks a field that names a person, so that the store can put an opaque id there."""


SLUG = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$"

LONGEST_SLUG = 64
Slug = Annotated[str, StringConstraints(pattern=SLUG, max_length=LONGEST_SLUG)]
"""A short name for use in files and commands: lower case, digits, single hyphens."""

PersonId = Annotated[Slug, PersonMark()]
"""The slug of a person; the journal holds an opaque id in its place."""

REF = r"^p-[0-9a-f]{32}$"
Ref = Annotated[str, StringConstraints(pattern=REF)]
"""An opaque id of a person in some record book."""

Line = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=r"^[^\r\n]+$")]
"""One line of text a person reads."""

LONGEST_TEXT = 4000
Text = Annotated[str, StringConstraints(min_length=1, max_length=LONGEST_TEXT)]
"""A few sentences."""

StudentCode = Annotated[str, StringConstraints(pattern=r"^S[1-9][0-9]?$")]
"""S1 to S99.  No student's name is ever stored."""

LARGEST_WHOLE = 2**53 - 1
"""The largest whole number that JSON carries exactly (RFC 8785, 3.2.2.3, by way of I-JSON)."""

Whole = Annotated[int, Strict(), Field(ge=0, le=LARGEST_WHOLE)]
Count = Annotated[int, Strict(), Field(ge=1, le=LARGEST_WHOLE)]
Yes = Annotated[bool, Strict()]
Share = Annotated[float, Field(ge=0, le=1)]
"""A share from 0 to 1; `exact` turns it into the fraction a person meant."""

OpenShare = Annotated[float, Field(gt=0, lt=1)]
"""A share that is neither 0 nor 1."""

KEY = r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$"

Key = Annotated[str, StringConstraints(pattern=KEY)]
"""A UUID in lower case, made by whoever writes the thing down first."""

Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
"""SHA-256 in hexadecimal."""


def _iso_day(value: object) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value):
        with suppress(ValueError):
            return date.fromisoformat(value)
    raise ValueError(f"'{value}' is no day of the calendar; write it as 2026-03-01")


def _iso_moment(value: object) -> datetime:
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value)
        except ValueError:
            raise ValueError(f"'{value}' is no moment; write 2026-03-01T10:00:00+01:00") from None
    if not isinstance(value, datetime):
        raise ValueError(f"'{value}' is no moment; write 2026-03-01T10:00:00+01:00")  # noqa: TRY004 - pydantic wants ValueError
    if value.utcoffset() is None:
        raise ValueError(f"'{value.isoformat()}' has no offset; add one, for example +01:00")
    return value


Day = Annotated[date, BeforeValidator(_iso_day)]
"""A day of the calendar, ISO 8601."""

Moment = Annotated[datetime, BeforeValidator(_iso_moment)]
"""An instant with its offset from UTC, ISO 8601."""

_CLOCK = re.compile(r"^(?:(\d{1,2}):)?([0-5]?\d):([0-5]\d)$")


def _elapsed(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    if isinstance(value, str) and (read := _CLOCK.match(value)):
        hours, minutes, seconds = (int(part or 0) for part in read.groups())
        return hours * 3600 + minutes * 60 + seconds
    raise ValueError(f"'{value}' is no time since the lesson began; write minutes:seconds, 12:30")


Elapsed = Annotated[int, BeforeValidator(_elapsed), Field(ge=0, le=86_400)]
"""Seconds since the lesson began; a file may say `12:30` or `1:02:30`."""

_PERIOD = re.compile(r"^P(?=\d)(\d+Y)?(\d+M)?(\d+W)?(\d+D)?$")


def _period(value: str) -> str:
    read = _PERIOD.match(value)
    if not read or not any(int(part[:-1]) for part in read.groups() if part):
        raise ValueError(
            f"'{value}' is no period of whole years, months, weeks or days;"
            " write it as P2Y, P18M, P6W or P90D"
        )
    return value


Period = Annotated[str, Strict(), AfterValidator(_period)]
"""An ISO 8601 period of whole years, months, weeks or days, longer than nothing."""


@lru_cache(4096)
def exact(share: float) -> Fraction:
    """The fraction a person meant when she wrote a decimal: 0.85 is 17/20.

    >>> exact(0.85)
    Fraction(17, 20)
    """
    return Fraction(repr(share))


class Reference(Noun):
    """Points at one exact text of a rubric or syllabus, by its content."""

    id: Slug
    version: Count
    hash: Hash


NounT = TypeVar("NounT", bound=Noun)


def _names_person(annotation: object) -> bool:
    if typing.get_origin(annotation) is Annotated:
        return any(isinstance(extra, PersonMark) for extra in typing.get_args(annotation)[1:]) or (
            _names_person(typing.get_args(annotation)[0])
        )
    return any(_names_person(part) for part in typing.get_args(annotation))


@cache
def _person_fields(kind: type[Noun]) -> frozenset[str]:
    return frozenset(
        name
        for name, info in kind.model_fields.items()
        if any(isinstance(extra, PersonMark) for extra in info.metadata)
        or _names_person(info.annotation)
    )


@cache
def _may_name_people(kind: type[Noun]) -> tuple[str, ...]:
    """The fields that name people or hold something that could, at any depth."""
    own = _person_fields(kind)
    fields = kind.model_fields
    return tuple(f for f in fields if f in own or _reaches(fields[f].annotation, (kind,)))


def _reaches(annotation: object, seen: tuple[type[Noun], ...]) -> bool:
    """Whether nouns of that annotation name people; taken for granted where it is not certain."""
    if isinstance(annotation, type):
        if not issubclass(annotation, Noun) or annotation in seen:
            return False
        if _person_fields(annotation) or annotation.__subclasses__():
            return True
        fields = annotation.model_fields.values()
        return any(_reaches(info.annotation, (*seen, annotation)) for info in fields)
    if isinstance(annotation, (str, typing.ForwardRef, TypeVar)):
        return True
    return any(_reaches(part, seen) for part in typing.get_args(annotation))


def rename_people(noun: NounT, rename: Callable[[str], str]) -> NounT:
    """The same noun with every person's slug put through `rename`, at any depth."""
    people = _person_fields(type(noun))
    changed: dict[str, Any] = {}
    for name in _may_name_people(type(noun)):
        before = getattr(noun, name)
        after = _renamed(before, rename, own=name in people)
        if after is not before:
            changed[name] = after
    return noun.model_copy(update=changed) if changed else noun


def _renamed(value: object, rename: Callable[[str], str], *, own: bool) -> object:
    if isinstance(value, Noun):
        return rename_people(value, rename)
    if own and isinstance(value, str):
        return rename(value)
    if isinstance(value, tuple):
        parts = tuple(_renamed(part, rename, own=own) for part in value)
        return parts if any(a is not b for a, b in zip(parts, value, strict=True)) else value
    return value
