"""Views to HTML: Jinja2 templates, the school's own before the shipped ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING

import jinja2

from standfast.problems import PaperError

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


def environment(folders: Sequence[Path]) -> jinja2.Environment:
    """The templates of the folders, first to last; an unknown variable is an error."""
    return jinja2.Environment(
        loader=jinja2.FileSystemLoader([str(folder) for folder in folders]),
        undefined=jinja2.StrictUndefined,
        autoescape=jinja2.select_autoescape(disabled_extensions=("txt",), default=True),
        keep_trailing_newline=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def fill(
    templates: jinja2.Environment, name: str, view: DataclassInstance, ending: str = "html"
) -> str:
    """The page in HTML, or with the ending `txt` as plain text.

    Raises:
        PaperError: there is no such template, it is broken, or it names an unknown variable;
            with template and line.
    """
    values = {field.name: getattr(view, field.name) for field in fields(view)}
    try:
        return templates.get_template(f"{name}.{ending}").render(values)
    except jinja2.TemplateSyntaxError as error:
        where = f"template {error.name}, line {error.lineno}"
        raise PaperError(f"{where}: {error.message}; mend it or remove the copy") from None
    except jinja2.TemplateNotFound as error:
        raise PaperError(f"there is no template {error.name}; put it into templates/") from None
    except (jinja2.UndefinedError, TypeError, ValueError) as error:
        where = _where(error, f"{name}.{ending}")
        raise PaperError(
            f"template {where}: {error}; known there: {', '.join(sorted(values))}"
        ) from None


def _where(error: Exception, name: str) -> str:
    """The innermost template and line at which the error arose."""
    trace, where = error.__traceback__, name
    while trace:
        file = trace.tb_frame.f_code.co_filename
        if file.endswith((".html", ".txt")):
            where = f"{Path(file).name}, line {trace.tb_lineno}"
        trace = trace.tb_next
    return where
