"""How many practicals and refreshers will be needed in the quarters ahead.

The record book says what falls due, the school's history how people have behaved, its settings
what to suppose meanwhile; `engine.planning.forecast` makes numbers of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from standfast.desk.coming import Ahead
from standfast.desk.courses import Certain, Wanted
from standfast.desk.habits import by_calendar_month, habits, months_vary, newcomers
from standfast.desk.lived import Lived, lived
from standfast.desk.opening import Desk
from standfast.engine.dates import DAY
from standfast.engine.planning.chances import Rate, Share, Spread
from standfast.engine.planning.forecast import SEED, Course, Drawn, Habits, Kind, simulate, together
from standfast.engine.quarters import NamedBy, Quarter
from standfast.problems import NotFound, Refused, StandfastError

NO_PROMISE = (
    "A forecast is no promise: it counts lessons to be scored, and says nothing on who may teach."
)
SUPPOSES = (
    "Who comes in time keeps the anniversary of the award;"
    " documents are renewed; a suspended award falls due like any other; all lessons of one try lie"
    " in one month. Top-ups for a new version of a rubric are left out."
)


@dataclass(frozen=True)
class Asked:
    """Which forecast is wanted: the next eight quarters of the whole school when nothing is said.

    The days that are left of a quarter that has begun come before them.
    """

    quarters: int = 8
    rubric: str | None = None
    site: str | None = None
    seed: int = SEED


@dataclass(frozen=True)
class Row:
    """Some days, and the lessons in them."""

    name: str
    """2026-12, FY2026/27 Q2, or all."""
    first: date
    last: date
    practicals: Spread
    refreshers: Spread
    part: bool = False
    """Whether only some of its days lie in the forecast."""


@dataclass(frozen=True)
class Table:
    """One rubric's lessons, or those of all together."""

    months: tuple[Row, ...]
    quarters: tuple[Row, ...]
    """Of the school's own year, as the due list names them."""
    calendar_quarters: tuple[Row, ...]
    total: Row


@dataclass(frozen=True)
class OfRubric:
    """What is forecast of one rubric and its refresher, and from which newcomers."""

    rubric: str
    title: str
    table: Table
    newcomers: Rate
    by_calendar_month: bool
    """Whether calendar months differ in it."""
    unevenness: float
    """How many times as much months of newcomers vary as if each came alone."""
    standing: int
    """Awards that can still be kept in time."""
    late: int
    """Awards past grace whose holders may still come."""
    lessons: Mapping[Kind, int]
    """How many a try takes at the least."""
    begun: int
    """People in the middle of a try, or who must try again."""


@dataclass(frozen=True)
class Forecast:
    """The lessons ahead, and what the numbers rest on."""

    asked: Asked
    first: date
    last: date
    all: Table
    rubrics: tuple[OfRubric, ...]
    habits: Habits
    early: int
    """Months before the due month in which holders come who are in time."""
    empty: bool
    """Nothing was lived through yet: all of it is supposed."""
    choices: tuple[str, ...]
    """The rubrics that a forecast can be narrowed to."""

    @property
    def shares(self) -> Iterator[tuple[str, Share | Rate]]:
        """What the numbers rest on, each with its name in words."""
        known = self.habits
        yield "holders who come back in time", known.comes_back
        yield "months past grace in which a holder comes", known.comes_late
        for kind, share in known.again.items():
            yield f"{kind} tries that were not passed", share
        yield "tries not passed, and given up", known.gives_up
        for kind, rate in known.extra.items():
            yield f"lessons beyond the least number, per {kind} try", rate


def forecast(desk: Desk, asked: Asked) -> Forecast:
    """The practicals and refreshers of the quarters ahead of the desk's day.

    Raises:
        NotFound: nobody belongs to that site, or no such rubric grants anything.
        Refused: no rubric grants anything.
    """
    history = lived(desk)
    rubrics = _rubrics(history, asked.rubric)
    ahead = _ahead(desk, asked.quarters)
    known = habits(history, desk.school.forecast)
    people = _people(desk, asked.site)
    wanted = [_wanted(desk, history, rubric, asked.site, people) for rubric in rubrics]
    certain = Certain(history, known, ahead)
    courses = [certain.course(one) for one in wanted]
    drawn = simulate(courses, known, ahead.months, seed=asked.seed)
    quarters = _Quarters(ahead, desk.school.year_starts, desk.school.year_named_by)
    return Forecast(
        asked,
        ahead.first,
        ahead.last,
        quarters.table(together(drawn)),
        tuple(
            _of_rubric(one, course, quarters.table(lessons))
            for one, course, lessons in zip(wanted, courses, drawn, strict=True)
        ),
        known,
        certain.early,
        not history.lessons and not history.awards,
        _rubrics(history, None),
    )


