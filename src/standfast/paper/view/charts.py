"""Charts whose numbers stand in a table beside them: where each mark goes, in a drawing of its own.

Only places and words; `templates/charts.html` draws them.  Nothing is told by colour: what
matters is told by shape, place and number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

WIDTH = 560
LABELS, PLOT_END = 212, 540
ROW, HIGHER_ROW, HEAD, FOOT = 19, 28, 10, 30
MOST_ROWS = 40
"""Of a chart, fewer when they are higher; the table has all."""
LONGEST_LABEL, LONGEST_SMALL_LABEL = 32, 46
CELL = 46


@dataclass(frozen=True)
class Spread:
    """A figure with its bounds, if there are any."""

    name: str
    value: float
    low: float | None
    high: float | None
    of: str = ""
    """What it belongs to, beneath its name."""


@dataclass(frozen=True)
class Label:
    """A name as far as there is room for it."""

    words: str
    whole: str
    ends: ClassVar[int] = LABELS - 6
    """Where its last letter stands."""

    @property
    def cut(self) -> bool:
        """Whether some of it is left out."""
        return self.words != self.whole


@dataclass(frozen=True)
class Dot:
    """One row of a chart of dots."""

    label: Label
    of: Label
    """What it belongs to; empty when all belong to one."""
    y: float
    x: float
    left: float | None
    right: float | None


@dataclass(frozen=True)
class Tick:
    """A place on the axis."""

    at: float
    words: str


@dataclass(frozen=True)
class Dots:
    """Figures beneath each other, each a dot on its interval."""

    id: str
    title: str
    desc: str
    width: int
    height: int
    rows: tuple[Dot, ...]
    ticks: tuple[Tick, ...]
    line: Tick | None
    """A place that matters, through all rows."""
    axis: str
    bottom: float
    kind: str = "dots"


def dots(
    id: str,  # noqa: A002 - the attribute's name
    title: str,
    desc: str,
    spreads: Sequence[Spread],
    ends: tuple[float, float],
    ticks: Sequence[tuple[float, str]],
    axis: str,
    line: tuple[float, str] | None = None,
) -> Dots:
    """A chart of the first of these, as many as fit, between the two ends of the axis."""
    low, high = ends

    def across(value: float) -> float:
        share = (min(max(value, low), high) - low) / (high - low)
        return round(LABELS + share * (PLOT_END - LABELS), 1)

    tall = HIGHER_ROW if any(one.of for one in spreads) else ROW
    shown = spreads[: MOST_ROWS * ROW // tall]
    rows = tuple(
        Dot(
            _label(one.name),
            _label(one.of, LONGEST_SMALL_LABEL),
            HEAD + tall * (number + 0.5),
            across(one.value),
            None if one.low is None else across(one.low),
            None if one.high is None else across(one.high),
        )
        for number, one in enumerate(shown)
    )
    bottom = HEAD + tall * len(shown)
    places = tuple(Tick(across(at), words) for at, words in ticks)
    through = None if line is None else Tick(across(line[0]), line[1])
    height = bottom + FOOT
    return Dots(id, title, desc, WIDTH, height, rows, places, through, axis, bottom)


@dataclass(frozen=True)
class Cell:
    """One cell of a grid."""

    x: float
    y: float
    words: str
    fill: str
    ink: str
    same: bool
    """Whether both are the same level."""


@dataclass(frozen=True)
class Grid:
    """Counts by row and column, darker where there are more."""

    id: str
    title: str
    desc: str
    width: int
    height: int
    cell: int
    cells: tuple[Cell, ...]
    rows: tuple[Tick, ...]
    columns: tuple[Tick, ...]
    row_words: str
    column_words: str
    kind: str = "grid"


GRID_LEFT, GRID_TOP, GRID_LEAST = 40, 52, 300
GREYS = ("#ffffff", "#ececec", "#d6d6d6", "#bdbdbd", "#a3a3a3")


def grid(
    id: str,  # noqa: A002 - the attribute's name
    title: str,
    desc: str,
    levels: Sequence[str],
    counts: Sequence[Sequence[int]],
    words: tuple[str, str],
) -> Grid:
    """A grid of counts; `words` say whose rows and whose columns."""
    most = max(map(max, counts))
    cells = tuple(
        Cell(
            GRID_LEFT + CELL * column,
            GRID_TOP + CELL * row,
            str(count),
            GREYS[0 if not count else 1 + (count * (len(GREYS) - 2)) // most],
            "#000000",
            row == column,
        )
        for row, line in enumerate(counts)
        for column, count in enumerate(line)
    )
    middle = [(number + 0.5) * CELL for number in range(len(levels))]
    rows = tuple(Tick(GRID_TOP + at, name) for at, name in zip(middle, levels, strict=True))
    columns = tuple(Tick(GRID_LEFT + at, name) for at, name in zip(middle, levels, strict=True))
    width = max(GRID_LEFT + CELL * len(levels) + 8, GRID_LEAST)
    height = GRID_TOP + CELL * len(levels) + 8
    row_words, column_words = words
    return Grid(
        *(id, title, desc, width, height, CELL, cells, rows, columns, row_words, column_words)
    )


@dataclass(frozen=True)
class Point:
    """One period of a course."""

    x: float
    y: float
    top: float | None
    bottom: float | None


@dataclass(frozen=True)
class Panel:
    """One assessor's course."""

    label: Label
    points: tuple[Point, ...]
    path: str
    """The points joined, as an SVG polyline wants them."""
    top: float
    middle: float
    bottom: float


