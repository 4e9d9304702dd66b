"""The small charts say the same as the numbers beside them."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

from standfast.paper.chart import LEFT, RIGHT, level_chart, share_chart
from standfast.paper.seal import seal_path
from standfast.paper.view.words import asked, between

SVG = "{http://www.w3.org/2000/svg}"


def boxes(svg: str) -> list[tuple[float, float]]:
    """Left edge and width of each box, in order."""
    found = ET.fromstring(svg).iter(f"{SVG}rect")  # noqa: S314 - our own text
    return [(float(box.get("x", "")), float(box.get("width", ""))) for box in found]


def test_bar_line_and_dot_lie_where_the_numbers_are() -> None:
    svg = share_chart("t", 0.9, 0.8, 0.95, 0.85, more_is_better=True)
    whole = RIGHT - LEFT
    shaded, _track, _left, _right, bar, line = boxes(svg)
    dot = float(re.search(r'<circle cx="([\d.]+)"', svg)[1])  # type: ignore[index]

    # The axis runs from 50 % to 100 %.
    assert shaded == (round(LEFT + 0.7 * whole, 1), round(0.3 * whole, 1))
    assert bar == (round(LEFT + 0.6 * whole, 1), round(0.3 * whole, 1))
    assert abs(line[0] + line[1] / 2 - (LEFT + 0.7 * whole)) < 0.2
    assert abs(dot - (LEFT + 0.8 * whole)) < 0.1


def test_where_less_is_better_the_other_side_is_shaded() -> None:
    shaded = boxes(share_chart("t", 0.1, 0.05, 0.2, 0.25, more_is_better=False))[0]

    assert shaded == (LEFT, round((RIGHT - LEFT) / 2, 1))


def test_the_axis_is_whole_when_half_of_it_would_not_hold_everything() -> None:
    assert ">0 %<" in share_chart("t", 0.5, 0.3, 0.7, 0.85, more_is_better=True)
    assert ">50 %<" in share_chart("t", 0.9, 0.8, 1.0, 0.85, more_is_better=True)


def test_a_level_stands_in_its_own_box() -> None:
    svg = level_chart("t", 3, 3, 4)
    left, width = boxes(svg)[2]
    dot = float(re.search(r'<circle cx="([\d.]+)"', svg)[1])  # type: ignore[index]

    assert left < dot < left + width


def test_a_title_is_text_and_no_markup() -> None:
    assert "<title>a &lt; b</title>" in level_chart("a < b", 1, 1, 4)


def test_bounds_are_rounded_to_the_side_that_promises_less() -> None:
    assert between(0.93987, 0.98812) == "93.9 % to 98.9 %"
    assert between(0.9, 1.0) == "90.0 % to 100.0 %"
    assert asked(0.85) == "85 %"
    assert asked(0.875) == "87.5 %"


def test_the_seal_is_one_closed_path_inside_its_box() -> None:
    path = seal_path()
    corners = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", path.split(" Z")[0])]

    assert path.count("M") == path.count("Z")
    assert all(abs(n) <= 100 for n in corners)
