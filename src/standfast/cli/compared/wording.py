"""The criteria on which assessors differ more than on the others, whoever is strict."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from standfast.cli import show

if TYPE_CHECKING:
    from standfast.agreement.criteria import Wording
    from standfast.desk.comparing import Comparison


def words_of(found: Comparison) -> list[str]:
    """A row for each criterion that stands out; a line when none does."""
    asked = [one.wording for one in found.criteria if one.wording]
    if not asked:
        return ["wording of criteria: none has enough shared lessons to tell"]
    rows = [
        (one.criterion, _percent(one.apart), _beside(one), str(one.beside.n))
        for one in sorted(asked, key=lambda one: -one.beside.value)
        if one.stands_out
    ]
    if not rows:
        return ["wording of criteria: none is worse than the others, beyond chance and severity"]
    head = ("wording to look at", "% of the scale apart", "more than others", "lessons")
    return show.table(rows, head)


def _percent(share: float) -> str:
    return f"{share * 100:3.0f}"


def _beside(one: Wording) -> str:
    value, low, high = (
        round(part * 100) for part in (one.beside.value, one.beside.low, one.beside.high)
    )
    return f"{value:+4d}  ({low:+d} to {high:+d}) *"


def value_of(one: Wording | None) -> dict[str, Any] | None:
    """The same as JSON values; None where too few lessons tell."""
    if one is None:
        return None
    return {
        "apart": one.apart,
        "beside_others": asdict(one.beside),
        "p_adjusted": one.p,
        "stands_out": one.stands_out,
    }
