"""Where marks to compare come from: the record book, or a table that is named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.honouring import newest_text
from standfast.desk.opening import Desk
from standfast.desk.titles import titles
from standfast.model.evidence import LOOKS_ALIKE
from standfast.problems import NotFound, Refused, StandfastError

if TYPE_CHECKING:
    import numpy as np

    from standfast.agreement.ratings import Codes, Ratings, Values
    from standfast.store.ratings import KeptRatings


@dataclass(frozen=True, eq=False)
class Marks:
    """Marks to compare, and what their codes mean to a person."""

    ratings: Ratings
    within: Values
    """For each criterion how far two marks may lie apart and count as alike."""
    better: np.typing.NDArray[np.bool_]
    """For each criterion whether more is better, so that severity can be asked of it."""
    names: Mapping[str, str]
    """Assessor to name."""
    lessons: Sequence[str]
    """The name of each code of `ratings.lesson`."""
    source: str
    """Where they come from, in words."""
    kinds: Sequence[str]
    """For each criterion the kind of evidence; of a table all are ratings."""
    scale: Values
    """For each criterion the lowest and highest mark that can be given, NaN where nobody says."""
    candidates: Sequence[str] = ()
    """Who taught the lesson of each code of `ratings.lesson`; empty when nobody says."""
    standard: float | None = None
    """The least share of the overall points, when all is of one rubric that says it."""
    titles: Mapping[str, str] = field(default_factory=dict)
    """What criteria and rubrics are called; a table says no more than their names."""

    def title(self, criterion: str) -> str:
        """What the criterion is called, after its rubric where there are several."""
        return ": ".join(filter(None, self.title_and_rubric(criterion)[::-1]))

    def title_and_rubric(self, criterion: str) -> tuple[str, str]:
        """What the criterion is called, and its rubric; that is empty where there is only one."""
        rubric, _, name = criterion.rpartition(": ")
        return self.titles.get(criterion, name), self.titles.get(rubric, rubric)

    @cached_property
    def once(self) -> np.typing.NDArray[np.bool_]:
        """For each criterion whether a sheet marks it once, so that marks of it are witnesses."""
        import numpy as np

        return np.array([kind == "rating" for kind in self.kinds], dtype=np.bool_)

    @cached_property
    def judged(self) -> Ratings:
        """The marks of which more is better."""
        return self.ratings.only(self.better[self.ratings.criterion])

    @cached_property
    def periods(self) -> tuple[Codes, tuple[str, ...]]:
        """For each occasion the place of its period, and the periods in the order of time."""
        import numpy as np

        named = periods_of(self.ratings.occasions)
        different = tuple(dict.fromkeys(named))
        places = np.array([different.index(one) for one in named], dtype=np.int64)
        return places, different

    @cached_property
    def on_scale(self) -> Ratings:
        """The marks as shares of their scale, so that criteria can be put together."""
        from standfast.agreement.sheets import on_scale

        return on_scale(self.ratings, self.scale)


def marks_of_book(desk: Desk, rubric: str | None, since: date | None) -> Marks:
    """The marks of every sheet that stands, of lessons from that day on.

    Raises:
        NotFound: no such rubric is in the book.
        Refused: there are none.
    """
    known = {one.id for one in desk.book.texts("rubric")}
    if rubric is not None and rubric not in known:
        raise NotFound("rubric in the record book", rubric, known)
    kept = desk.book.ratings(rubric)
    ratings, lessons = _of_kept(desk, kept, rubric)
    whose = dict(zip(kept.practicals, kept.candidates, strict=True))
    if since is not None:
        ratings = _since(ratings, str(since))
    _some(ratings, "the record book", since)
    kinds = [kind for _, kind, _ in kept.criteria]
    source = f"the record book, {rubric or 'all rubrics'}"
    people = {person.id: person.name for person in desk.book.people()}
    found = _marks(ratings, kinds, people, lessons, _from(source, since))
    text = newest_text(desk, rubric) if rubric else None
    return replace(
        found,
        scale=_scales(desk, kept, found.scale),
        candidates=tuple(whose[one] for one in lessons),
        standard=float(text.decision.overall_share) if text else None,
        titles={**titles(desk), **_titles(desk, kept, ratings.criteria)},
    )


def _marks(
    ratings: Ratings,
    kinds: Sequence[str],
    people: Mapping[str, str],
    lessons: Sequence[str],
    source: str,
) -> Marks:
    import numpy as np

    within = np.array([float(LOOKS_ALIKE) if kind == "samples" else 0.0 for kind in kinds])
    scale = np.array([(np.nan, np.nan) if kind == "rating" else (0.0, 1.0) for kind in kinds])
    better = np.array([kind != "clearances" for kind in kinds], dtype=np.bool_)
    names = {who: people.get(who, who) for who in ratings.assessors}
    return Marks(
        ratings=ratings,
        within=within,
        better=better,
        names=names,
        lessons=lessons,
        source=source,
        kinds=tuple(kinds),
        scale=scale,
    )


def _of_kept(desk: Desk, kept: KeptRatings, rubric: str | None) -> tuple[Ratings, tuple[str, ...]]:
    """The book's marks in long form: a lesson is a practical, an occasion its first day."""
    import numpy as np

    from standfast.agreement.ratings import Ratings, refuse_twice

    assessors, lessons = sorted(set(kept.assessors)), sorted(set(kept.practicals))
    first: dict[str, str] = {}
    for practical, day in zip(kept.practicals, kept.days, strict=True):
        first[practical] = min(day, first.get(practical, day))
    days = sorted(set(first.values()))
    who, which, when = (
        {name: place for place, name in enumerate(names)} for names in (assessors, lessons, days)
    )
    of_sheet = np.array(
        [
            (who[assessor], which[practical], when[first[practical]])
            for assessor, practical in zip(kept.assessors, kept.practicals, strict=True)
        ],
        dtype=np.int64,
    ).reshape(-1, 3)
    assessor, lesson, occasion = of_sheet[kept.sheet].T
    _, at, subject = np.unique(kept.subject, return_index=True, return_inverse=True)
    subjects = tuple(lessons[place] for place in lesson[at])
    criteria = _criteria(desk, kept, rubric)
    found = Ratings(
        *(subject.astype(np.int64), assessor, kept.criterion, occasion, lesson, kept.score),
        *(tuple(assessors), criteria, tuple(days), subjects),
    )
    refuse_twice(found)
    return found, tuple(lessons)


