"""The shipped fonts: what they can show, and that nothing else crept into a page."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from pathlib import Path

from standfast.paper.html import shipped_templates
from standfast.problems import PaperError

FACES = (
    ("Standfast Sans", "normal", "NotoSans-Regular.ttf"),
    ("Standfast Sans", "bold", "NotoSans-Bold.ttf"),
    ("Standfast Serif", "normal", "NotoSerif-Regular.ttf"),
    ("Standfast Serif", "bold", "NotoSerif-Bold.ttf"),
    ("Standfast Hebrew", "normal", "NotoSansHebrew-Regular.ttf"),
    ("Standfast Arabic", "normal", "NotoNaskhArabic-Regular.ttf"),
    ("Standfast CJK", "normal", "DroidSansFallbackFull.ttf"),
)
"""Family, weight and file of each face; all files lie in `templates/fonts`."""

INVISIBLE = {"Cc", "Cf", "Zs", "Zl", "Zp"}


def font_file(name: str) -> Path:
    """The file of a face.

    Raises:
        PaperError: it is missing.
    """
    path = shipped_templates() / "fonts" / name
    if not path.is_file():
        raise PaperError(f"font {name} is missing from templates/fonts; install Standfast again")
    return path


@lru_cache(maxsize=1)
def shown() -> frozenset[int]:
    """Every code point that one of the shipped fonts has a glyph for."""
    from fontTools.ttLib import TTFont

    points: set[int] = set()
    for _, _, name in FACES:
        with TTFont(font_file(name), lazy=True) as font:
            points |= font.getBestCmap().keys()
    return frozenset(points)


def refuse_unshown(text: str) -> None:
    """Refuses text with characters that no shipped font can show.

    Raises:
        PaperError: names the characters.
    """
    missing = sorted(
        {c for c in text if ord(c) not in shown() and unicodedata.category(c) not in INVISIBLE}
    )
    if missing:
        names = ", ".join(f"{c!a} ({unicodedata.name(c, 'no name')})" for c in missing[:8])
        raise PaperError(f"no shipped font can show {names}; write it without, or with others")


def font_css() -> str:
    """The @font-face rules of the shipped fonts, with the places of their files."""
    return "\n".join(
        f"@font-face {{ font-family: '{family}'; font-weight: {weight};"
        f" src: url('{font_file(name).as_uri()}') format('truetype'); }}"
        for family, weight, name in FACES
    )
