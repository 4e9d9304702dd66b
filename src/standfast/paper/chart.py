"""Small charts for the record: where the figure lies, its bounds, and where the standard is.

Each chart says the same as the numbers beside it, and has them as its title for who cannot see
it.  Charts are SVG text of a fixed size.
"""

from __future__ import annotations

from markupsafe import Markup, escape

WIDTH, HEIGHT = 200, 34
LEFT, RIGHT, MIDDLE, FOOT = 8, 192, 11, 22
HALF = 0.5


def _svg(title: str, *parts: str) -> Markup:
    inner = "".join(parts)
    return Markup(  # noqa: S704 - the parts are numbers, the title is escaped
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {WIDTH} {HEIGHT}"'
        f' width="{WIDTH}" height="{HEIGHT}"><title>{escape(title)}</title>{inner}</svg>'
    )


def _box(x: float, y: float, width: float, height: float, fill: str) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}"/>'
    )


def _label(x: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{HEIGHT - 2}" font-size="9" fill="#39485a" text-anchor="{anchor}"'
        f' font-family="Standfast Sans">{text}</text>'
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
    """A share with its bounds; the side that reaches the standard is shaded.

    The axis runs over the half in which everything lies, and from 0 to 100 % otherwise; its ends
    are named.
    """
    least, most = _axis(value, low, high, standard)

    def x(share: float) -> float:
        return LEFT + (RIGHT - LEFT) * (share - least) / (most - least)

    begin, end = (standard, most) if more_is_better else (least, standard)
    return _svg(
        title,
        _box(x(begin), 1, x(end) - x(begin), FOOT - 2, "#dfe9e2"),
        _box(LEFT, MIDDLE - 0.5, RIGHT - LEFT, 1, "#9aa5b1"),
        *(_box(x(end) - 0.5, MIDDLE - 4, 1, 8, "#9aa5b1") for end in (least, most)),
        _box(x(low), MIDDLE - 3.5, max(x(high) - x(low), 1), 7, "#7f93a5"),
        _box(x(standard) - 0.75, 1, 1.5, FOOT - 2, "#1f5f3f"),
        f'<circle cx="{x(value):.1f}" cy="{MIDDLE}" r="4" fill="#16324f" stroke="#fff"/>',
        _label(LEFT, f"{least:.0%}".replace("%", " %"), "start"),
        _label(RIGHT, f"{most:.0%}".replace("%", " %"), "end"),
    )


def _axis(*shares: float) -> tuple[float, float]:
    if min(shares) >= HALF:
        return HALF, 1.0
    return (0.0, HALF) if max(shares) <= HALF else (0.0, 1.0)


def level_chart(title: str, level: float, least: int, levels: int) -> Markup:
    """A level among the levels; those that suffice are shaded."""
    step = (RIGHT - LEFT) / levels
    parts = []
    for number in range(1, levels + 1):
        x = LEFT + step * (number - 1)
        fill = "#dfe9e2" if number >= least else "#eceef1"
        parts.append(_box(x + 1, 2, step - 2, FOOT - 4, fill))
        parts.append(_label(x + step / 2, str(number), "middle"))
    x = LEFT + step * (level - HALF)
    dot = f'<circle cx="{x:.1f}" cy="{MIDDLE}" r="4.5" fill="#16324f"/>'
    return _svg(title, *parts, dot)
