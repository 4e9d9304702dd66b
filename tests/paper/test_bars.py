"""The picture of months says the same as its numbers, to eyes, to readers aloud, and in grey."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

from standfast.paper.bars import LEFT, PLOT, Bar, Bars, Group, draw_bars

SVG = "{http://www.w3.org/2000/svg}"
MONTHS = (
    Group("2026-12", (Bar(2.34, 0, 6), Bar(1.66, 0, 4))),
    Group("2027-01", (Bar(0.0, 0, 0), Bar(12.0, 9, 20))),
)
SHOWN = Bars(
    title="Bar & Sons <School>: lessons",
    notes=("How to read it.", "A forecast is no promise."),
    kinds=("practicals", "refreshers"),
    columns=MONTHS,
    groups=((Group("2026 Q4", MONTHS[0].bars), 1), (Group("2027 Q1", MONTHS[1].bars), 1)),
)


def drawn(shown: Bars = SHOWN) -> ET.Element:
    return ET.fromstring(draw_bars(shown))  # noqa: S314 - our own text


def words(element: ET.Element, tag: str = "text") -> list[str]:
    return ["".join(found.itertext()) for found in element.iter(f"{SVG}{tag}")]


def test_every_bar_has_its_numbers_as_its_title() -> None:
    assert words(drawn(), "title")[1:] == [
        "2026-12: practicals 2.3 (0\u20136)",
        "2026-12: refreshers 1.7 (0\u20134)",
        "2027-01: practicals 0.0 (0\u20130)",
        "2027-01: refreshers 12.0 (9\u201320)",
    ]


def test_bars_and_lines_end_where_the_numbers_are() -> None:
    bars = list(drawn().iter(f"{SVG}g"))
    axis = next(line for line in drawn().iter(f"{SVG}line") if line.get("stroke") == "#222")
    floor = float(axis.get("y1", ""))
    for group, bar in zip(bars, (b for month in MONTHS for b in month.bars), strict=True):
        box = group.find(f"{SVG}rect")
        line = group.find(f"{SVG}path")
        assert box is not None
        assert line is not None
        unit = PLOT / 20  # the highest bound is 20, and the lines are 5 apart
        assert abs(float(box.get("height", "")) - bar.mean * unit) < 0.11
        found = re.search(r"M[\d.]+ ([\d.]+)V([\d.]+)$", line.get("d", ""))
        assert found is not None
        assert abs(float(found[1]) - (floor - bar.low * unit)) < 0.11
        assert abs(float(found[2]) - (floor - bar.high * unit)) < 0.11


def test_quarters_months_notes_and_axis_stand_as_text() -> None:
    found = words(drawn())

    assert found[0] == "Bar & Sons <School>: lessons"
    for said in ("practicals", "refreshers", "2026-12", "2027-01", "2026 Q4", "2027 Q1"):
        assert said in found
    assert {"2.3 (0\u20136)", "12.0 (9\u201320)"} <= set(found)
    assert [said for said in found if said.isdigit()] == ["0", "5", "10", "15", "20"]
    assert found[-2:] == ["How to read it.", "A forecast is no promise."]


def test_a_reader_aloud_hears_title_and_numbers() -> None:
    picture = drawn()
    (description,) = words(picture, "desc")

    assert picture.get("role") == "img"
    assert picture.get("aria-labelledby") == "title desc"
    assert {"title", "desc"} <= {found.get("id") for found in picture.iter()}
    assert "2026 Q4: practicals 2.3 (0\u20136), refreshers 1.7 (0\u20134)" in description
    assert "A forecast is no promise." in description


def test_kinds_differ_in_grey_and_by_pattern() -> None:
    boxes = [group.find(f"{SVG}rect") for group in drawn().iter(f"{SVG}g")]
    fills = [box.get("fill") for box in boxes if box is not None]
    colours = set(re.findall(r"#([0-9a-f]{3})\b", draw_bars(SHOWN)))

    assert fills == ["#888", "url(#hatched)"] * 2
    assert all(len(set(colour)) == 1 for colour in colours)  # nothing but greys


def test_it_brings_nothing_along_and_is_the_same_every_time() -> None:
    text = draw_bars(SHOWN)

    assert text == draw_bars(SHOWN)
    assert "<script" not in text
    assert re.findall(r'(?:href|src|style|on\w+)="', text) == []
    assert re.findall(r"https?://[^\"]+", text) == ["http://www.w3.org/2000/svg"]
    assert 'font-family="sans-serif"' in text


def test_nothing_expected_is_drawn_too() -> None:
    none = (Group("2026-12", (Bar(0.0, 0, 0), Bar(0.0, 0, 0))),)
    shown = Bars("t", (), ("a", "b"), none, ((none[0], 1),))

    assert [said for said in words(drawn(shown)) if said.isdigit()] == ["0", "1"]


def test_a_long_title_and_notes_are_wrapped_within_the_picture() -> None:
    title, note = "A school with a name of many words " * 5, "One chance in ten lies below. " * 9
    shown = replace(SHOWN, title=title, notes=(note,))
    picture = drawn(shown)
    lines = [t for t in picture.iter(f"{SVG}text") if t.get("font-size") in {"15", "11"}]
    width, height = (float(picture.get(side, "")) for side in ("width", "height"))

    assert " ".join(words(picture)).count("A school with a name") == 5
    assert len([t for t in lines if t.get("font-size") == "15"]) > 2
    for line in lines:
        said = "".join(line.itertext())
        size = float(line.get("font-size", ""))
        assert float(line.get("x", "")) + len(said) * size * 0.6 <= width
        assert float(line.get("y", "")) <= height


def test_groups_do_not_overlap_however_short() -> None:
    month = MONTHS[0]
    shown = Bars("t", (), ("a", "b"), (month,) * 5, ((month, 1), (month, 3), (month, 1)))
    months = [t for t in drawn(shown).iter(f"{SVG}text") if "".join(t.itertext()) == "2026-12"]
    places = [float(t.get("x", "")) for t in months if t.get("text-anchor") == "middle"]

    assert len(places) == 5
    assert all(b - a >= 46 for a, b in itertools.pairwise(places))
    assert places[0] > LEFT