@dataclass(frozen=True)
class Courses:
    """Small pictures beneath each other on one scale, periods from left to right."""

    id: str
    title: str
    desc: str
    width: int
    height: int
    panels: tuple[Panel, ...]
    periods: tuple[Tick, ...]
    left: float
    right: float
    most: str
    """The end of the scale, in words."""
    kind: str = "courses"


PANEL, GAP = 38, 10


def courses(
    id: str,  # noqa: A002 - the attribute's name
    title: str,
    desc: str,
    periods: Sequence[str],
    each: Sequence[tuple[str, Sequence[tuple[int, Spread]]]],
) -> Courses:
    """One small picture for each name: its spreads by the place of their period."""
    ends = [
        abs(end)
        for _, spreads in each
        for _, one in spreads
        for end in (one.value, one.low, one.high)
        if end is not None
    ]
    most = max([*ends, 0.05])
    step = (PLOT_END - LABELS) / max(len(periods), 1)

    def panel(number: int, name: str, spreads: Sequence[tuple[int, Spread]]) -> Panel:
        top = HEAD + number * (PANEL + GAP)
        middle = top + PANEL / 2

        def up(value: float) -> float:
            return round(middle - value / most * PANEL / 2, 1)

        points = tuple(
            Point(
                round(LABELS + (place + 0.5) * step, 1),
                up(one.value),
                None if one.high is None else up(one.high),
                None if one.low is None else up(one.low),
            )
            for place, one in spreads
        )
        path = " ".join(f"{point.x},{point.y}" for point in points)
        return Panel(_label(name), points, path, top, middle, top + PANEL)

    shown = each[:MOST_ROWS]
    panels = tuple(panel(number, name, spreads) for number, (name, spreads) in enumerate(shown))
    every = max(1, -(-len(periods) // 8))
    ticks = tuple(
        Tick(round(LABELS + (place + 0.5) * step, 1), name)
        for place, name in enumerate(periods)
        if place % every == 0
    )
    height = HEAD + len(shown) * (PANEL + GAP) + FOOT - GAP
    words = f"{most * 100:.0f} %"
    return Courses(id, title, desc, WIDTH, height, panels, ticks, LABELS, PLOT_END, words)


def _label(name: str, longest: int = LONGEST_LABEL) -> Label:
    """Cut between two words, unless that leaves less than half of the room."""
    if len(name) <= longest:
        return Label(name, name)
    room = name[:longest]
    words = room.rpartition(" ")[0]
    kept = words if len(words) >= longest / 2 else room[:-1]
    return Label(f"{kept.rstrip(' ,;:-')}…", name)
