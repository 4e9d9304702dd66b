"""Lines of text that were written from a record book (`contents`), read with every fault found.

Nothing is believed: each line must be in the one form that it is written in, each entry must take
the next number and say what an entry of its kind says, each row must fit its table and what it
points at must have come before it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Column, Integer, LargeBinary, Table

from standfast.model.canonical import canonical
from standfast.model.tree import EMPTY_ROOT, GrowingTree, leaf_hash
from standfast.problems import Place, Problem
from standfast.store.bodies import KINDS
from standfast.store.contents import FORMAT_KEY, PARTS
from standfast.store.journal import Entry, canonical_entry
from standfast.store.names import is_ref
from standfast.store.tables import (
    accounts,
    confirmations,
    devices,
    heads,
    held,
    identity,
    journal,
    meta,
    records,
    settled,
)

JSON = dict[str, Any]
Row = tuple[Any, ...]
Put = Callable[[Table, Sequence[Row]], None]
"""Takes rows, in the order of the table's columns."""

MOST_PROBLEMS = 200
"""Of one reading; who broke more lines than that needs no longer list."""

HASH_BYTES = 32
"""Of every column of bytes that is no derived one: hashes, and salts as long."""

AGAIN = "take another copy, or write this one anew"
OTHERWISE = "line is not in the form in which it was written (RFC 8785)"

_ENTRY = ("about", "at", "body", "id", "kind", "seq", "supersedes", "who")
_MAY_BE_NULL = {"about", "supersedes"}
_AT_ONCE = 5_000


@dataclass
class Limit:
    """Up to which entry a book is wanted: its number or its id; all of it when None."""

    until: int | str | None = None
    reached: bool = False

    def takes(self, entry: Entry) -> bool:
        """Whether the entry is among those that are wanted; asked in their order."""
        if self.reached:
            return False
        self.reached = self.until in (entry.seq, entry.id)
        return True


@dataclass
class Incoming:
    """Takes the parts of a book in, in their order, and counts them."""

    limit: Limit = field(default_factory=Limit)
    put: Put | None = None
    """Where good rows go; nowhere when they are only checked."""
    size: int = 0
    """Entries that were kept."""
    tree: GrowingTree = field(default_factory=GrowingTree)
    """Over every entry that was read, kept or not."""
    root: bytes = EMPTY_ROOT
    """Of the tree over those that were kept."""
    left_out: dict[str, int] = field(default_factory=dict)
    """By part, what came after the entry up to which the book is wanted."""
    erased: list[str] = field(default_factory=list)
    """Opaque ids that any entry erased, kept or not."""
    problems: list[Problem] = field(default_factory=list)
    _seen: dict[tuple[str, tuple[str, ...]], set[Row]] = field(default_factory=dict)
    _people: set[str] = field(default_factory=set)
    _last: str = ""

    def take(self, part: str, file: str, lines: Iterable[bytes]) -> None:
        """Reads the lines of a part; `file` is what a person calls the file they are in."""
        table = next(one for one in PARTS if one.name == part)
        rows = self._entries(file, lines) if table is journal else self._rows(table, file, lines)
        while some := list(islice(rows, _AT_ONCE)):
            if self.put is not None and not self.problems:
                self.put(table, some)
        if table is journal and not self.limit.reached:
            self.root = self.tree.root()

    def fault(self, file: str, line: int, what: str, cure: str = AGAIN) -> None:
        """Keeps a fault, unless there are too many to read."""
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(Place(file, line), what, cure))

    # --- journal --------------------------------------------------------------------------

    def _entries(self, file: str, lines: Iterable[bytes]) -> Iterator[Entry]:
        for number, line in enumerate(lines, start=1):
            content = line.removesuffix(b"\n")
            leaf = leaf_hash(content)
            self.tree.extend((leaf,))
            read = _entry_in(content, leaf)
            if isinstance(read, str):
                self.fault(file, number, read)
                continue
            for what in self._faults_of(read, number):
                self.fault(file, number, what)
            if self._wanted(read):
                yield read

    def _faults_of(self, entry: Entry, number: int) -> Iterator[str]:
        if entry.seq != number:
            yield f"entry {entry.seq} stands in the place of entry {number}"
        if not self._new(journal.name, ("id",), (entry.id,)):
            yield f"entry {entry.id} is there twice"
        if entry.supersedes is not None and not self._knows("journal", "id", entry.supersedes):
            yield f"it supersedes {entry.supersedes}, which is no entry before it"
        kind = KINDS.get(entry.kind)
        if kind is None:
            yield f"'{entry.kind}' is no kind of entry known here"
            return
        try:
            kind.model_validate_json(entry.body)
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(map(str, first["loc"]))
            yield f"this is no body of '{entry.kind}': {where}: {first['msg']}"

    def _wanted(self, entry: Entry) -> bool:
        if entry.kind == "erased":
            self.erased.append(str(entry.about))
        if not self.limit.takes(entry):
            self._leave_out(journal)
            return False
        self.size, self._last = self.size + 1, entry.at
        if self.limit.reached:
            self.root = self.tree.root()
        if entry.kind == "person-set":
            self._people.add(str(entry.about))
        return True

    # --- other parts ----------------------------------------------------------------------

    def _rows(self, table: Table, file: str, lines: Iterable[bytes]) -> Iterator[Row]:
        for number, line in enumerate(lines, start=1):
            read = _row_in(table, line.removesuffix(b"\n"))
            if isinstance(read, str):
                self.fault(file, number, read)
                continue
            told = dict(zip(table.columns.keys(), read, strict=True))
            if self._came_later(table, told):
                self._leave_out(table)
                continue
            for what in self._faults_in(table, told):
                self.fault(file, number, what)
            yield read

    def _came_later(self, table: Table, told: JSON) -> bool:
        """Whether the row would not be there, had the book ended with the last wanted entry."""
        if self.limit.until is None:
            return False
        if table is identity:
            return told["ref"] not in self._people
        if table is heads:
            return bool(told["size"] > self.size)
        if table is settled and not self._knows("held", "key", told["held"]):
            return True
        if table is accounts and told["person"] and not self._knows_person(told["person"]):
            return True
        since = _SINCE.get(table)
        return since is not None and bool(told[since] > self._last)

    def _faults_in(self, table: Table, told: JSON) -> Iterator[str]:
        for names in _unique(table):
            if not self._new(table.name, names, tuple(told[name] for name in names)):
                yield f"{' and '.join(f'{n} {_shown(told[n])}' for n in names)} is there twice"
        for column in table.columns:
            for key in column.foreign_keys:
                at, name = key.target_fullname.split(".")
                if told[column.name] is not None and not self._knows(at, name, told[column.name]):
                    yield f"{column.name} {_shown(told[column.name])} is nowhere in {at}"
        if table is identity and not self._is_a_person(told["ref"]):
            yield f"'{told['ref']}' is nobody of whom an entry speaks"
        if table is heads and told["size"] > self.size:
            yield f"a head over {told['size']} entries, and the journal has {self.size}"
        if table is meta and told["key"] == FORMAT_KEY:
            yield "the format of the book is not said here"

    def _is_a_person(self, ref: str) -> bool:
        return is_ref(ref) and ref in self._people

    def _knows_person(self, ref: str) -> bool:
        return self._knows(identity.name, "ref", ref)

    def _new(self, table: str, names: tuple[str, ...], values: Row) -> bool:
        """Whether these values were not there yet; they are from now on."""
        seen = self._seen.setdefault((table, names), set())
        before = len(seen)
        seen.add(values)
        return len(seen) > before

    def _knows(self, table: str, name: str, value: object) -> bool:
        return (value,) in self._seen.get((table, (name,)), ())

    def _leave_out(self, table: Table) -> None:
        self.left_out[table.name] = self.left_out.get(table.name, 0) + 1


