"""Views to HTML: Jinja2 templates, the school's own before the shipped ones."""

from __future__ import annotations

from dataclasses import asdict
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jinja2

from standfast.problems import PaperError

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


def shipped_templates() -> Path:
    """The folder of templates that comes with Standfast."""
    package = Path(str(resources.files("standfast")))
    inside = package / "_shipped" / "templates"
    return inside if inside.is_dir() else package.parents[1] / "templates"


def template_folders(own: Path | None) -> list[Path]:
    """Where templates, style sheets and fonts are looked for, first to last."""
    return [folder for folder in (own, shipped_templates()) if folder and folder.is_dir()]


def environment(own: Path | None = None) -> jinja2.Environment:
    """The templates; an unknown variable is an error, and every value is escaped."""
    return jinja2.Environment(
        loader=jinja2.FileSystemLoader([str(folder) for folder in template_folders(own)]),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def fill(templates: jinja2.Environment, name: str, view: DataclassInstance) -> str:
    """The page in HTML.

    Raises:
        PaperError: there is no such template, it is broken, or it names an unknown variable;
            with template and line.
    """
    try:
        return templates.get_template(f"{name}.html").render(page=view, **_fields(view))
    except jinja2.TemplateSyntaxError as error:
        raise PaperError(f"template {error.name}, line {error.lineno}: {error.message}") from None
    except jinja2.TemplateNotFound as error:
        raise PaperError(f"there is no template {error.name}; put it into templates/") from None
    except jinja2.UndefinedError as error:
        raise PaperError(f"template {name}.html{_line(error, name)}: {error.message}") from None


def _fields(view: DataclassInstance) -> dict[str, Any]:
    return {name: getattr(view, name) for name in asdict(view)}


def _line(error: Exception, name: str) -> str:
    trace, line = error.__traceback__, ""
    while trace:
        if trace.tb_frame.f_code.co_filename.endswith(f"{name}.html"):
            line = f", line {trace.tb_lineno}"
        trace = trace.tb_next
    return line
