"""HTML to PDF.  The one module that loads WeasyPrint, and it does so inside functions."""

from __future__ import annotations

import ctypes
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from standfast.paper.fonts import font_css, refuse_unshown
from standfast.paper.html import environment, fill, template_folders
from standfast.problems import PaperError

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

VARIANT = "pdf/ua-1"
SUBSETTERS = ("libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib")


@dataclass(frozen=True)
class Printer:
    """Draws pages with one set of fonts and styles, kept from page to page.

    `templates` is the school's own folder of templates; what it lacks comes from the shipped
    ones.  The same view gives the same bytes.
    """

    templates: Path | None = None

    @cached_property
    def _environment(self) -> Any:  # noqa: ANN401 - jinja2.Environment
        return environment(self.templates)

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
            text = font_css() if name == "fonts" else self._found(f"{name}.css")
            self._styles[name] = CSS(string=text, font_config=self._fonts)
        return self._styles[name]

    def _found(self, name: str) -> str:
        for folder in template_folders(self.templates):
            if (folder / name).is_file():
                return (folder / name).read_text(encoding="utf-8")
        raise PaperError(f"there is no style sheet {name}; put it into templates/")

    def print(self, name: str, view: DataclassInstance) -> bytes:
        """The page `name` (certificate, record, score-sheet, due-list) of that view, as PDF.

        Tagged, PDF/UA-1.

        Raises:
            PaperError: a template, font or glyph is missing, or WeasyPrint complained.
        """
        page = self.html(name, view)
        styles = [self._style("fonts"), self._style("page"), self._style(name)]
        from weasyprint import HTML

        with _complaints_are_errors(name):
            document = HTML(string=page, url_fetcher=_nothing_is_fetched).render(
                stylesheets=styles, font_config=self._fonts
            )
            pages = len(document.pages)
            written: bytes = document.write_pdf(pdf_variant=VARIANT)
        if name == "score-sheet" and pages > 1:
            raise PaperError(
                f"the sheet takes {pages} pages, and one is all there is at the mat;"
                " ask for fewer attempts, students or minutes"
            )
        return written

    def html(self, name: str, view: DataclassInstance) -> str:
        """The page in HTML, every character of which can be shown."""
        page = fill(self._environment, name, view)
        refuse_unshown(page)
        return page


def _nothing_is_fetched(url: str, *_: object, **__: object) -> dict[str, Any]:
    raise PaperError(f"a template asks for {url}; pages are made without fetching anything")


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
    finally:
        logger.removeHandler(complaints)
    if complaints.said:
        raise PaperError(f"page {name}: {complaints.said[0]}")
