"""How many practicals and refreshers will be needed in the months ahead, and how sure that is.

What stands in the record book fixes which award falls due when; who comes, who passes and who is
new is chance.  Each of these chances is a share or a rate of which the school's own history is
told, weighed against a stated prior.  One draw takes every share and rate from what is known of
it and then lives through the months; many draws give mean and spread:

- an award's holder comes in time with the share `comes_back`, in a month that is fixed beforehand,
  and an award kept in time falls due again in its turn;
- who did not come in time may come in any later month with the share `comes_late`, and takes a
  refresher while one suffices, a full practical after; who stays away too long is gone;
- newcomers of a month are a Poisson number, or, where months varied more than chance would have
  it because they came in groups, one with the same mean and that much more variance;
- who is not passed (`again`, for practicals and refreshers each) tries again some months later, or
  gives up (`gives_up`);
- a try takes the lessons that its rubric asks for, and a Poisson number more (`extra`);
- who passes holds an award from that month on, which falls due within these months in its turn.

Shares have beta posteriors, so that the number who come is beta-binomial; rates have gamma
posteriors, so that a month's newcomers are negative binomial; the parts that calendar months have
in the newcomers of a year have a Dirichlet posterior.

Source: Gelman, Carlin, Stern, Dunson, Vehtari & Rubin (2013), Bayesian Data Analysis, 3rd ed.:
beta-binomial 2.4, Poisson-gamma 2.6, Dirichlet 3.4 (sections from memory).
Checked against: scipy.stats.betabinom, nbinom; a walk over dates; schools with known shares
(tests/planning/test_forecast.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from standfast.engine.planning.chances import Rate, Share, Spread, spread

if TYPE_CHECKING:
    import numpy as np

    from standfast.engine.planning.chances import Counts, Floats

DRAWS = 10_000
"""Enough that another seed moves a mean by about a hundredth of its spread."""
SEED = 1
YEAR = 12

Kind = Literal["practical", "refresher"]
KINDS: tuple[Kind, ...] = ("practical", "refresher")


@dataclass(frozen=True)
class Term:
    """One time that an award runs, in months counted from the first of the forecast, 0."""

    due: int
    """The month in which its holder comes who is in time."""
    takes: Kind
    """What keeps it when taken in time."""
    kept: int | None
    """The term that follows when it was kept in time; None beyond the forecast."""
    late_from: int
    """The first month in which its holder is late: past grace."""
    gone_from: int
    """The first month in which nobody expects its holder any more."""
    suffices: int
    """The last month in which a refresher suffices; before `late_from` when none ever does."""
    held: int = 0
    """How many awards stand in it on the day of the forecast."""


@dataclass(frozen=True)
class Trying:
    """People who have begun already: their next lessons come in a month.

    Who was not passed may have given up; who is in the middle of a try surely ends it.
    """

    month: int
    kind: Kind
    people: int = 1
    lessons: int | None = None
    """Still missing of a try that was begun; None for the next one after one not passed."""


@dataclass(frozen=True)
class Course:
    """One rubric that grants, with its awards and what its lessons take."""

    terms: tuple[Term, ...]
    fresh: tuple[int, ...]
    """For each month, the term of an award whose counting starts in it."""
    late: tuple[Term, ...]
    """Terms that ran out before the forecast, of which somebody may still come."""
    newcomers: Rate
    """Per month."""
    by_calendar_month: tuple[int, ...] | None = None
    """Newcomers of whole years, January first; None where there are too few years to tell."""
    unevenness: float = 1.0
    """How many times as much months of newcomers vary as if each came alone; at least 1."""
    trying: tuple[Trying, ...] = ()
    lessons: Mapping[Kind, int] = field(default_factory=lambda: {"practical": 1, "refresher": 1})
    """How many lessons a try takes at the least."""


@dataclass(frozen=True)
class Habits:
    """What is known of the people of a school, under whichever rubric."""

    comes_back: Share
    """Of awards that fall due: the holder comes in time."""
    comes_late: Share
    """Of late holders: comes in a month."""
    again: Mapping[Kind, Share]
    """Of tries: not passed, so that another is needed."""
    gives_up: Share
    """Of tries not passed: nobody tries again."""
    extra: Mapping[Kind, Rate]
    """Lessons per try beyond the least number."""
    again_after: Mapping[Kind, int]
    """Months from a try that was not passed to the next; at least 1."""
    season_weight: float = 10.0
    """How many newcomers in each calendar month the even prior is worth."""


@dataclass(frozen=True)
class Months:
    """The months of a forecast, first to last."""

    calendar: tuple[int, ...]
    """1 for January."""
    parts: tuple[float, ...]
    """How much of each month lies in the forecast, up to 1."""


@dataclass(frozen=True)
class Drawn:
    """Lessons of one course in every draw: for each kind an array of draws by months."""

    lessons: Mapping[Kind, Counts]

    def spread(self, kind: Kind, months: slice = slice(None)) -> Spread:
        """Mean, 10 %, 50 % and 90 % points of the lessons in those months together."""
        return spread(self.lessons[kind][:, months].sum(axis=1))


def together(several: Sequence[Drawn]) -> Drawn:
    """Courses added up, draw by draw: their shares are the same people's."""
    import numpy as np

    return Drawn({kind: np.sum([one.lessons[kind] for one in several], axis=0) for kind in KINDS})


