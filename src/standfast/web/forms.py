"""What a form sent, checked by a model: the same shapes and words as for files.

A form that is refused comes back with what was typed and what is wrong with it, beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from pydantic import BaseModel, ValidationError
from starlette.requests import Request

from standfast.problems import BadInput, NotFound, Place, Problem, Refused, StandfastError

ModelT = TypeVar("ModelT", bound=BaseModel)

NO = (BadInput, NotFound, Refused)
"""What is said beside the form; anything else has a page of its own."""
SECRET = {"password", "pin", "old", "new", "again"}
"""Fields that are never sent back."""


@dataclass(frozen=True)
class Returned:
    """A form that was refused."""

    lines: tuple[str, ...]
    """What is wrong with it."""
    status: int
    typed: Mapping[str, str] = field(default_factory=dict)
    """What stood in its fields."""


async def returned(request: Request, error: StandfastError) -> Returned:
    """The form that the request sent, with why it was refused."""
    sent = await request.form()
    typed = {
        name: text for name, text in sent.items() if isinstance(text, str) and name not in SECRET
    }
    lines = tuple(line.strip().removeprefix("form: ") for line in str(error).splitlines())
    status = {NotFound: 404, Refused: 409}.get(type(error), 422)
    return Returned(lines, status, typed)


async def form_of(request: Request, kind: type[ModelT]) -> ModelT:
    """The form as a `kind`; empty fields are left out, fields named several times are lists.

    Raises:
        BadInput: every field that does not fit.
    """
    sent = await request.form()
    many = {
        name
        for name, field in kind.model_fields.items()
        if "list" in str(field.annotation) or "tuple" in str(field.annotation)
    }
    values: dict[str, object] = {}
    for name in dict.fromkeys(sent):
        texts = [text for text in sent.getlist(name) if isinstance(text, str) and text.strip()]
        if name in many:
            values[name] = texts
        elif texts:
            values[name] = texts[0]
    try:
        return kind.model_validate(values)
    except ValidationError as error:
        from standfast.files.shape import in_words

        faults = [_spoken(kind, fault) for fault in in_words(error)]
        raise BadInput(map(_problem, faults)) from None


def _spoken(kind: type[BaseModel], fault: str) -> str:
    """What is wrong, with the fields as their labels have them."""
    for name in kind.model_fields:
        fault = fault.replace(name, name.replace("_", " "))
    return fault


def _problem(fault: str) -> Problem:
    what, _, cure = fault.rpartition("; ")
    return Problem(Place("form"), what, cure)