def _criteria(desk: Desk, kept: KeptRatings, rubric: str | None) -> tuple[str, ...]:
    """The name of each criterion, with its rubric when there are several."""
    named = ((of, criterion or _only_one(desk, of, kind)) for of, kind, criterion in kept.criteria)
    return tuple(name if rubric else f"{of}: {name}" for of, name in named)


def _scales(desk: Desk, kept: KeptRatings, scale: Values) -> Values:
    """The levels that the newest version of each criterion has, beside what is known already."""
    found = scale.copy()
    for place, (rubric, kind, criterion) in enumerate(kept.criteria):
        text = newest_text(desk, rubric) if kind == "rating" else None
        for one in text.criteria() if text else ():
            if one.kind == "rating" and one.id == criterion:
                levels = [level.level for level in one.levels]
                found[place] = min(levels), max(levels)
    return found


def _titles(desk: Desk, kept: KeptRatings, names: Sequence[str]) -> dict[str, str]:
    """What the newest version of its rubric calls each criterion."""
    found = {}
    for name, (rubric, _, _) in zip(names, kept.criteria, strict=True):
        text = newest_text(desk, rubric)
        called = {one.id: one.title for one in text.criteria()} if text else {}
        criterion = name.rpartition(": ")[2]
        found[name] = called.get(criterion, criterion)
    return found


def _only_one(desk: Desk, rubric: str, kind: str) -> str:
    """The criterion of that kind in the newest version; the kind when there is not just one."""
    text = newest_text(desk, rubric)
    if text is None:
        return kind
    found = [criterion.id for criterion in text.criteria() if criterion.kind == kind]
    return found[0] if len(found) == 1 else kind


def marks_of_file(path: Path, since: date | None) -> Marks:
    """The marks of a CSV or XLSX table, of occasions from that day on.

    Raises:
        BadInput: every fault of the table.
        StandfastError: a day is asked for, and the occasions are none.
        Refused: there are none.
    """
    from standfast.agreement.ratings import long_form
    from standfast.files.ratings import read_ratings

    rows = read_ratings(path)
    ratings = long_form(
        [row.subject for row in rows],
        [row.assessor for row in rows],
        [row.criterion for row in rows],
        [row.score for row in rows],
        [row.occasion for row in rows],
    )
    if since is not None:
        if not are_days(ratings.occasions):
            raise StandfastError(
                f"--since {since}: {path} does not say the day of each mark; it needs a column"
                " 'occasion' with days such as 2026-03-01"
            )
        ratings = _since(ratings, str(since))
    _some(ratings, str(path), since)
    lessons = [""] * (int(ratings.lesson.max()) + 1)
    for lesson, subject in zip(ratings.lesson, ratings.subject, strict=True):
        lessons[lesson] = ratings.subjects[subject]
    kinds = ["rating"] * len(ratings.criteria)
    found = _marks(ratings, kinds, {}, lessons, _from(str(path), since))
    several = len({row.occasion for row in rows}) > 1
    # With occasions a subject is who was seen, each time in another lesson.
    return replace(found, candidates=tuple(lessons) if several else ())


def _since(ratings: Ratings, first: str) -> Ratings:
    import numpy as np

    late = np.array([day >= first for day in ratings.occasions], dtype=np.bool_)
    return ratings.only(late[ratings.occasion])


def _some(ratings: Ratings, source: str, since: date | None) -> None:
    if not len(ratings):
        later = f" from {since} on" if since else ""
        raise Refused(f"{source} has no marks{later}, so there is nothing to compare")


def _from(source: str, since: date | None) -> str:
    return f"{source}, from {since} on" if since else source


def are_days(occasions: Sequence[str]) -> bool:
    """Whether every occasion is a day, written as 2026-03-01."""
    try:
        return all(date.fromisoformat(one).isoformat() == one for one in occasions)
    except ValueError:
        return False


def periods_of(occasions: Sequence[str]) -> tuple[str, ...]:
    """The period of each occasion: the quarter of the calendar of a day, else the occasion."""
    if not are_days(occasions):
        return tuple(occasions)
    days = map(date.fromisoformat, occasions)
    return tuple(f"{day.year}Q{(day.month + 2) // 3}" for day in days)
