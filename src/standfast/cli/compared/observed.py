"""How alike two saw tries and looks, one row for each criterion."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from standfast.cli import show

if TYPE_CHECKING:
    from standfast.agreement.observers import Alike
    from standfast.desk.comparing import Comparison
    from standfast.desk.observed import Observed

HEAD = ("tries and looks", "each", "when yes", "when no", "same share", "count")
HOW_READ = (
    "each: the same answer to a try, or both saw somebody idle at a look, or both nobody; when yes"
    " (when no): the same where at least one said yes, or saw somebody idle (no, or nobody); same"
    " share: of the waiting idle at a look; count: smaller count of a lesson of larger. - has"
    " nothing to be a share of."
)


def words_of(found: Comparison) -> list[str]:
    """The table and how it is read; nothing where there are no tries and no looks."""
    from standfast.cli.words import wrapped

    if not found.observed:
        return []
    rows = [_row(one) for one in found.observed]
    why = wrapped(_why_looks()) if any(one.looks for one in found.observed) else []
    return [*show.table(rows, HEAD), *wrapped(HOW_READ), *why, ""]


def _why_looks() -> str:
    """Why idle students are counted at a moment, and how sure that can be."""
    from standfast.agreement.sampling import ComesAndGoes

    waits, every, looks = ComesAndGoes(bout=8, gap=32), 10, 60
    true, any_time, error = (
        round(100 * share)
        for share in (waits.share, waits.any_time(every), waits.error_of(looks, every))
    )
    return (
        "A look counts who is idle at that moment, which is right on average: of waits of"
        f" {waits.bout:g} s in every {waits.bout + waits.gap:g} s, {looks} looks {every} s apart"
        f" find {true} of 100, give or take {error}; to count who was idle at any time since the"
        f" last look would find {any_time}."
    )


def _row(one: Observed) -> tuple[str, ...]:
    exact = "" if one.exact is None else _percent(one.exact)
    shares = map(_percent, (one.each, one.there, one.not_there))
    return (one.criterion, *shares, exact, _percent(one.total))


def _percent(one: Alike) -> str:
    return "  -" if one.value is None else f"{one.value * 100:3.0f} %"


def value_of(found: Comparison) -> list[dict[str, Any]]:
    """The same as JSON values: for each figure what was alike, out of how much, and why not."""
    return [
        {
            "criterion": one.criterion,
            "kind": "looks" if one.looks else "tries",
            "each": asdict(one.each),
            "scored": asdict(one.there),
            "unscored": asdict(one.not_there),
            "exact_count": asdict(one.exact) if one.exact else None,
            "total_count": asdict(one.total),
        }
        for one in found.observed
    ]
