"""What an appeal is against that holds now: so much is undone when it is upheld, and no more."""

from __future__ import annotations

from typing import TYPE_CHECKING

from standfast.desk.awards import reduction_of
from standfast.desk.opening import Desk
from standfast.engine.appeals import is_against
from standfast.model.award import Award

if TYPE_CHECKING:
    from standfast.store.appeals import KeptAppeal
    from standfast.store.awards import KeptRuling


def withdrawal_undone(desk: Desk, award: Award) -> bool:
    """Whether an appeal against the withdrawal of the award was upheld by the desk's day."""
    return any(
        kept.answer.outcome == "upheld" and against_stop(desk, kept, award)
        for kept in desk.book.appeals(award=award.id)
        if kept.answer and kept.answer.on <= desk.today
    )


def against_stop(desk: Desk, kept: KeptAppeal, award: Award) -> bool:
    """Whether it is an appeal against what stops the award on the desk's day."""
    stops = [one for one in _ruled(desk, award) if one.ruling.kind in STOPPING]
    return bool(stops) and stops[-1].ruling.kind != "reinstated" and _against(kept, stops[-1])


STOPPING = frozenset({"suspended", "reinstated", "withdrawn"})


def against_reduction(desk: Desk, kept: KeptAppeal, award: Award) -> bool:
    """Whether it is an appeal against what reduces the award's scope on the desk's day.

    A reduction that came with a renewal stands in the award itself.
    """
    own: list[KeptRuling] = []
    for one in _ruled(desk, award):
        if one.ruling.kind == "restored":
            own = []
        elif one.ruling.kind == "reduced":
            own.append(one)
    if own:
        return any(_against(kept, one) for one in own)
    about = kept.appeal
    return about.award == award.id and not about.ruling and reduction_of(desk, award) is not None


def _ruled(desk: Desk, award: Award) -> list[KeptRuling]:
    """What was ruled of the award by the desk's day, in the order in which it counts."""
    found = [one for one in desk.book.kept_rulings(award.id) if one.ruling.on <= desk.today]
    return sorted(found, key=lambda one: (one.ruling.on, one.seq))


def _against(kept: KeptAppeal, one: KeptRuling) -> bool:
    return one.seq < kept.seq and is_against(kept.appeal, one.ruling, one.entry)
