"""Where the differences come from, and what a second assessor or practical buys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from standfast.cli import show

if TYPE_CHECKING:
    from standfast.desk.comparing import Comparison
    from standfast.desk.panels import Panel, Panels
    from standfast.desk.sources import NotTold, Origins


def words_of(found: Comparison) -> list[str]:
    """A table of sources, a table of panels; or why there is none."""
    return [*_origins(found.origins), "", *_panels(found.panels)]


def _origins(origins: Origins | NotTold) -> list[str]:
    from standfast.cli.words import wrapped
    from standfast.desk.sources import NotTold

    if isinstance(origins, NotTold):
        return wrapped(f"where differences come from cannot be told: {origins.reason}")
    rows = [(one.what, f"{one.share * 100:3.0f} %", one.words) for one in origins.parts]
    lines = show.table(rows, ("differences come from", "share", "in words"))
    criteria = show.counted(len(origins.criteria), "criterion")
    how = f"{origins.method}, as {origins.why}; {origins.marks} marks of {criteria}"
    return [*lines, *wrapped("; ".join((how, *origins.said)))]


def _panels(panels: Panels | NotTold) -> list[str]:
    from standfast.cli.words import wrapped
    from standfast.desk.sources import NotTold

    if isinstance(panels, NotTold):
        return wrapped(f"what a second assessor buys cannot be told: {panels.reason}")
    seen = show.counted(panels.lessons, "lesson")
    if panels.candidates:
        seen += f" of {show.counted(panels.candidates, 'candidate')}"
    return [
        *wrapped(panels.says),
        "",
        *show.table(list(_rows(panels)), ("another panel decides otherwise", *_SIZES)),
        *wrapped(
            "In brackets its bounds, by drawing people again; then Phi, of which 1 is best. Pass or"
            f" fail is taken {panels.where}; from {seen} by their whole sheets, supposing normal"
            " differences."
        ),
    ]


_SIZES = ("1 assessor", "2 assessors", "3 assessors")


def _rows(panels: Panels) -> Iterator[tuple[str, ...]]:
    for days in sorted({one.practicals for one in panels.tried}):
        each = [one for one in panels.tried if one.practicals == days]
        yield (show.counted(days, "practical"), *map(_chance, each))


def _chance(panel: Panel) -> str:
    chance = f"{panel.otherwise * 100:2.0f} %"
    if panel.low is not None and panel.high is not None:
        chance += f"  ({panel.low * 100:.0f}-{panel.high * 100:.0f})"
    return f"{chance}  {panel.absolute:.2f}"


def value_of(found: Comparison) -> dict[str, Any]:
    """The same as JSON values, under `sources` and `panels`."""
    return {"sources": _value(found.origins), "panels": _value(found.panels)}


def _value(told: Origins | Panels | NotTold) -> dict[str, Any]:
    from standfast.desk.sources import NotTold

    if isinstance(told, NotTold):
        return {"told": False, "reason": told.reason}
    return {"told": True, **asdict(told)}
