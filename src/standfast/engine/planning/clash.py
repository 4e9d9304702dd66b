"""The smallest set of wishes that cannot all be met.

Implicit hitting sets (Ignatiev, Previti, Liffiton & Marques-Silva 2015, "Smallest MUS extraction
with minimal hitting set dualization", from memory).  A set of wishes that can be met leaves out
others; whatever clashes must have one of those left out.  So take the smallest set that has one of
each collection left out so far: when it cannot be met, no smaller set clashes; when it can, the
wishes that its lessons do not meet, and that cannot be added, are a collection more.

What the answer stands on: every set that can be met was shown by lessons that are counted again;
that the smallest set cannot be met was asked twice, with the solver's presolve and without.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from standfast.engine.planning.day import any_plan
from standfast.engine.planning.lessons import Lesson
from standfast.engine.planning.programme import FREE, Programme, Watch, first_in_order, worth
from standfast.engine.planning.wishes import Day, Wish, unmet
from standfast.problems import StandfastError


@dataclass(frozen=True)
class Clash:
    """A smallest set of wishes that cannot all be met."""

    wishes: tuple[Wish, ...]
    enough: tuple[bool, ...]
    """For each, whether a plan is possible once it alone is dropped from the day."""


def smallest_clash(day: Day, watch: Watch) -> Clash:
    """A smallest set of wishes that cannot all be met; of several the first in the day's order.

    The day's wishes together cannot be met.

    Raises:
        Unsettled: time was over before it was proved.
        StandfastError: the solver contradicts itself.
    """
    left_out: list[frozenset[Wish]] = []
    while True:
        wanted = smallest_hitting(day.wishes, left_out, watch)
        watch.say(f"looking whether {len(wanted)} of the wishes clash")
        lessons = any_plan(day, wanted, watch)
        if lessons is None:
            break
        left_out.append(_cannot_be_added(day, lessons, watch))
    if any_plan(day, wanted, watch, presolve=False) is not None:
        raise StandfastError("the solver contradicts itself on this day; change it a little")
    enough = tuple(_without(day, wish, watch) for wish in wanted)
    return Clash(wanted, enough)


def _without(day: Day, wish: Wish, watch: Watch) -> bool:
    watch.say(f"looking what is possible without: {wish.says}")
    return any_plan(day, [other for other in day.wishes if other != wish], watch) is not None


def _cannot_be_added(day: Day, lessons: Sequence[Lesson], watch: Watch) -> frozenset[Wish]:
    """The wishes that cannot be added, one after the other, to those that are met."""
    waiting = unmet(day.wishes, lessons, day)
    met = [wish for wish in day.wishes if wish not in waiting]
    missing: list[Wish] = []
    while waiting:
        wish, *rest = waiting
        found = any_plan(day, [*met, wish], watch)
        if found is None:
            missing.append(wish)
            waiting = tuple(rest)
        else:
            still = unmet(rest, found, day)
            met += [other for other in waiting if other not in still]
            waiting = still
    if not missing:
        raise StandfastError("the solver contradicts itself on this day; change it a little")
    return frozenset(missing)


def smallest_hitting(
    wishes: Sequence[Wish], sets: Sequence[frozenset[Wish]], watch: Watch
) -> tuple[Wish, ...]:
    """The fewest wishes that have one of each set, the first such in the order of the wishes."""
    programme = Programme()
    chosen = {wish: programme.variable() for wish in wishes}
    for one in sets:
        programme.row({chosen[wish]: 1 for wish in one}, 1, FREE)
    aim = dict.fromkeys(chosen.values(), 1)
    values = programme.solve(aim, watch)
    if values is None:
        raise StandfastError("the solver contradicts itself on this day; change it a little")
    programme.row(aim, -FREE, worth(aim, values))
    values = first_in_order(programme, chosen.values(), watch) or values
    return tuple(wish for wish, variable in chosen.items() if values[variable])
