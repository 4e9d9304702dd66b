"""Unfinished sheets on disk: each answer is one line, on the disk before the next question.

`DRAFTS/<sheet id>.jsonl` begins with what the sheet is about; each further line is an entry.
One terminal at a time: the file is locked while it is scored (flock, gone with its holder).  A
last line torn by a crash is dropped: its answer was never acknowledged.
"""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pydantic import ValidationError

from standfast.cli.scoring.entries import ENTRY, HEAD, Entry, Event, Opened
from standfast.cli.scoring.setup import Setup
from standfast.model.base import Noun, NounT, Reference
from standfast.model.canonical import content_hash
from standfast.model.rubric import Rubric
from standfast.model.syllabus import Syllabus
from standfast.problems import BadInput, Place, Problem, StandfastError

ENDING = ".jsonl"
DONE = ".done"


class NotKept(StandfastError):  # noqa: N818 - says what happened to the answer
    """An answer could not be written; the draft stands as before."""


@dataclass
class Draft:
    """An unfinished sheet, locked by us."""

    path: Path
    handle: int
    opened: Opened
    entries: tuple[Entry, ...]
    size: int
    """Bytes that are known to be whole lines."""
    torn: bool = False
    """A last line torn by a crash was dropped."""
    new: bool = False

    def keep(self, events: Sequence[Event], when: datetime) -> None:
        """Writes each event as one line; returns when they are on the disk.

        Raises:
            NotKept: the disk is full or gone; nothing was kept, the draft stands as before.
        """
        last = self.entries[-1].n if self.entries else 0
        more = tuple(Entry(n=last + i, when=when, event=e) for i, e in enumerate(events, 1))
        text = b"".join(_line(entry) for entry in more)
        try:
            _write(self.handle, text, self.size)
        except OSError as error:
            raise NotKept(
                f"NOT KEPT: {self.path}: {error.strerror}; make room and answer again,"
                " or write it on paper"
            ) from error
        self.size += len(text)
        self.entries += more


def finish(draft: Path) -> Path:
    """Puts a draft aside once its sheet was taken; gives its new name."""
    done = draft.with_suffix(DONE)
    draft.rename(done)
    _sync_folder(draft.parent)
    return done


def draft_of(drafts: Path, sheet: str) -> Path:
    """Where the draft of that sheet is."""
    return drafts / f"{sheet}{ENDING}"


def unfinished(drafts: Path) -> tuple[tuple[Path, Opened], ...]:
    """Every draft in the folder with what it is about; those that cannot be read left out."""
    found = []
    for path in sorted(drafts.glob(f"*{ENDING}")):
        try:
            with path.open("rb") as file:
                found.append((path, HEAD.validate_json(file.readline())))
        except (OSError, ValidationError):
            continue
    return tuple(found)


@contextmanager
def opened_draft(setup: Setup, drafts: Path, new_key: Callable[[], str]) -> Iterator[Draft]:
    """The unfinished draft of that practical and assessor, or a new one; locked meanwhile.

    Raises:
        StandfastError: another terminal has it; it belongs to another candidate, or to other
            text of rubric or syllabus; the folder cannot be written.
        BadInput: a line in the middle of the draft cannot be read.
    """
    draft = _find_or_make(setup, drafts, new_key)
    try:
        yield draft
    finally:
        os.close(draft.handle)


def _find_or_make(setup: Setup, drafts: Path, new_key: Callable[[], str]) -> Draft:
    try:
        drafts.mkdir(parents=True, exist_ok=True)
        with _folder_locked(drafts):
            path = _belonging(setup, drafts)
            return _reopen(path, setup) if path else _make(setup, drafts, new_key)
    except OSError as error:
        raise StandfastError(
            f"{error.filename or drafts}: no draft can be kept here: {error.strerror};"
            " make the folder writable before the lesson begins"
        ) from error


def _belonging(setup: Setup, drafts: Path) -> Path | None:
    for path, head in unfinished(drafts):
        same = (head.practical, head.assessor) == (setup.practical, setup.assessor)
        if same and head.rubric.id == setup.rubric.id:
            if head.candidate != setup.candidate:
                raise StandfastError(
                    f"{path}: practical '{head.practical}' was begun for candidate"
                    f" '{head.candidate}', not '{setup.candidate}'; finish that draft, or give"
                    " this practical another code"
                )
            return path
    return None


