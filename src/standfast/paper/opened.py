"""What is inside of a page that somebody sends: attached files, and the text that a reader sees."""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from standfast.problems import PaperError

if TYPE_CHECKING:
    from pypdf import PdfReader

_QUIET = logging.getLogger("pypdf")  # it repeats what a stranger wrote, controls and all
_QUIET.addHandler(logging.NullHandler())
_QUIET.propagate = False

MOST_BYTES, MOST_PAGES = 8_000_000, 8


@dataclass(frozen=True)
class Opened:
    """A page as it was read."""

    attached: Mapping[str, bytes]
    lines: tuple[str, ...]
    """Its text, in pieces as it was tagged; a paragraph is one piece or several."""

    @property
    def text(self) -> str:
        """The pieces in one line."""
        return " ".join(self.lines)


def opened(content: bytes) -> Opened:
    """The PDF, read.

    Raises:
        PaperError: it is none, is too large, or names one attachment twice.
    """
    from pypdf import PdfReader

    if len(content) > MOST_BYTES:
        raise PaperError(f"more than {MOST_BYTES} bytes: too large for a certificate")
    try:
        reader = PdfReader(io.BytesIO(content))
        pages = len(reader.pages)
        found = {name: list(files) for name, files in reader.attachments.items()}
        lines = tuple(_lines(reader)) if pages <= MOST_PAGES else ()
    except Exception:  # noqa: BLE001 - a stranger's bytes raise anything
        raise PaperError("no PDF that can be read; ask for it again") from None
    if pages > MOST_PAGES:
        raise PaperError(f"{pages} pages: too many for a certificate")
    twice = sorted(name for name, files in found.items() if len(files) > 1)
    if twice:
        raise PaperError(f"two attachments named {twice[0]}: two readers may see two certificates")
    return Opened({name: bytes(files[0]) for name, files in found.items()}, lines)


def _lines(reader: PdfReader) -> Iterator[str]:
    for page in reader.pages:
        pieces = [""]

        def begin(operator: bytes, *_: Any, pieces: list[str] = pieces) -> None:  # noqa: ANN401 - pypdf's
            if operator == b"BDC":
                pieces.append("")

        def add(text: str, *_: Any, pieces: list[str] = pieces) -> None:  # noqa: ANN401 - pypdf's
            pieces[-1] += text

        page.extract_text(visitor_operand_before=begin, visitor_text=add)
        yield from (" ".join(piece.split()) for piece in pieces if piece.strip())
