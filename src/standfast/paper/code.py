"""A code that a phone reads from paper (QR code, ISO/IEC 18004), drawn as one path."""

from __future__ import annotations

from dataclasses import dataclass

QUIET = 4
"""Light modules that must stay around it; ISO/IEC 18004, 6.3.8."""


@dataclass(frozen=True)
class Code:
    """The dark modules as an SVG path, one unit for each module, quiet zone included."""

    path: str
    modules: int
    """Of a side, with the quiet zone."""


def code(text: str) -> Code:
    """The code of that text; about 15 % of it may be dirty or torn (level M).

    Raises:
        ValueError: the text is too long for a code.
    """
    import segno

    made = segno.make(text, error="m", micro=False, boost_error=False)
    parts = []
    for y, row in enumerate(made.matrix, QUIET):
        x = 0
        while x < len(row):
            end = x
            while end < len(row) and row[end]:
                end += 1
            if end > x:
                parts.append(f"M{x + QUIET} {y}h{end - x}v1h{x - end}z")
            x = max(end, x + 1)
    return Code("".join(parts), len(made.matrix) + 2 * QUIET)
