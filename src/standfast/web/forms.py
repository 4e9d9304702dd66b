"""What a form sent, checked by a model: the same shapes and words as for files.

A form that is refused comes back with what was typed and what is wrong with it, beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING, TypeVar

from pydantic import BaseModel, ValidationError
from starlette.datastructures import ImmutableMultiDict
from starlette.requests import Request

from standfast.problems import BadInput, NotFound, Place, Problem, Refused, StandfastError
from standfast.web.house import Typed, house_of

if TYPE_CHECKING:
    from standfast.model.account import Account
    from standfast.web.visitor import Visitor

ModelT = TypeVar("ModelT", bound=BaseModel)

NO = (BadInput, NotFound, Refused)
"""What is said beside the form; anything else has a page of its own."""
SECRET = {"password", "pin", "old", "new", "again"}
"""Fields that are never sent back."""
KEPT = timedelta(hours=1)
"""So long is kept what was typed by somebody who must sign in again: ours, no source."""
MOST_KEPT = 20_000
"""Characters of it; what is longer came from no form of ours."""
SIGNED_OUT = "you were signed out before this was sent; look at it again, and send it"


@dataclass(frozen=True)
class Returned:
    """A form that was refused."""

    lines: tuple[str, ...]
    """What is wrong with it."""
    status: int
    typed: ImmutableMultiDict[str, str] = field(default_factory=ImmutableMultiDict)
    """What stood in its fields, and each box that was ticked."""
    path: str = ""
    """Where it was sent to."""


async def returned(request: Request, error: StandfastError) -> Returned:
    """The form that the request sent, with why it was refused."""
    typed = await _typed(request)
    lines = tuple(line.strip().removeprefix("form: ") for line in str(error).splitlines())
    status = {NotFound: 404, Refused: 409}.get(type(error), 422)
    return Returned(lines, status, typed, request.url.path)


async def _typed(request: Request) -> ImmutableMultiDict[str, str]:
    sent = await request.form()
    return ImmutableMultiDict(
        (name, text)
        for name, text in sent.multi_items()
        if isinstance(text, str) and name not in SECRET
    )


async def keep_typed(request: Request, account: Account) -> bool:
    """Keeps what the form has for the account whose session had ended, and nobody else."""
    typed, house = await _typed(request), house_of(request)
    if not 0 < sum(len(text) for _, text in typed.multi_items()) <= MOST_KEPT:
        return False
    house.typed[account.id] = Typed(request.url.path, typed, house.now())
    return True


def typed_before(request: Request, visitor: Visitor) -> Returned | None:
    """What the visitor typed in a form of this page before having to sign in again; given once."""
    house, page = house_of(request), request.url.path
    kept = house.typed.get(visitor.account.id)
    if kept is None or not f"{kept.path}/".startswith(f"{page}/"):
        return None
    del house.typed[visitor.account.id]
    if house.now() - kept.at > KEPT:
        return None
    return Returned((SIGNED_OUT,), 200, kept.form, kept.path)


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
