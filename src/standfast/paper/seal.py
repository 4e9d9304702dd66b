"""The seal on a certificate, drawn as one SVG path: a toothed ring, a bar on two ropes, a mat."""

from __future__ import annotations

from math import cos, pi, sin

TEETH = 36
OUTER, NOTCH = 98.0, 91.0
HOLES = (84.0, 80.0, 78.0)
"""Radii at which ink ends and begins again, by the even-odd rule."""


def seal_path() -> str:
    """The path for a view box of -100 -100 200 200, to be filled by the even-odd rule."""
    return " ".join([_toothed(), *(_circle(radius) for radius in HOLES), *_pictures()])


def _toothed() -> str:
    corners = []
    for step in range(2 * TEETH):
        radius = NOTCH if step % 2 else OUTER
        angle = pi * step / TEETH
        corners.append(f"{radius * cos(angle):.2f} {radius * sin(angle):.2f}")
    return f"M{' L'.join(corners)} Z"


def _circle(radius: float) -> str:
    return f"M{radius} 0 A{radius} {radius} 0 1 0 -{radius} 0 A{radius} {radius} 0 1 0 {radius} 0 Z"


def _pictures() -> list[str]:
    """Two ropes, the bar between them, and the mat below."""
    left, right = _box(-31, -58, 3, 64), _box(28, -58, 3, 64)
    bar, mat = _box(-40, 6, 80, 7), _box(-50, 38, 100, 12)
    return [left, right, bar, mat]


def _box(x: float, y: float, width: float, height: float) -> str:
    return f"M{x} {y} h{width} v{height} h{-width} Z"
