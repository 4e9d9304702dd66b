"""YAML 1.2 with the place of every value, safe to read from strangers.

The meaning is that of the YAML 1.2 core schema: `no` and `on` are words, `12:30` and
`2026-03-01` are text.  Anchors, aliases, tags, a second document, keys that are no text and
nesting past forty levels are refused, each with its place.
"""

from __future__ import annotations

import re
import stat
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any, Generic, TypeVar

import yaml

from standfast.problems import BadInput, Fault, Path, Place, Problem

LARGEST = 4_000_000
"""Bytes of one file; a score sheet of a long lesson has some 40,000."""
MOST_PROBLEMS = 1_000
"""After so many it is no file of ours, and the rest need not be told."""
DEEPEST = 40

T = TypeVar("T")
_INTEGER = re.compile(r"[-+]?[0-9]+")
_OCTAL = re.compile(r"0o[0-7]+")
_HEX = re.compile(r"0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_WORDS = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL"), None),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}


@dataclass(frozen=True)
class Document:
    """What a file says: the value, and where each part of it stands."""

    file: str
    value: Any
    places: Mapping[Path, Place]
    """Path to the place of the value there."""
    keys: Mapping[Path, Place]
    """Path to the place of the key there."""

    def place(self, path: Path) -> Place:
        """The place of that path, or of the nearest thing around it."""
        for length in range(len(path), -1, -1):
            found = self.places.get(path[:length])
            if found:
                return found
        return Place(self.file)


@dataclass(frozen=True)
class Placed(Generic[T]):
    """A noun, and the document it was read from."""

    noun: T
    document: Document
    under: Path = ()
    """Where in the document the noun stands."""

    @property
    def file(self) -> str:
        """The file's name, as it was given."""
        return self.document.file

    def place(self, path: Path) -> Place:
        """The place of a path inside the noun, or of the nearest thing around it."""
        return self.document.place((*self.under, *path))


def problems_at(placed: Placed[Any], faults: Iterable[Fault]) -> tuple[Problem, ...]:
    """The faults of a noun as problems of its file."""
    return tuple(Problem(placed.place(fault.path), fault.what, fault.cure) for fault in faults)


def read_text(path: FilePath) -> str:
    """The text of a file that a person wrote.

    Raises:
        BadInput: there is no such file, it is no plain file, too large, empty, or no UTF-8.
    """
    name = str(path)

    def refuse(what: str, cure: str) -> BadInput:
        return BadInput([Problem(Place(name), what, cure)])

    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise refuse("is no plain file", "name a file of text")
        if found.st_size > LARGEST:
            size = f"is {found.st_size:,} bytes long, at most {LARGEST:,} are read"
            raise refuse(size, "split it, or look whether it is the right file")
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise refuse(f"cannot be read ({reason})", "check its name and rights") from None
    except ValueError:
        raise refuse("is no name of a file", "check its name") from None
    return _decoded(raw, name)


def _decoded(raw: bytes, name: str) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        problem = Problem(Place(name), "is written in UTF-16", "save it as UTF-8")
        raise BadInput([problem])
    try:
        text = raw.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        place = Place(name, before.count(b"\n") + 1, error.start - (before.rfind(b"\n") + 1) + 1)
        what = f"byte 0x{raw[error.start]:02x} is no UTF-8"
        raise BadInput([Problem(place, what, "save the file as UTF-8")]) from None
    if "\0" in text:
        raise BadInput([Problem(Place(name), "is binary, not text", "name a file of text")])
    if not text.strip():
        raise BadInput([Problem(Place(name), "is empty", "write something, or remove the file")])
    return text


def read_yaml(path: FilePath) -> Document:
    """What a YAML file says, with places.

    Raises:
        BadInput: all that is wrong with its form.
    """
    return parse_yaml(read_text(path), str(path))


def parse_yaml(text: str, name: str) -> Document:
    """What a YAML text says, with places; as `read_yaml`."""
    builder = _Builder(name)
    try:
        for event in yaml.parse(text, Loader=yaml.CSafeLoader):
            builder.take(event)
            if builder.too_deep or len(builder.problems) >= MOST_PROBLEMS:
                break
    except yaml.MarkedYAMLError as error:
        builder.refuse(error.problem_mark, *_in_words(error.problem or ""))
    except yaml.YAMLError as error:
        builder.refuse(None, f"is no YAML ({str(error).splitlines()[0]})", "mend the form there")
    if builder.problems:
        raise BadInput(sorted(builder.problems))
    return Document(name, builder.root, builder.places, builder.keys)


def _in_words(problem: str) -> tuple[str, str]:
    """What a reader of YAML complains of, as whoever typed the file would say it, and the cure."""
    for begins, words in _COMPLAINTS:
        if problem.startswith(begins):
            return words
    return problem or "is no YAML", "mend the form there"


