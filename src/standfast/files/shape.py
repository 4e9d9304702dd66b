"""A document to a noun: every fault of shape, in plain words, at its place."""

from __future__ import annotations

import types
import typing
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from standfast.files.read import Document, Placed
from standfast.model.base import Noun
from standfast.problems import BadInput, Path, Problem, meant, nearest

NounT = TypeVar("NounT", bound=Noun)
Words = Callable[[ErrorDetails, str], tuple[str, str]]


def as_noun(
    kind: type[NounT], document: Document, under: Path = (), word: str = ""
) -> Placed[NounT]:
    """The noun that stands in the document at `under`.

    `word` is the key that holds the noun's id in files, such as `rubric`.

    Raises:
        BadInput: every fault of its shape.
    """
    value = _at(document.value, under)
    if not isinstance(value, dict):
        what = f"{_shown(value)} stands where a {word or kind.__name__.lower()} is wanted"
        raise BadInput([Problem(document.place(under), what, "write 'key: value' lines")])
    fields = {("id" if key == word else key): part for key, part in value.items()}
    if word and "id" in value:
        place = document.keys.get((*under, "id"), document.place(under))
        raise BadInput([Problem(place, "key 'id' is not known", f"the id stands after '{word}:'")])
    try:
        return Placed(kind.model_validate(fields), document, under)
    except ValidationError as error:
        problems = {_problem(kind, found, document, under, word) for found in error.errors()}
        raise BadInput(sorted(problems)) from None


def in_words(error: ValidationError) -> tuple[str, ...]:
    """Every fault of a noun that was made of what was typed, each with its cure."""
    told = (_words(Noun, found, found["loc"]) for found in error.errors())
    return tuple(dict.fromkeys(f"{what}; {cure}" for what, cure in told))


def _problem(
    kind: type[Noun], found: ErrorDetails, document: Document, under: Path, word: str
) -> Problem:
    value = _at(document.value, under)
    loc = tuple(
        word if (step == "id" and place == 0 and word) else step
        for place, step in enumerate(found["loc"])
    )
    path = tuple(_steps(value, loc, found["type"]))
    if found["type"] == "union_tag_invalid":
        path = (*path, "kind")
    what, cure = _words(kind, found, path)
    whole = (*under, *path)
    if found["type"] == "extra_forbidden" or "[key]" in found["loc"]:
        place = document.keys.get(whole) or document.place(whole)
    else:
        place = document.place(whole)
    return Problem(place, what, cure)


def _steps(value: Any, loc: tuple[str | int, ...], error: str) -> Iterator[str | int]:  # noqa: ANN401
    """The way into what was written: without the names pydantic adds for unions and keys."""
    for place, step in enumerate(loc):
        last = place == len(loc) - 1
        inside = (isinstance(value, dict) and step in value) or (
            isinstance(value, list) and isinstance(step, int) and step < len(value)
        )
        if inside:
            value = value[step]
            yield step
        elif last and error == "missing":
            yield step


def _at(value: Any, path: Path) -> Any:  # noqa: ANN401 - any value
    for step in path:
        value = value[step]
    return value


def _words(  # noqa: PLR0911 - one way out for each kind of fault
    kind: type[Noun], found: ErrorDetails, path: Path
) -> tuple[str, str]:
    """What is wrong and what mends it, in our words."""
    name = next(
        (str(step) for step in reversed(path) if isinstance(step, str)), kind.__name__.lower()
    )
    error, context = found["type"], found.get("ctx", {})
    shown = _shown(found["input"])
    if error == "extra_forbidden":
        return f"key '{name}' is not known", nearest(name, _known_keys(kind, found["loc"][:-1]))
    if error == "missing":
        return f"key '{name}' is missing", "add it"
    if error == "value_error":
        what, _, cure = str(context.get("error", found["msg"])).partition("; ")
        return f"{name}: {what}", cure or "mend it"
    if error in _KINDS:
        return f"{name}: {shown} is no {_KINDS[error]}", f"write {_LIKE[error]}"
    if error in _BOUNDS:
        words, key = _BOUNDS[error]
        return f"{name}: {shown} is {words} {context[key]}", "write one within the bound"
    if error == "literal_error":
        allowed = [
            part.strip("'") for part in str(context["expected"]).replace(" or ", ", ").split(", ")
        ]
        return f"{name}: {shown} is not one of {', '.join(allowed)}", (
            meant(str(found["input"]), allowed) or "write one of them"
        )
    if error == "union_tag_invalid":
        allowed = [part.strip("'") for part in str(context["expected_tags"]).split(", ")]
        return f"kind: '{context['tag']}' is not known", nearest(str(context["tag"]), allowed)
    if error == "union_tag_not_found":
        return "key 'kind' is missing", "add it: attempts, clearances, samples, rating or incident"
    if error == "string_pattern_mismatch":
        return f"{name}: {shown} {_PATTERNS.get(str(context['pattern']), 'is not in its form')}", (
            _FORMS.get(str(context["pattern"]), "mend its form")
        )
    return f"{name}: {shown} does not fit", "look at the shipped files for an example"


