"""What a wished day says that cannot be, before anybody asks whether it can be planned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from standfast.model.plan import AskedDay
from standfast.problems import Fault, Path, nearest


def faults_in_day(day: AskedDay) -> tuple[Fault, ...]:
    """What the day says that cannot be, each with its path; none when all is well."""
    return (*_lists(day), *_slots(day), *_free(day), *_apart(day))


def _lists(day: AskedDay) -> Iterator[Fault]:
    """Empty lists, somebody or a slot listed twice, and who would score and be scored."""
    lists: dict[tuple[str, str], list[str]] = {
        ("slots", "slot"): [slot.slot for slot in day.slots],
        ("assessors", "assessor"): [one.assessor for one in day.assessors],
        ("candidates", "candidate"): [one.candidate for one in day.candidates],
    }
    for (key, word), names in lists.items():
        if not names:
            yield Fault((key,), f"no {word} is listed", f"write '- {word}: ...' lines")
        for number, name in enumerate(names):
            if name in names[:number]:
                yield Fault((key, number, word), f"{word} '{name}' is listed twice", "keep one")
    scoring = {one.assessor for one in day.assessors}
    for number, one in enumerate(day.candidates):
        if one.candidate in scoring:
            what = f"'{one.candidate}' is to teach and to score on the same day"
            yield Fault(("candidates", number, "candidate"), what, "keep one, or plan two days")


def _slots(day: AskedDay) -> Iterator[Fault]:
    for number, slot in enumerate(day.slots):
        if slot.ends <= slot.begins:
            what = f"slot '{slot.slot}' ends at {slot.ends}, and begins at {slot.begins}"
            yield Fault(("slots", number, "ends"), what, "let it end later")
    in_time = sorted(enumerate(day.slots), key=lambda found: (found[1].begins, found[1].ends))
    for (_, one), (number, following) in pairwise(in_time):
        if one.slot != following.slot and following.begins < one.ends:
            what = (
                f"slot '{following.slot}' begins at {following.begins}, before '{one.slot}' ends"
                f" at {one.ends}"
            )
            yield Fault(("slots", number, "begins"), what, "let them follow each other")


def _free(day: AskedDay) -> Iterator[Fault]:
    known = [slot.slot for slot in day.slots]
    for number, assessor in enumerate(day.assessors):
        yield from _free_slots(assessor.free, known, ("assessors", number), assessor.assessor)
    for number, candidate in enumerate(day.candidates):
        yield from _free_slots(candidate.free, known, ("candidates", number), candidate.candidate)


def _free_slots(
    free: Sequence[str] | None, known: Sequence[str], path: Path, who: str
) -> Iterator[Fault]:
    if free is None:
        return
    if not free:
        what = f"'{who}' is free in no slot"
        yield Fault((*path, "free"), what, "leave the person out, or 'free' for every slot")
    for place, slot in enumerate(free):
        if slot not in known:
            yield Fault((*path, "free", place), f"no slot '{slot}'", nearest(slot, known))


def _apart(day: AskedDay) -> Iterator[Fault]:
    assessors = [one.assessor for one in day.assessors]
    candidates = [one.candidate for one in day.candidates]
    for number, one in enumerate(day.apart):
        for word, who, known in (
            ("assessor", one.assessor, assessors),
            ("candidate", one.candidate, candidates),
        ):
            if who not in known:
                what = f"{word} '{who}' does not come that day"
                yield Fault(("apart", number, word), what, nearest(who, known))