def _make(setup: Setup, drafts: Path, new_key: Callable[[], str]) -> Draft:
    opened = _head(setup, new_key())
    path = draft_of(drafts, opened.sheet)
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
    _lock(handle, path)
    text = _line(opened)
    _write(handle, text, 0)
    _sync_folder(drafts)
    return Draft(path, handle, opened, (), len(text), new=True)


def _head(setup: Setup, key: str) -> Opened:
    return Opened(
        sheet=key,
        practical=setup.practical,
        candidate=setup.candidate,
        assessor=setup.assessor,
        rubric=_reference(setup.rubric),
        syllabus=_reference(setup.syllabus),
        began=setup.began,
        minutes=setup.minutes,
        paper=setup.paper,
        site=setup.site,
        students=setup.students,
        corrects=setup.corrects,
        covers=setup.covers,
    )


def _reference(noun: Rubric | Syllabus) -> Reference:
    return Reference(id=noun.id, version=noun.version, hash=content_hash(noun))


def _reopen(path: Path, setup: Setup) -> Draft:
    handle = os.open(path, os.O_RDWR | os.O_CLOEXEC)
    try:
        _lock(handle, path)
        text = path.read_bytes()
        opened, entries, size = _read(text, path)
        _same_text(opened.rubric, _reference(setup.rubric), "rubric", path)
        _same_text(opened.syllabus, _reference(setup.syllabus), "syllabus", path)
        if size < len(text):
            os.ftruncate(handle, size)
            os.fsync(handle)
    except BaseException:
        os.close(handle)
        raise
    return Draft(path, handle, opened, entries, size, torn=size < len(text))


def _same_text(then: Reference, now: Reference, kind: str, path: Path) -> None:
    if then == now:
        return
    differs = (
        f"version {then.version}, the school now has version {now.version}"
        if then.version != now.version
        else f"another text of version {then.version}"
    )
    raise StandfastError(
        f"{path}: begun under {kind} '{then.id}' {differs}; put the earlier text back to finish"
        f" this sheet, or rename the draft to end in {DONE} and begin anew"
    )


def _read(text: bytes, path: Path) -> tuple[Opened, tuple[Entry, ...], int]:
    """The head, the entries, and the bytes they take; a torn last line is not among them."""
    lines = text.split(b"\n")
    whole = lines[:-1]  # what follows the last line's end is empty, or torn
    if len(whole) > 1 and not _is_json(whole[-1]):
        whole = whole[:-1]
    opened = _parsed(HEAD.validate_json, whole[0] if whole else b"", path, 1)
    entries = tuple(
        _parsed(ENTRY.validate_json, line, path, i) for i, line in enumerate(whole[1:], 2)
    )
    for expected, entry in enumerate(entries, 1):
        if entry.n != expected:
            raise _unreadable(path, expected + 1, f"entry {entry.n} where {expected} is due")
    return opened, entries, sum(len(line) + 1 for line in whole)


def _is_json(line: bytes) -> bool:
    try:
        return isinstance(json.loads(line), dict)
    except ValueError:
        return False


def _parsed(parse: Callable[[bytes], NounT], line: bytes, path: Path, number: int) -> NounT:
    try:
        return parse(line)
    except ValidationError as error:
        raise _unreadable(path, number, error.errors()[0]["msg"]) from None


def _unreadable(path: Path, line: int, what: str) -> BadInput:
    cure = "the draft was changed by hand or by a newer version; put back the copy that was whole"
    return BadInput([Problem(Place(str(path), line, 1), f"this line cannot be read: {what}", cure)])


def _line(noun: Noun) -> bytes:
    return noun.model_dump_json(exclude_none=True).encode() + b"\n"


def _write(handle: int, text: bytes, at: int) -> None:
    """Puts text at that place and waits for the disk; on failure cuts it off again."""
    try:
        done = 0
        while done < len(text):
            done += os.pwrite(handle, text[done:], at + done)
        os.fsync(handle)
    except OSError:
        os.ftruncate(handle, at)
        raise


def _lock(handle: int, path: Path) -> None:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise StandfastError(
            f"{path}: this sheet is being scored in another terminal; go on there, or leave it"
            " there first with Ctrl-C"
        ) from None


@contextmanager
def _folder_locked(folder: Path) -> Iterator[None]:
    """Only one terminal at a time looks for a draft and makes one."""
    handle = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
