"""What a form sent, checked by a model: the same shapes and words as for files."""

from __future__ import annotations

from typing import TypeVar

from pydantic import BaseModel, ValidationError
from starlette.requests import Request

from standfast.problems import BadInput, Place, Problem

ModelT = TypeVar("ModelT", bound=BaseModel)


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

        raise BadInput(map(_problem, in_words(error))) from None


def _problem(fault: str) -> Problem:
    what, _, cure = fault.rpartition("; ")
    return Problem(Place("form"), what, cure)
