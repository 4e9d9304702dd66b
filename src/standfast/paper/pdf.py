"""HTML to PDF.  The one module that loads WeasyPrint, and it does so inside functions."""

from __future__ import annotations

import ctypes
import logging
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from standfast.paper import archive
from standfast.paper.archive import Attached
from standfast.paper.fonts import Fonts
from standfast.paper.html import environment, fill
from standfast.problems import PaperError

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

VARIANT = "pdf/ua-1"
SUBSETTERS = ("libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib")


class TooLong(PaperError):  # noqa: N818 - names what it is
    """More pages than the paper may have."""


@dataclass(frozen=True)
class Printer:
    """Draws pages with one set of fonts and styles, kept from page to page.

    Templates, style sheets and fonts are looked for in `folders`, first to last.  The same view
    gives the same bytes, whatever was printed before.
    """

    folders: tuple[Path, ...]
    variant: str | None = VARIANT

    @cached_property
    def _environment(self) -> Any:  # noqa: ANN401 - jinja2.Environment
        return environment(self.folders)

    @cached_property
    def faces(self) -> Fonts:
        """The fonts of the folders."""
        return Fonts(self.folders)

    @cached_property
    def _fonts(self) -> Any:  # noqa: ANN401 - WeasyPrint has no types
        from weasyprint.text.fonts import FontConfiguration

        _need_subsetter()
        return FontConfiguration()

    @cached_property
    def _styles(self) -> dict[str, Any]:
        """Style sheets by name, read once."""
        return {}

    def _style(self, name: str) -> Any:  # noqa: ANN401 - WeasyPrint has no types
        from weasyprint import CSS

        if name not in self._styles:
            text = self.faces.css if name == "fonts" else self.style_text(name)
            self._styles[name] = CSS(string=text, font_config=self._fonts)
        return self._styles[name]

    def style_text(self, name: str) -> str:
        """The style sheet of that name.

        Raises:
            PaperError: it is in none of the folders.
        """
        for folder in self.folders:
            if (folder / f"{name}.css").is_file():
                return (folder / f"{name}.css").read_text(encoding="utf-8")
        raise PaperError(f"there is no style sheet {name}.css; put it into templates/")

    def print(
        self,
        name: str,
        view: DataclassInstance,
        most_pages: int | None = None,
        attached: Sequence[Attached] = (),
    ) -> bytes:
        """The page of that template, filled with that view, as PDF.

        Tagged, PDF/UA-1; with files attached to it PDF/A-3a as well.

        Raises:
            TooLong: it takes more than `most_pages`.
            PaperError: a template, font or glyph is missing, or WeasyPrint complained.
        """
        text = self.html(name, view)
        with _complaints_are_errors(name):
            from weasyprint import HTML
            from weasyprint.urls import URLFetcher

            styles = [self._style(sheet) for sheet in ("fonts", "page", name)]
            document = HTML(
                string=text, url_fetcher=URLFetcher(allowed_protocols=("data",))
            ).render(stylesheets=styles, font_config=self._fonts)
            pages = len(document.pages)
            if most_pages and pages > most_pages:
                raise TooLong(f"the {name} takes {pages} pages instead of {most_pages}")
            if attached:
                files = [archive.attachment(one) for one in attached]
                page = document.write_pdf(pdf_variant=archive.VARIANT, attachments=files)
                return archive.archival(page, [one for one in attached if one.room])
            written: bytes = document.write_pdf(pdf_variant=self.variant)
        return written

    def text(self, name: str, view: DataclassInstance) -> str:
        """The same as plain text, for mail.

        Raises:
            PaperError: a template is missing or broken.
        """
        return fill(self._environment, name, view, "txt")

    def html(self, name: str, view: DataclassInstance) -> str:
        """The page in HTML, every character of which can be shown."""
        page = fill(self._environment, name, view)
        self.faces.refuse_unshown(page)
        return page


def _need_subsetter() -> None:
    """Without HarfBuzz's subsetter printing takes three times as long and other bytes come out."""
    for name in SUBSETTERS:
        try:
            ctypes.CDLL(name)
        except OSError:
            continue
        return
    raise PaperError("libharfbuzz-subset is missing; './dev demo' installs it")


class _Complaints(logging.Handler):
    """Collects what WeasyPrint would only have logged."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(record.getMessage())


@contextmanager
def _complaints_are_errors(name: str) -> Iterator[None]:
    """A missing font or an unknown property is an error, never a silent fallback."""
    complaints = _Complaints()
    logger = logging.getLogger("weasyprint")
    logger.addHandler(complaints)
    try:
        yield
    except OSError as error:  # fonts are laid out in files of their own
        where = tempfile.gettempdir()
        raise PaperError(f"page {name}: {error.strerror}; make room in {where}") from None
    finally:
        logger.removeHandler(complaints)
    if complaints.said:
        raise PaperError(f"page {name}: {complaints.said[0]}")