def _rubrics(history: Lived, wanted: str | None) -> tuple[str, ...]:
    """The rubric wanted; else those that were ever used; in a new school all."""
    if not history.granting:
        raise Refused("no rubric grants anything, so nothing falls due; add one to rubrics/")
    if wanted is not None:
        if wanted not in history.granting:
            raise NotFound("rubric that grants an award", wanted, history.granting)
        return (wanted,)
    used = {rubric for _, rubric in history.lessons} | {a.rubric.id for a in history.awards}
    return tuple(one for one in history.granting if one in used) or history.granting


def _ahead(desk: Desk, count: int) -> Ahead:
    """So many whole quarters, and what is left of the one that has begun."""
    starts, named_by = desk.school.year_starts, desk.school.year_named_by
    now = Quarter.of(desk.today, starts, named_by)
    last = now.last
    for _ in range(count if desk.today > now.first else count - 1):
        last = Quarter.of(last + DAY, starts, named_by).last
    return Ahead(desk.today, last)


def _people(desk: Desk, site: str | None) -> frozenset[str]:
    """Everybody who has a name, at that site or at any."""
    if site is not None and site not in (sites := desk.book.sites()):
        raise NotFound("site", site, sites)
    return frozenset(one.id for one in desk.book.people() if site in {None, one.site})


def _wanted(
    desk: Desk, history: Lived, rubric: str, site: str | None, people: frozenset[str]
) -> Wanted:
    prior, text = desk.school.forecast, history.rubrics[rubric]
    if text.validity is None:
        raise StandfastError(f"{rubric} grants nothing; run 'standfast check'")
    rate = Rate(prior.newcomers, prior.newcomers_weight)
    counted = people if site else None  # of the whole school those who were erased count too
    seasons = by_calendar_month(history, rubric, counted)
    return Wanted(
        text,
        text.validity,
        people,
        newcomers(history, rubric, counted, rate),
        seasons,
        months_vary(history, rubric, seasons, prior.weight),
    )


def _of_rubric(wanted: Wanted, course: Course, table: Table) -> OfRubric:
    return OfRubric(
        wanted.rubric.id,
        wanted.rubric.title,
        table,
        wanted.newcomers,
        wanted.by_calendar_month is not None,
        wanted.unevenness,
        sum(term.held for term in course.terms),
        sum(term.held for term in course.late),
        course.lessons,
        sum(one.people for one in course.trying),
    )


class _Quarters:
    """Adds months up to quarters, of the school's year and of the calendar's."""

    def __init__(self, ahead: Ahead, starts: int, named_by: NamedBy) -> None:
        self.ahead = ahead
        self.own = [Quarter.of(day, starts, named_by) for day in ahead.starts]
        self.calendar = [Quarter.of(day) for day in ahead.starts]

    def table(self, drawn: Drawn) -> Table:
        """Every month, every quarter, and all."""
        starts = self.ahead.starts
        return Table(
            tuple(self._month(drawn, month) for month in range(len(starts))),
            tuple(self._quarters(drawn, self.own)),
            tuple(self._quarters(drawn, self.calendar)),
            self._row(drawn, "all", 0, len(starts)),
        )

    def _month(self, drawn: Drawn, month: int) -> Row:
        start = self.ahead.starts[month]
        row = self._row(drawn, f"{start:%Y-%m}", month, month + 1)
        return replace(row, part=start.day > 1)

    def _quarters(self, drawn: Drawn, named: Sequence[Quarter]) -> Iterator[Row]:
        """One row for each quarter; its months lie together."""
        for quarter in dict.fromkeys(named):
            first = named.index(quarter)
            row = self._row(drawn, str(quarter), first, first + named.count(quarter))
            yield replace(row, part=(row.first, row.last) != (quarter.first, quarter.last))

    def _row(self, drawn: Drawn, name: str, first: int, after: int) -> Row:
        starts, days = self.ahead.starts, slice(first, after)
        last = starts[after] - DAY if after < len(starts) else self.ahead.last
        spreads = drawn.spread("practical", days), drawn.spread("refresher", days)
        return Row(name, starts[first], last, *spreads)
