"""Small charts for the record: where the figure lies, its bounds, and where the standard is.

Each chart says the same as the numbers beside it, and has them as its title for who cannot see
it.  Charts are SVG text of a fixed size.
"""

from __future__ import annotations

from markupsafe import Markup, escape

WIDTH, HEIGHT = 200, 26
LEFT, RIGHT, MIDDLE = 6, 194, 13


def _svg(title: str, *parts: str) -> Markup:
    inner = "".join(parts)
    return Markup(  # noqa: S704 - the parts are numbers, the title is escaped
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {WIDTH} {HEIGHT}"'
        f' width="{WIDTH}" height="{HEIGHT}"><title>{escape(title)}</title>{inner}</svg>'
    )


def _x(share: float) -> float:
    return round(LEFT + (RIGHT - LEFT) * min(max(share, 0.0), 1.0), 1)


def _track() -> str:
    ends = "".join(
        f'<rect x="{x - 0.5}" y="{MIDDLE - 4}" width="1" height="8" fill="#9aa5b1"/>'
        for x in (_x(0), _x(0.5), _x(1))
    )
    return (
        f'<rect x="{LEFT}" y="{MIDDLE - 0.5}" width="{RIGHT - LEFT}" height="1" fill="#9aa5b1"/>'
        + ends
    )


def share_chart(
    title: str,
    value: float,
    low: float,
    high: float,
    standard: float,
    *,
    more_is_better: bool,
) -> Markup:
    """A share from 0 to 1 with its bounds; the side that reaches the standard is shaded."""
    begin, end = (standard, 1.0) if more_is_better else (0.0, standard)
    good = (
        f'<rect x="{_x(begin)}" y="2" width="{_x(end) - _x(begin):.1f}" height="{HEIGHT - 4}"'
        ' fill="#dfe9e2"/>'
    )
    bounds = (
        f'<rect x="{_x(low)}" y="{MIDDLE - 3}" width="{max(_x(high) - _x(low), 1):.1f}" height="6"'
        ' fill="#5b7083"/>'
    )
    line = f'<rect x="{_x(standard) - 0.75}" y="2" width="1.5" height="{HEIGHT - 4}" fill="#1f5f3f"/>'
    dot = f'<circle cx="{_x(value)}" cy="{MIDDLE}" r="4.5" fill="#16324f" stroke="#fff"/>'
    return _svg(title, good, _track(), bounds, line, dot)


def level_chart(title: str, level: float, least: int, levels: int) -> Markup:
    """A level among the levels; those that suffice are shaded."""
    step = (RIGHT - LEFT) / levels
    boxes = []
    for number in range(1, levels + 1):
        fill = "#dfe9e2" if number >= least else "#f0f1f3"
        x = LEFT + step * (number - 1)
        boxes.append(
            f'<rect x="{x + 1:.1f}" y="4" width="{step - 2:.1f}" height="{HEIGHT - 8}"'
            f' fill="{fill}"/>'
        )
    x = LEFT + step * (level - 0.5)
    dot = f'<circle cx="{x:.1f}" cy="{MIDDLE}" r="5" fill="#16324f"/>'
    return _svg(title, *boxes, dot)
