"""The best plan of a day: who sees whom, and when.

A variable says whether two assessors, or one alone, score a lesson in a slot.  Which candidate
teaches it follows by a flow of candidates to lessons: at given lessons that is a transportation
problem, whose corners are whole, so the candidates need no whole-number variables of their own,
and those who are alike need not be told apart.

Linking: one assessor sends a unit of flow to each other over pairs that score together
(single-commodity flow; Gavish & Graves 1978, from memory).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from standfast.engine.planning.lessons import Lesson, Measures, loads, measures
from standfast.engine.planning.matching import Panel, Spot, first_match
from standfast.engine.planning.moving import moved
from standfast.engine.planning.programme import (
    FREE,
    Programme,
    Terms,
    Unsettled,
    Watch,
    first_in_order,
    worth,
)
from standfast.engine.planning.wishes import Day, Wish, unmet
from standfast.problems import StandfastError

AIMS = ("fewest scorings", "least difference of load", "fewest gaps", "earliest finish")
"""What is asked of a plan, in this order, among all that meet every wish."""
SAME = "the same plan on every machine"


@dataclass(frozen=True)
class Plan:
    """Lessons that meet every wish of the day."""

    lessons: tuple[Lesson, ...]
    worth: Measures
    unproved: tuple[str, ...] = ()
    """Of AIMS and SAME, those for which time did not suffice."""


def best_plan(day: Day, watch: Watch) -> Plan | None:
    """The plan that is best by AIMS, or None when the wishes cannot all be met.

    Nobody scores more than the wishes ask.  Of equally good plans it is the one whose lessons
    come first in the order of slots, assessors and candidates.

    Raises:
        Unsettled: time was over before any plan was found.
    """
    programme = DayProgramme(day, day.wishes)
    values: tuple[int, ...] | None = None
    unproved, least = [*AIMS, SAME], []
    try:
        for name, aim in zip(AIMS, programme.aims(), strict=True):
            watch.say(f"looking for the {name}")
            found = programme.solve(aim, watch)
            if found is None:
                return None
            values = found
            least.append(worth(aim, values))
            programme.row(aim, -FREE, least[-1])
            unproved.remove(name)
        watch.say("choosing one of the equally good plans")
        values = first_in_order(programme, programme.spots.values(), watch) or values
        unproved.remove(SAME)
    except Unsettled as over:
        values = over.best or values
        if values is None:
            raise
    lessons = programme.lessons(values or ())
    if unproved:
        lessons = moved(lessons, day)
    lessons = _counted(lessons, day, day.wishes)
    counted = measures(lessons, day.assessors)
    claimed = [counted.sheets, counted.difference, counted.sheets + counted.gaps, counted.finish]
    if claimed[: len(least)] != least:
        raise StandfastError(f"the solver says {least}, its lessons say {claimed}")
    return Plan(lessons, counted, tuple(unproved))


def any_plan(
    day: Day, wishes: Collection[Wish], watch: Watch, *, presolve: bool = True
) -> tuple[Lesson, ...] | None:
    """Lessons that meet these wishes, or None when there are none; as `best_plan`."""
    programme = DayProgramme(day, wishes)
    values = programme.solve({}, watch, presolve=presolve)
    return None if values is None else _counted(programme.lessons(values), day, wishes)


def _counted(lessons: tuple[Lesson, ...], day: Day, wishes: Collection[Wish]) -> tuple[Lesson, ...]:
    """The lessons, after every rule was counted again from them alone."""
    broken = [wish.says for wish in unmet(wishes, lessons, day)]
    broken += [
        f"{load.assessor} scores two lessons at a time"
        for load in loads(lessons, day.assessors)
        if len(set(load.slots)) < len(load.slots)
    ]
    if len({lesson.candidate for lesson in lessons}) < len(lessons):
        broken.append("a candidate teaches twice")
    if broken:
        raise StandfastError(f"the solver's answer breaks: {'; '.join(broken)}")
    return lessons


class DayProgramme(Programme):
    """The programme of a day under some of its wishes."""

    def __init__(self, day: Day, wishes: Collection[Wish]) -> None:
        super().__init__()
        self.day = day
        self.wishes = [wish for wish in day.wishes if wish in wishes]
        self.panels: tuple[Panel, ...] = tuple(
            sorted([(a,) for a in day.assessors] + list(combinations(day.assessors, 2)))
        )
        self.spots: dict[Spot, int] = {
            spot: self.variable() for spot in self._spots() if self._free(spot)
        }
        self.kinds = self._kinds()
        self._one_at_a_time()
        self._candidates()
        self._counts()
        if self._wish("linked"):
            self._linked()

    def _spots(self) -> Iterator[Spot]:
        return ((slot, panel) for slot in range(self.day.slots) for panel in self.panels)

    def _of_kind(self, kind: str) -> Iterator[Wish]:
        return (wish for wish in self.wishes if wish.kind == kind)

    def _wish(self, kind: str) -> Wish | None:
        return next(self._of_kind(kind), None)

    def _free(self, spot: Spot) -> bool:
        slot, panel = spot
        return all(
            slot in wish.slots for wish in self._of_kind("assessor free") if wish.who in panel
        )

    def _kinds(self) -> dict[tuple[frozenset[int], frozenset[Panel]], list[str]]:
        """Candidates who may have the same slots and the same assessors, together."""
        kinds: dict[tuple[frozenset[int], frozenset[Panel]], list[str]] = {}
        for candidate in self.day.candidates:
            own = [wish for wish in self.wishes if wish.who == candidate]
            slots = frozenset(range(self.day.slots))
            for wish in own:
                if wish.kind == "candidate free":
                    slots &= wish.slots
            panels = frozenset(panel for panel in self.panels if not _barred(panel, own))
            kinds.setdefault((slots, panels), []).append(candidate)
        return kinds

    def _with(self, assessor: str, slot: int | None = None) -> dict[int, int]:
        """Every lesson that the assessor may score, in that slot or in any."""
        return {
            variable: 1
            for (at, panel), variable in self.spots.items()
            if assessor in panel and slot in {None, at}
        }

    def _doubles(self) -> dict[int, int]:
        return {v: 1 for (_, panel), v in self.spots.items() if len(panel) > 1}

    def _one_at_a_time(self) -> None:
        rooms = self._wish("rooms")
        for slot in range(self.day.slots):
            for assessor in self.day.assessors:
                self.row(self._with(assessor, slot), 0, 1)
            if rooms:
                there = {v: 1 for (at, _), v in self.spots.items() if at == slot}
                self.row(there, 0, rooms.number)

    def _candidates(self) -> None:
        """Every lesson has a candidate of a kind that may teach it, each candidate one lesson.

        Panels that the same kinds may have are one node of the flow.
        """
        alike: dict[frozenset[int], set[Panel]] = {}
        for panel in self.panels:
            may = frozenset(n for n, (_, panels) in enumerate(self.kinds) if panel in panels)
            alike.setdefault(may, set()).add(panel)
        teaching: list[dict[int, int]] = [{} for _ in self.kinds]
        slots_and_members = [(slots, who) for (slots, _), who in self.kinds.items()]
        for slot in range(self.day.slots):
            for may, panels in alike.items():
                balance = {v: -1 for (at, p), v in self.spots.items() if at == slot and p in panels}
                for kind in sorted(may):
                    slots, members = slots_and_members[kind]
                    if balance and slot in slots:
                        there = self.variable(len(members), whole=False)
                        balance[there] = teaching[kind][there] = 1
                self.row(balance, 0, 0)
        seen = self._wish("seen")
        for (_, members), terms in zip(slots_and_members, teaching, strict=True):
            self.row(terms, len(members) if seen else 0, len(members))

    def _counts(self) -> None:
        doubles = self._wish("double")
        if doubles:
            self.row(self._doubles(), doubles.number, FREE)
        for wish in self._of_kind("most"):
            self.row(self._with(wish.who), 0, wish.number)
        self.busiest = self.variable(self.day.slots)
        self.least_busy = self.variable(self.day.slots)
        for assessor in self.day.assessors:
            self.row({**self._with(assessor), self.busiest: -1}, -FREE, 0)
            self.row({**self._with(assessor), self.least_busy: -1}, 0, FREE)
        spread = self._wish("spread")
        if spread:
            self.row({self.busiest: 1, self.least_busy: -1}, -FREE, spread.number)

    def _linked(self) -> None:
        """The first assessor sends each other one unit over pairs that score together."""
        assessors = self.day.assessors
        others = len(assessors) - 1
        balance: dict[str, dict[int, int]] = {assessor: {} for assessor in assessors}
        for pair in combinations(assessors, 2):
            together = {v: 1 for (_, panel), v in self.spots.items() if panel == pair}
            open_ = self.variable()
            self.row({**together, open_: -1}, 0, FREE)
            there, back = (self.variable(others, whole=False) for _ in pair)
            self.row({there: 1, back: 1, open_: -others}, -FREE, 0)
            balance[pair[0]].update({there: -1, back: 1})
            balance[pair[1]].update({there: 1, back: -1})
        self.row(balance[assessors[0]], -others, -others)
        for assessor in assessors[1:]:
            self.row(balance[assessor], 1, 1)
        self.row(self._doubles(), others, FREE)  # follows from the flow; makes the proof short
        for assessor in assessors:  # likewise
            pairs = {v: 1 for (_, p), v in self.spots.items() if assessor in p and len(p) > 1}
            self.row(pairs, 1, FREE)

    def aims(self) -> Iterator[Terms]:
        """What AIMS minimise, each made when the one before was settled."""
        yield {variable: len(panel) for (_, panel), variable in self.spots.items()}
        yield {self.busiest: 1, self.least_busy: -1}
        yield self._gaps()
        yield self._finish()

    def _gaps(self) -> Terms:
        """The lengths of the spans from first lesson to last; gaps are these less the lessons."""
        lengths: dict[int, int] = {}
        for assessor in self.day.assessors:
            spans = {
                (first, last): self.variable()
                for first in range(self.day.slots)
                for last in range(first, self.day.slots)
            }
            self.row(dict.fromkeys(spans.values(), 1), 0, 1)
            lengths.update({v: last - first + 1 for (first, last), v in spans.items()})
            for slot in range(self.day.slots):
                around = {v: -1 for (first, last), v in spans.items() if first <= slot <= last}
                self.row({**self._with(assessor, slot), **around}, -FREE, 0)
        return lengths

    def _finish(self) -> Terms:
        finish = self.variable(self.day.slots)
        for slot in range(self.day.slots):
            for assessor in self.day.assessors:
                late = dict.fromkeys(self._with(assessor, slot), -(slot + 1))
                self.row({**late, finish: 1}, 0, FREE)
        return {finish: 1}

    def lessons(self, values: Sequence[int]) -> tuple[Lesson, ...]:
        """The lessons of these values.

        Each candidate, in order, has the first one that leaves one for everybody else.
        """
        spots = sorted(spot for spot, variable in self.spots.items() if values[variable])
        may: dict[str, list[Spot]] = {}
        for (slots, panels), members in self.kinds.items():
            fitting = [spot for spot in spots if spot[0] in slots and spot[1] in panels]
            may.update(dict.fromkeys(members, fitting))
        return tuple(sorted(Lesson(s, p, who) for who, (s, p) in first_match(spots, may).items()))


def _barred(panel: Panel, own: Sequence[Wish]) -> bool:
    """Whether the panel may not score the candidate whose wishes these are."""
    return any(
        (wish.kind == "apart" and wish.others & set(panel))
        or (wish.kind == "beside" and wish.others >= set(panel))
        for wish in own
    )
