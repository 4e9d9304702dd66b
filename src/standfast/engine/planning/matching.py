"""Which candidate teaches which lesson, once it is settled which lessons take place."""

from __future__ import annotations

from collections.abc import Sequence

from standfast.problems import StandfastError

Panel = tuple[str, ...]
"""One assessor or two."""
Spot = tuple[int, Panel]
"""A slot, and who scores a lesson in it."""


def first_match(spots: Sequence[Spot], may: dict[str, list[Spot]]) -> dict[str, Spot]:
    """A candidate for every spot: in alphabetical order each has the earliest spot that can be."""
    left, chosen, waiting = list(spots), dict[str, Spot](), dict(may)
    for candidate in sorted(may):
        fitting = waiting.pop(candidate)
        for spot in fitting:
            rest = [other for other in left if other != spot]
            if spot in left and _matched(rest, waiting):
                chosen[candidate], left = spot, rest
                break
    if left:
        raise StandfastError("the solver's answer has a lesson that no candidate can teach")
    return chosen


def _matched(spots: Sequence[Spot], may: dict[str, list[Spot]]) -> bool:
    """Whether every spot can have a candidate of its own (augmenting paths, Kuhn 1955)."""
    teaches: dict[str, Spot] = {}

    def find(spot: Spot, asked: set[str]) -> bool:
        for candidate, fitting in may.items():
            if spot in fitting and candidate not in asked:
                asked.add(candidate)
                if candidate not in teaches or find(teaches[candidate], asked):
                    teaches[candidate] = spot
                    return True
        return False

    return all(find(spot, set()) for spot in spots)
