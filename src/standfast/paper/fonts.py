"""The shipped fonts: what they can show, and that nothing else creeps into a page."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

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
"""Family, weight and file of each face; the files lie in `fonts/` beside the templates."""

INVISIBLE = {"Cc", "Cf", "Zs", "Zl", "Zp"}


@dataclass(frozen=True)
class Fonts:
    """The faces as found in the template folders, first to last."""

    folders: Sequence[Path]

    def file(self, name: str) -> Path:
        """The file of a face.

        Raises:
            PaperError: it is in none of the folders.
        """
        for folder in self.folders:
            if (folder / "fonts" / name).is_file():
                return folder / "fonts" / name
        raise PaperError(f"font {name} is missing from templates/fonts; install Standfast again")

    @cached_property
    def shown(self) -> frozenset[int]:
        """Every code point that one of the faces has a glyph for."""
        from fontTools.ttLib import TTFont, TTLibError

        points: set[int] = set()
        for _, _, name in FACES:
            try:
                with self.file(name).open("rb") as file, TTFont(file, lazy=True) as font:
                    points |= font.getBestCmap().keys()
            except TTLibError as error:
                raise PaperError(f"font {name} is no font ({error}); copy it again") from None
        return frozenset(points)

    def refuse_unshown(self, text: str) -> None:
        """Refuses text with characters that none of the faces can show.

        Raises:
            PaperError: names the characters.
        """
        missing = sorted(
            {
                c
                for c in set(text)
                if ord(c) not in self.shown and unicodedata.category(c) not in INVISIBLE
            }
        )
        if missing:
            names = ", ".join(f"{c!a} ({unicodedata.name(c, 'no name')})" for c in missing[:8])
            raise PaperError(f"no shipped font can show {names}; write it without, or otherwise")

    @property
    def css(self) -> str:
        """The @font-face rules, with the places of the files."""
        return "\n".join(
            f"@font-face {{ font-family: '{family}'; font-weight: {weight};"
            f" src: url('{self.file(name).resolve().as_uri()}') format('truetype'); }}"
            for family, weight, name in FACES
        )
