"""A picture of two kinds of things month by month, with how far each number may lie off.

Told apart by dark and hatched, not by colour; every bar has its numbers as its title, and those of
each quarter stand under it as text.  SVG of a generic font, without script; the same numbers give
the same bytes.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import escape

LEFT, HEAD, PLOT, FOOT = 48, 60, 220, 100
COLUMN, LEAST_GROUP, GAP, LEAST_WIDTH = 46, 138, 14, 480
TITLE, NOTE, LEADING = 15, 11, 1.4
WIDE = 0.6
"""How wide a letter is at the most, of the size of the font, in a line of many."""
BAR, CAP = 13, 3
INK, PALE, DARK = "#222", "#bbb", "#888"
FILLS = (DARK, "url(#hatched)")
STEPS = (1, 2, 5)
MOST_LINES = 6


@dataclass(frozen=True)
class Bar:
    """A number, and the bounds around it."""

    mean: float
    low: int
    high: int

    def __str__(self) -> str:
        return f"{self.mean:.1f} ({self.low}\u2013{self.high})"


@dataclass(frozen=True)
class Group:
    """A named span with a bar of each kind."""

    name: str
    bars: tuple[Bar, Bar]


@dataclass(frozen=True)
class Bars:
    """What the picture shows; all words are said already."""

    title: str
    notes: tuple[str, ...]
    """Lines under the picture: how to read it, and the caution."""
    kinds: tuple[str, str]
    columns: tuple[Group, ...]
    """Months, each named by year and month."""
    groups: tuple[tuple[Group, int], ...]
    """Quarters, each with how many columns it has; together all of them."""


def draw_bars(shown: Bars) -> str:
    """The picture as SVG text, with a line end after every element."""
    return "\n".join([*_Picture(shown).lines(), "</svg>", ""])


class _Picture:
    def __init__(self, shown: Bars) -> None:
        self.shown = shown
        self.places, self.edges = _places([count for _, count in shown.groups])
        self.width = max(self.edges[-1] + GAP, LEAST_WIDTH)
        self.title = self._wrapped(shown.title, TITLE)
        self.notes = [line for note in shown.notes for line in self._wrapped(note, NOTE)]
        self.plot = HEAD + len(self.title) * TITLE * LEADING
        self.foot = self.plot + PLOT
        self.height = math.ceil(self.foot + FOOT + len(self.notes) * NOTE * LEADING)
        highest = max(max(bar.high, bar.mean) for column in shown.columns for bar in column.bars)
        self.step = _step(highest)
        self.top = self.step * max(math.ceil(highest / self.step), 1)

    def _wrapped(self, words: str, size: int) -> list[str]:
        return textwrap.wrap(words, int((self.width - LEFT - GAP) / (size * WIDE)))

    def lines(self) -> Iterator[str]:
        """Every element, from back to front."""
        yield from self._head()
        yield from self._grid()
        for place, column in zip(self.places, self.shown.columns, strict=True):
            yield from self._column(place, column)
        yield from self._quarters()
        for number, note in enumerate(self.notes):
            yield _text(LEFT, self.foot + FOOT + number * NOTE * LEADING, note, size=NOTE)

    def _head(self) -> Iterator[str]:
        said = "; ".join(f"{group.name}: {self._words(group)}" for group, _ in self.shown.groups)
        notes = " ".join(self.shown.notes)
        yield (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="title desc"'
            f' viewBox="0 0 {self.width} {self.height}" width="{self.width}"'
            f' height="{self.height}" font-family="sans-serif" fill="{INK}">'
        )
        yield f'<title id="title">{escape(self.shown.title)}</title>'
        yield f'<desc id="desc">{escape(f"{said}. {notes}")}</desc>'
        yield (
            '<defs><pattern id="hatched" patternUnits="userSpaceOnUse" width="5" height="5">'
            f'<rect width="5" height="5" fill="#fff"/><path d="M-1 1l2-2M0 5l5-5M4 6l2-2"'
            f' stroke="{INK}" stroke-width="1"/></pattern></defs>'
        )
        yield f'<rect width="{self.width}" height="{self.height}" fill="#fff"/>'
        for number, line in enumerate(self.title, 1):
            yield _text(LEFT, number * TITLE * LEADING, line, size=TITLE, weight="bold")
        x, y = LEFT, self.plot - HEAD + 24
        for kind, fill in zip(self.shown.kinds, FILLS, strict=True):
            yield _box(x, y - 10, 12, 12, fill)
            yield _text(x + 18, y, kind, size=12)
            x += 110

    def _words(self, group: Group) -> str:
        pairs = zip(self.shown.kinds, group.bars, strict=True)
        return ", ".join(f"{kind} {bar}" for kind, bar in pairs)

    def _y(self, number: float) -> float:
        return self.plot + PLOT * (1 - number / self.top)

    def _grid(self) -> Iterator[str]:
        for number in range(0, self.top + 1, self.step):
            y = self._y(number)
            yield _line(LEFT, y, self.edges[-1], y, PALE if number else INK, 1)
            yield _text(LEFT - 6, y + 4, str(number), size=11, anchor="end")

    def _column(self, place: float, column: Group) -> Iterator[str]:
        x = place + (COLUMN - 2 * BAR - 3) / 2
        for kind, bar, fill in zip(self.shown.kinds, column.bars, FILLS, strict=True):
            title = escape(f"{column.name}: {kind} {bar}")
            yield f"<g><title>{title}</title>"
            yield _box(x, self._y(bar.mean), BAR, self._y(0) - self._y(bar.mean), fill)
            yield from self._whisker(x + BAR / 2, bar)
            yield "</g>"
            x += BAR + 3
        yield _text(place + COLUMN / 2, self.foot + 15, column.name, size=10, anchor="middle")

    def _whisker(self, x: float, bar: Bar) -> Iterator[str]:
        """Pale around dark, so that it is seen on both fills."""
        low, high = (f"M{x - CAP:.1f} {self._y(n):.1f}h{2 * CAP}" for n in (bar.low, bar.high))
        drawn = f"{low}{high}M{x:.1f} {self._y(bar.low):.1f}V{self._y(bar.high):.1f}"
        for ink, wide in (("#fff", 3.5), (INK, 1.5)):
            yield f'<path d="{drawn}" fill="none" stroke="{ink}" stroke-width="{wide}"/>'

    def _quarters(self) -> Iterator[str]:
        foot = self.foot + 26
        for (group, _), x, after in zip(
            self.shown.groups, self.edges[:-1], self.edges[1:], strict=True
        ):
            yield _line(x + 4, foot, after - 4, foot, INK, 1)
            yield _text(x + 6, foot + 15, group.name, size=11, weight="bold")
            for number, (bar, fill) in enumerate(zip(group.bars, FILLS, strict=True)):
                y = foot + 31 + 16 * number
                yield _box(x + 6, y - 8, 8, 8, fill)
                yield _text(x + 19, y, str(bar), size=11)


def _places(counts: Sequence[int]) -> tuple[list[float], list[int]]:
    """Where each column begins, and the edges of the groups; a short group has room to be named."""
    places: list[float] = []
    edges = [LEFT]
    for count in counts:
        width = max(count * COLUMN, LEAST_GROUP)
        begins = edges[-1] + (width - count * COLUMN) / 2
        places += [begins + COLUMN * number for number in range(count)]
        edges.append(edges[-1] + width)
    return places, edges


def _step(highest: float) -> int:
    """From one line to the next: 1, 2 or 5 times a power of ten, so that few lines suffice."""
    power = 1
    while True:
        for step in STEPS:
            if step * power * MOST_LINES >= highest:
                return step * power
        power *= 10


def _box(x: float, y: float, width: float, height: float, fill: str) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}"'
        f' stroke="{INK}" stroke-width="1"/>'
    )


def _line(x: float, y: float, to_x: float, to_y: float, ink: str, wide: float) -> str:
    return (
        f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{to_x:.1f}" y2="{to_y:.1f}" stroke="{ink}"'
        f' stroke-width="{wide}"/>'
    )


def _text(
    x: float, y: float, words: str, *, size: int, anchor: str = "start", weight: str = "normal"
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}"'
        f' font-weight="{weight}">{escape(words)}</text>'
    )
