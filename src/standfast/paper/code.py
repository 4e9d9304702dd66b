"""A code that a phone reads from paper (QR code, ISO/IEC 18004), as a small picture."""

from __future__ import annotations

import base64
import io

QUIET = 4
"""Light modules that must stay around it; ISO/IEC 18004, 6.3.8."""
DOTS = 2
"""Of a module's side; the page asks that they are not smoothed."""
MASK = 3
"""One of eight patterns that break up what would confuse a scanner.

The standard lets an encoder try all and take the best, which takes three times as long as drawing
the page.  What stands in our codes is a signature and other base64, which has nothing to break up;
tests scan it.
"""


def code(text: str) -> str:
    """The code of that text with its quiet zone, as the address of a picture (data:, PNG).

    About 15 % of it may be dirty or torn (level M).

    Raises:
        ValueError: the text is too long for a code.
    """
    import segno

    out = io.BytesIO()
    made = segno.make(text, error="m", micro=False, boost_error=False, mask=MASK)
    made.save(out, kind="png", scale=DOTS, border=QUIET)
    return f"data:image/png;base64,{base64.b64encode(out.getvalue()).decode()}"
