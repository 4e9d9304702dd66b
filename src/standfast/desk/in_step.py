"""What a comparison of assessors comes to: are we in step, what stands out, what to do next."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING

from standfast.desk.comparing import ALIKE_ENOUGH, MOST_NAMED, Comparison

if TYPE_CHECKING:
    from standfast.agreement.habits import Habit, Pair

NO_PROOF = (
    "Being in step is not being right: assessors can share a mistake, and of a criterion that is"
    " nearly always met two who do not look agree as well. Differences are between those who saw"
    " the same lessons; of two, nobody can say which one is off. No figure here says that anybody"
    " may teach, or may not."
)


def three_sentences(found: Comparison, called: Callable[[str], str] = str) -> tuple[str, str, str]:
    """Whether they are in step, who or what stands out, and what to do next.

    `called` says what a criterion is called.
    """
    return _whether(found), _what_stands_out(found, called), _next(found, called)


def hundred(share: float) -> str:
    """87 of 100."""
    return f"{share * 100:.0f} of 100"


def _whether(found: Comparison) -> str:
    alike = found.alike
    seen = f"over {_lessons(alike.n)} two assessors marked alike {hundred(alike.value)} times"
    if alike.low is None or alike.high is None:
        return f"Whether the assessors are in step cannot be told yet: {seen}, which is too few."
    bounds = f"{alike.low * 100:.0f} to {alike.high * 100:.0f}"
    told = {
        "in step": "On the whole the assessors are in step",
        "not in step": "The assessors are not in step",
        "cannot be told": "Whether the assessors are in step cannot be told yet",
    }[found.word]
    enough = f"enough would be {ALIKE_ENOUGH * 100:.0f}"
    return f"{told}: {seen} (likely {bounds}; {enough})."


def _lessons(number: int) -> str:
    return "1 lesson" if number == 1 else f"{number} lessons"


def _lonely_pairs(found: Comparison) -> tuple[Pair, ...]:
    """One-sided pairs of whom neither was named already."""
    named = {one.assessor for one in found.habits.shifted}
    return tuple(p for p in found.one_sided if not {p.first, p.second} & named)


def _what_stands_out(found: Comparison, called: Callable[[str], str]) -> str:
    named = list(_standing_out(found, called))
    if not named:
        return "Nobody and no criterion stands out by more than chance."
    return f"What stands out: {'; '.join(named)}."


def _standing_out(found: Comparison, called: Callable[[str], str]) -> Iterator[str]:
    names, habits = found.marks.names, found.habits
    for one in found.habits.shifted[:MOST_NAMED]:
        yield f"{names[one.assessor]} marks {_shift(one)} than the others who saw the same"
    for one in habits.drifted[:MOST_NAMED]:
        yield f"{names[one.assessor]} marked {_shift(one)} in {one.period} than before"
    for kind, words in (
        (habits.halo, "gives all criteria of a lesson nearly the same mark"),
        (habits.central_tendency, "keeps to the middle of the scale"),
    ):
        for one in kind:
            if one.stands_out and one.mean.value < 0:
                yield f"{names[one.assessor]} {words} more than the others"
    yield from (_pair_words(pair, names) for pair in _lonely_pairs(found)[:MOST_NAMED])
    for criterion in found.unclear[:MOST_NAMED]:
        worse = criterion.wording is not None and criterion.wording.stands_out
        why = ", more than strictness explains" if worse else ""
        often = hundred(criterion.alike.value)
        yield f"'{called(criterion.criterion)}' is marked alike only {often} times{why}"


def _shift(one: Habit) -> str:
    """How far and whereto: 13 % of the scale lower."""
    word = "lower" if one.mean.value < 0 else "higher"
    return f"{abs(one.mean.value) * 100:.0f} % of the scale {word}"


def _pair_words(pair: Pair, names: Mapping[str, str]) -> str:
    less, more = (
        (pair.first, pair.second) if pair.lower > pair.higher else (pair.second, pair.first)
    )
    often = max(pair.lower, pair.higher)
    return f"{names[less]} gave less than {names[more]} in {often} of {pair.lessons} lessons"


def _next(found: Comparison, called: Callable[[str], str]) -> str:
    steps = [*_talks(found), *_to_look_at(found), *_words_to_mend(found, called)]
    if not steps and found.word == "in step":
        return "Next: go on as you do, and ask again when a quarter's lessons have been added."
    if not steps:
        steps.append("have more lessons scored by two, so that it can be told")
    return f"Next: {'; '.join(steps)}."


def _talks(found: Comparison) -> Iterator[str]:
    names, off = found.marks.names, found.habits.shifted
    low = [one for one in off if one.mean.value < 0]
    high = [one for one in off if one.mean.value > 0]
    if low and high:
        both = f"{names[low[0].assessor]} and {names[high[0].assessor]}"
        yield f"let {both} score a lesson together and talk over every mark that differs"
    elif off:
        who = names[off[0].assessor]
        yield f"let {who} score a lesson with each of two others, and talk over what differs"
    for one in found.habits.drifted[:MOST_NAMED]:
        yield f"have {names[one.assessor]} score a reference practical"
    halo = [one for one in found.habits.halo if one.stands_out and one.mean.value < 0]
    middle = [one for one in found.habits.central_tendency if one.stands_out and one.mean.value < 0]
    for who in dict.fromkeys(names[one.assessor] for one in (*halo, *middle)):
        yield f"ask {who} to mark each criterion by its own words, with an example for each level"
    for pair in _lonely_pairs(found)[:1]:
        both = f"{names[pair.first]} and {names[pair.second]}"
        yield f"let {both} talk over a lesson that both scored"


def _to_look_at(found: Comparison) -> Iterator[str]:
    """Decisions that may have come out as they did by severity alone."""
    asked = found.otherwise
    if asked and asked.found:
        count = len(asked.found)
        which = "1 decision" if count == 1 else f"{count} decisions"
        yield (
            f"have a person look at {which} that assessors of average severity would have made"
            " come out otherwise (nothing was changed)"
        )


def _words_to_mend(found: Comparison, called: Callable[[str], str]) -> Iterator[str]:
    if found.unclear:
        worst = called(found.unclear[0].criterion)
        yield (
            f"talk over what '{worst}' looks like, and put it into words that two strangers would"
            " tick alike (in a new version of the rubric)"
        )