_KINDS = {
    "string_type": "text",
    "int_type": "whole number",
    "int_parsing": "whole number",
    "int_from_float": "whole number",
    "float_type": "number",
    "float_parsing": "number",
    "bool_type": "true or false",
    "tuple_type": "list",
    "dict_type": "set of 'key: value' lines",
    "model_type": "set of 'key: value' lines",
    "model_attributes_type": "set of 'key: value' lines",
    "finite_number": "number",
}
_LIKE = {
    "string_type": "words; in quotes if they look like a number",
    "int_type": "a number such as 3, without quotes",
    "int_parsing": "a number such as 3",
    "int_from_float": "a number such as 3",
    "float_type": "a number such as 0.85",
    "float_parsing": "a number such as 0.85",
    "bool_type": "true or false",
    "tuple_type": "a list, each item after '- '",
    "dict_type": "'key: value' lines",
    "model_type": "'key: value' lines",
    "model_attributes_type": "'key: value' lines",
    "finite_number": "a number such as 0.85",
}
_BOUNDS = {
    "greater_than_equal": ("less than", "ge"),
    "greater_than": ("not more than", "gt"),
    "less_than_equal": ("more than", "le"),
    "less_than": ("not less than", "lt"),
    "string_too_short": ("shorter than", "min_length"),
    "string_too_long": ("longer than", "max_length"),
}
_PATTERNS = {
    r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$": "is no short name",
    r"^[^\r\n]+$": "goes over more than one line",
    r"^S[1-9][0-9]?$": "is no student code",
    r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$": "is no key",
    r"^[0-9a-f]{64}$": "is no hash",
}
_FORMS = {
    r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$": "use small letters, digits and single hyphens: tuck-hang",
    r"^[^\r\n]+$": "write it in one line",
    r"^S[1-9][0-9]?$": "use S1 to S99; names of students are never stored",
    r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$": "take a fresh one from 'standfast key'",
    r"^[0-9a-f]{64}$": "give 64 hexadecimal digits",
}


def _shown(value: object) -> str:
    """The value as a person wrote it, shortened."""
    if value is None:
        return "nothing"
    if isinstance(value, dict | list | tuple):
        return "a list" if not isinstance(value, dict) else "a set of keys"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    return f"'{text if len(text) <= 60 else text[:57] + '...'}'"  # noqa: PLR2004 - half a line


def _known_keys(kind: type[Noun], loc: tuple[str | int, ...]) -> list[str]:
    """The keys that are known where the loc leads."""
    current: Any = kind
    for step in loc:
        current = _step_into(current, step)
        if current is None:
            return []
    return list(current.model_fields) if _is_noun(current) else []


def _step_into(current: Any, step: str | int) -> Any:  # noqa: ANN401 - a type
    if _is_noun(current):
        if isinstance(step, str) and step in current.model_fields:
            return _inner(current.model_fields[step].annotation, None)
        return current
    return _inner(current, step) if current is not None else None


def _inner(annotation: Any, tag: str | int | None) -> Any:  # noqa: ANN401 - a type
    """The noun, or the union of nouns, that an annotation holds."""
    if _is_noun(annotation):
        return annotation
    origin = typing.get_origin(annotation)
    parts = [part for part in typing.get_args(annotation) if part is not types.NoneType]
    if origin is typing.Annotated:
        return _inner(parts[0], tag)
    if origin in {typing.Union, types.UnionType} and tag is not None:
        return next((part for part in parts if _tag_of(part) == tag), annotation)
    if origin in {typing.Union, types.UnionType}:
        nouns = [part for part in parts if _inner(part, None) is not None]
        return _inner(nouns[0], None) if len(nouns) == 1 else (annotation if nouns else None)
    if origin in {tuple, dict}:
        return next(filter(None, (_inner(part, None) for part in parts)), None)
    return None


def _tag_of(kind: Any) -> str | None:  # noqa: ANN401 - a type
    if not _is_noun(kind) or "kind" not in kind.model_fields:
        return None
    return str(typing.get_args(kind.model_fields["kind"].annotation)[0])


def _is_noun(kind: Any) -> bool:  # noqa: ANN401 - a type
    return isinstance(kind, type) and issubclass(kind, Noun)