_SINCE = {
    accounts: "made",
    devices: "enrolled",
    records: "got",
    held: "got",
    settled: "at",
    confirmations: "got",
}
"""The column that says when a row came in."""


def _object_in(content: bytes) -> JSON | None:
    try:
        value = json.loads(content)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def _entry_in(content: bytes, leaf: bytes) -> Entry | str:
    """The entry, or what is wrong with the line."""
    told = _object_in(content)
    if told is None:
        return "line is no JSON object"
    if tuple(told) != _ENTRY:
        return f"an entry has {', '.join(_ENTRY)}, in this order"
    for name, value in told.items():
        kind = {"seq": int, "body": dict}.get(name, str)
        if type(value) is not kind and not (value is None and name in _MAY_BE_NULL):
            return f"{name} is {_shown(value)}"
    try:
        body = canonical(told["body"]).decode()
        columns = (*(told[name] for name in journal.columns.keys()[:-2]), body)
        written = canonical_entry(*columns)
    except (ValueError, RecursionError) as error:
        return f"entry has no one form: {error}"
    return Entry._make((*columns, leaf)) if written == content else OTHERWISE


def _row_in(table: Table, content: bytes) -> Row | str:
    """The row in the order of the table's columns, or what is wrong with the line."""
    told = _object_in(content)
    if told is None:
        return "line is no JSON object"
    wanted = set(table.columns.keys())
    if told.keys() != wanted:
        odd = sorted(told.keys() ^ wanted)
        return f"a row of {table.name} has {', '.join(table.columns.keys())}; look at {odd[0]}"
    row = tuple(_cell(column, told[column.name]) for column in table.columns)
    wrong = [c.name for c, cell in zip(table.columns, row, strict=True) if cell is _WRONG]
    if wrong:
        return f"{wrong[0]} is {_shown(told[wrong[0]])}"
    try:
        written = canonical(told)
    except (ValueError, RecursionError) as error:
        return f"line has no one form: {error}"
    return row if written == content else OTHERWISE


_WRONG = object()


def _cell(column: Column[Any], value: object) -> object:
    """The value for the column; `_WRONG` when it does not fit there."""
    if value is None:
        return None if column.nullable else _WRONG
    if isinstance(column.type, LargeBinary):
        return _bytes(value)
    kind = int if isinstance(column.type, Integer) else str
    return value if type(value) is kind else _WRONG


def _bytes(value: object) -> object:
    try:
        content = bytes.fromhex(value) if isinstance(value, str) else b""
    except ValueError:
        return _WRONG
    return content if len(content) == HASH_BYTES else _WRONG


def _unique(table: Table) -> Iterator[tuple[str, ...]]:
    """The columns, or groups of them, in which no value is there twice."""
    yield tuple(table.primary_key.columns.keys())
    yield from ((column.name,) for column in table.columns if column.unique)
    yield from (tuple(index.columns.keys()) for index in table.indexes if index.unique)


def _shown(value: object) -> str:
    if isinstance(value, bytes):
        value = value.hex()
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."


_LONGEST = 60  # of a value in what is said of it