def simulate(
    courses: Sequence[Course],
    habits: Habits,
    months: Months,
    *,
    seed: int = SEED,
    draws: int = DRAWS,
) -> tuple[Drawn, ...]:
    """Lives through the months in every draw; the same seed gives the same numbers.

    In one draw every course meets the same shares; newcomers are each course's own.
    """
    import numpy as np

    chance = np.random.default_rng(seed)
    shares = _Shares(
        habits.comes_back.drawn(chance, draws),
        habits.comes_late.drawn(chance, draws),
        {kind: habits.again[kind].drawn(chance, draws) for kind in KINDS},
        habits.gives_up.drawn(chance, draws),
        {kind: habits.extra[kind].drawn(chance, draws) for kind in KINDS},
    )
    return tuple(_Walk(course, habits, months, shares, chance).lived() for course in courses)


@dataclass(frozen=True)
class _Shares:
    """One value for each draw."""

    comes_back: Floats
    comes_late: Floats
    again: dict[Kind, Floats]
    gives_up: Floats
    extra: dict[Kind, Floats]


class _Walk:
    """One course, month by month, all draws at once."""

    def __init__(
        self,
        course: Course,
        habits: Habits,
        months: Months,
        shares: _Shares,
        chance: np.random.Generator,
    ) -> None:
        import numpy as np

        self.course, self.habits, self.months = course, habits, months
        self.shares, self.chance = shares, chance
        self.draws, self.last = len(shares.comes_back), len(months.calendar)
        shape = (self.draws, self.last)
        self.tries = {kind: np.zeros(shape, np.int64) for kind in KINDS}
        """By month: tries that restart an award, or are a first or a repeated one."""
        self.lessons = {kind: np.zeros(shape, np.int64) for kind in KINDS}
        self.held = [np.full(self.draws, term.held, np.int64) for term in course.terms]
        self.late = [(term, np.full(self.draws, term.held, np.int64)) for term in course.late]
        self.rates = self._newcomer_rates()

    def _newcomer_rates(self) -> Floats:
        """The rate of newcomers in each draw and month."""
        import numpy as np

        rate = self.course.newcomers.drawn(self.chance, self.draws)
        seasons = np.ones((self.draws, YEAR))
        if self.course.by_calendar_month is not None:
            known = np.array(self.course.by_calendar_month) + self.habits.season_weight
            seasons = self.chance.dirichlet(known, self.draws) * YEAR
        columns = [number - 1 for number in self.months.calendar]
        drawn: Floats = rate[:, None] * seasons[:, columns] * np.array(self.months.parts)
        return drawn

    def lived(self) -> Drawn:
        """Every month in turn."""
        for one in self.course.trying:
            self._begun(one)
        for month in range(self.last):
            self._fall_due(month)
            self._come_late(month)
            self.tries["practical"][:, month] += self._newcomers(month)
            for kind in KINDS:
                tries = self.tries[kind][:, month]
                self._taught(kind, month, tries)
                self._start_anew(month, self._pass(kind, month, tries))
        return Drawn(self.lessons)

    def _newcomers(self, month: int) -> Counts:
        """Poisson where each comes alone, else with the same mean and a greater variance."""
        rates, more = self.rates[:, month], self.course.unevenness - 1
        if more > 0:
            rates = self.chance.gamma(rates / more) * more
        return self.chance.poisson(rates)

    def _begun(self, one: Trying) -> None:
        """Those on the way: a next try is a whole one, a begun one needs the rest."""
        if one.month >= self.last:
            return
        if one.lessons is None:
            self.tries[one.kind][:, one.month] += self._stay(one.people)
            return
        done = self.course.lessons[one.kind] - one.lessons
        self.tries[one.kind][:, one.month] += one.people
        self.lessons[one.kind][:, one.month] -= done * one.people

    def _stay(self, people: Counts | int) -> Counts:
        """How many of those who were not passed do not give up."""
        return self.chance.binomial(people, 1 - self.shares.gives_up)

    def _fall_due(self, month: int) -> None:
        """Those who come in time try; what is kept runs on, who stayed away is late."""
        for place, term in enumerate(self.course.terms):
            held = self.held[place]
            if term.due != month or not held.any():
                continue
            came = self.chance.binomial(held, self.shares.comes_back)
            self._taught(term.takes, month, came)
            passed = self._pass(term.takes, month, came, term)
            if term.kept is not None:
                self.held[term.kept] = self.held[term.kept] + passed
            self.late.append((term, held - came))

    def _come_late(self, month: int) -> None:
        staying: list[tuple[Term, Counts]] = []
        share = self.shares.comes_late * self.months.parts[month]
        for term, waiting in self.late:
            if month >= term.gone_from or not waiting.any():
                continue
            if month < term.late_from:
                staying.append((term, waiting))
                continue
            came = self.chance.binomial(waiting, share)
            kind: Kind = "refresher" if month <= term.suffices else "practical"
            self.tries[kind][:, month] += came
            staying.append((term, waiting - came))
        self.late = staying

    def _taught(self, kind: Kind, month: int, tries: Counts) -> None:
        """Counts the lessons that so many tries take."""
        more = self.chance.poisson(self.shares.extra[kind] * tries)
        self.lessons[kind][:, month] += tries * self.course.lessons[kind] + more

    def _pass(self, kind: Kind, month: int, tries: Counts, term: Term | None = None) -> Counts:
        """How many pass; the others try again, those of a term with a refresher while it does."""
        again = self.chance.binomial(tries, self.shares.again[kind])
        later = month + self.habits.again_after[kind]
        if later < self.last:
            too_late = term is not None and later > term.suffices
            self.tries["practical" if too_late else kind][:, later] += self._stay(again)
        return tries - again

    def _start_anew(self, month: int, passed: Counts) -> None:
        place = self.course.fresh[month]
        self.held[place] = self.held[place] + passed
