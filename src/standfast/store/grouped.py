"""Marks as counts that the database groups, over all that a connection may see; nobody is in them.

For agreement over the books of several schools, of which only these counts leave the database
(`tallies.py` keeps them).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from sqlalchemy import Connection, Select, column, func, select

from standfast.store.tables import OF_A_MONTH, lesson_sums, tallies

Given: TypeAlias = tuple[tuple[float, int], ...]
"""Each score, ascending, with how many assessors gave it."""


@dataclass(frozen=True)
class LessonSums:
    """Sums over the lessons in which two assessors or more marked the same things."""

    lessons: int = 0
    pairs: int = 0
    """How often two assessors marked the same thing."""
    alike: int = 0
    """How many of the pairs were alike."""
    pairs_squared: int = 0
    """Sum of the square of each lesson's pairs."""
    pairs_alike: int = 0
    """Sum of each lesson's pairs times those that were alike."""
    alike_squared: int = 0


@dataclass(frozen=True)
class GroupedMarks:
    """The marks of one criterion."""

    rubric: str
    kind: str
    criterion: str
    """Empty where the rubric has one of its kind."""
    given: tuple[tuple[Given, int], ...]
    """What a thing was given, and how many things were given just that."""
    sums: LessonSums


def grouped_marks(
    conn: Connection,
    rubric: str | None = None,
    since: str | None = None,
    schools: Collection[str] | None = None,
) -> tuple[GroupedMarks, ...]:
    """For each criterion what was marked, of that rubric or all, from that month on (`2026-03`).

    Over every school that the connection may see; in PostgreSQL `schools` takes some of these.
    """
    where = (rubric, since, schools)
    return as_groups(conn.execute(given_counts(*where)), conn.execute(summed(*where)))


def as_groups(
    counts: Iterable[Sequence[Any]], parts: Iterable[Sequence[Any]]
) -> tuple[GroupedMarks, ...]:
    """The marks of each criterion from rows as `given_counts` and `summed` select them."""
    given: dict[_Of, list[tuple[Given, int]]] = defaultdict(list)
    for of, kind, criterion, scores, subjects in counts:
        given[of, kind, criterion].append((_read(scores), int(subjects)))
    sums = {
        (of, kind, criterion): LessonSums(*map(int, numbers))
        for of, kind, criterion, *numbers in parts
    }
    return tuple(
        GroupedMarks(*key, tuple(sorted(given[key])), sums.get(key, LessonSums()))
        for key in sorted(given)
    )


_Of: TypeAlias = tuple[str, str, str]


def _read(scores: str) -> Given:
    each = (one.partition(":") for one in scores.split())
    return tuple((float(score), int(times)) for score, _, times in each)


def given_counts(
    rubric: str | None = None, since: str | None = None, schools: Collection[str] | None = None
) -> Select[*tuple[Any, ...]]:
    """Rubric, kind, criterion, scores as `score:times` with spaces between, number of subjects."""
    of = (tallies.c.rubric, tallies.c.kind, tallies.c.criterion, tallies.c.given)
    query: Select[*tuple[Any, ...]] = select(*of, func.sum(tallies.c.subjects))
    return _only(query, rubric, since, schools).group_by(*of)


def summed(
    rubric: str | None = None, since: str | None = None, schools: Collection[str] | None = None
) -> Select[*tuple[Any, ...]]:
    """Rubric, kind, criterion, and the columns of `LessonSums`."""
    of = [lesson_sums.c[name] for name in OF_A_MONTH if name != "month"]
    sums = [func.sum(one) for one in lesson_sums.columns if one.name not in OF_A_MONTH]
    query: Select[*tuple[Any, ...]] = select(*of, *sums)
    return _only(query, rubric, since, schools).group_by(*of)


def _only(
    query: Select[*tuple[Any, ...]],
    rubric: str | None,
    since: str | None,
    schools: Collection[str] | None,
) -> Select[*tuple[Any, ...]]:
    (table,) = query.get_final_froms()
    if rubric is not None:
        query = query.where(table.c.rubric == rubric)
    if since is not None:
        query = query.where(table.c.month >= since)
    if schools is not None:
        query = query.where(column("school").in_(sorted(schools)))
    return query