_COMPLAINTS = (
    (
        "could not find expected ':'",
        ("a line before this has no ': '", "write each key as 'minutes: 55', with a space"),
    ),
    (
        "did not find expected key",
        (
            "a key or the end of a list is expected here",
            "begin it below the one that goes before, or close a quote before it",
        ),
    ),
    (
        "did not find expected '-' indicator",
        ("an item of the list is expected here, after '- '", "begin it below the one before"),
    ),
    (
        "did not find expected ',' or",
        ("a comma or a closing bracket is expected here", "add it, or put the text in quotes"),
    ),
    (
        "mapping values are not allowed",
        ("a ': ' stands where none is expected", "put the text in quotes, or begin a new line"),
    ),
    (
        "found character that cannot start",
        ("this sign cannot stand here", "use spaces for tabs, and quotes around such a text"),
    ),
    ("found a tab character", ("a tab stands where lines begin", "use spaces")),
    (
        "found unexpected end of stream",
        ("a quote is opened and not closed", "close it"),
    ),
)


@dataclass
class _Open:
    """A mapping or list whose end has not come yet."""

    path: Path
    value: Any
    key: Any = None
    has_key: bool = False


@dataclass
class _Builder:
    """Builds value and places from the parser's events, without recursion."""

    name: str
    root: Any = None
    places: dict[Path, Place] = field(default_factory=dict)
    keys: dict[Path, Place] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    too_deep: bool = False
    _stack: list[_Open] = field(default_factory=list)
    _documents: int = 0

    def refuse(self, mark: Any, what: str, cure: str) -> None:  # noqa: ANN401 - the parser's
        place = Place(self.name, mark.line + 1, mark.column + 1) if mark else Place(self.name)
        self.problems.append(Problem(place, what, cure))

    def take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents == 2:  # noqa: PLR2004 - the second one
                self.refuse(event.start_mark, "a second document begins", "one file, one document")
        elif isinstance(event, yaml.AliasEvent):
            self.refuse(event.start_mark, f"alias *{event.anchor}", "write the value out in full")
            self._add(None, event.start_mark)
        elif isinstance(event, yaml.ScalarEvent):
            self._check(event)
            self._scalar(event)
        elif isinstance(event, yaml.CollectionStartEvent):
            self._check(event)
            self._begin(event)
        elif isinstance(event, yaml.CollectionEndEvent):
            self._stack.pop()

    def _check(self, event: Any) -> None:  # noqa: ANN401 - a scalar or collection event
        if event.anchor:
            self.refuse(event.start_mark, f"anchor &{event.anchor}", "write values out in full")
        if event.tag and event.tag != "!":
            self.refuse(event.start_mark, f"tag {event.tag}", "leave it out; a value is what it is")

    def _begin(self, event: yaml.Event) -> None:
        value: Any = {} if isinstance(event, yaml.MappingStartEvent) else []
        path = self._add(value, event.start_mark)
        self._stack.append(_Open(path, value))
        if len(self._stack) > DEEPEST:
            self.too_deep = True
            self.refuse(event.start_mark, f"nested deeper than {DEEPEST} levels", "flatten it")

    def _scalar(self, event: yaml.ScalarEvent) -> None:
        top = self._stack[-1] if self._stack else None
        if top and isinstance(top.value, dict) and not top.has_key:
            self._key(top, event)
            return
        value = _meaning(event.value) if event.implicit[0] else event.value
        self._add(value, event.start_mark)

    def _key(self, top: _Open, event: yaml.ScalarEvent) -> None:
        key = event.value
        if event.implicit[0] and not isinstance(_meaning(key), str):
            self.refuse(event.start_mark, f"key {key or 'null'} is no word", "put it in quotes")
        path = (*top.path, key)
        if key in top.value:
            first = self.keys[path].line
            self.refuse(
                event.start_mark, f"key '{key}' stands in line {first} already", "keep one of them"
            )
        else:
            mark: Any = event.start_mark
            self.keys[path] = Place(self.name, mark.line + 1, mark.column + 1)
        top.key, top.has_key = key, True

    def _add(self, value: Any, mark: Any) -> Path:  # noqa: ANN401 - any value
        place = Place(self.name, mark.line + 1, mark.column + 1)
        if not self._stack:
            path: Path = ()
            if self._documents == 1:
                self.root = value
        else:
            path = self._put(value, mark)
        self.places.setdefault(path, place)
        return path

    def _put(self, value: Any, mark: Any) -> Path:  # noqa: ANN401 - any value
        top = self._stack[-1]
        if isinstance(top.value, list):
            top.value.append(value)
            return (*top.path, len(top.value) - 1)
        if not top.has_key:
            self.refuse(mark, "a key is a list or a mapping", "write a word as the key")
            top.key, top.has_key = f"?{len(top.value)}", True
            return (*top.path, top.key)
        top.has_key = False
        top.value.setdefault(top.key, value)
        return (*top.path, top.key)


def _meaning(text: str) -> Any:  # noqa: ANN401, PLR0911 - any scalar; one way out for each
    """What a plain scalar means in the YAML 1.2 core schema (YAML 1.2.2, 10.3.2)."""
    if text in _WORDS:
        return _WORDS[text]
    if len(text) > 40:  # noqa: PLR2004 - longer than any number a person writes
        return text
    if _INTEGER.fullmatch(text):
        return int(text)
    if _OCTAL.fullmatch(text):
        return int(text, 0)
    if _HEX.fullmatch(text):
        return int(text, 0)
    if _FLOAT.fullmatch(text):
        return float(text)
    return text
