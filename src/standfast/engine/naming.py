"""Who is named in free text, which stands in the record book also after a name is erased."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from standfast.problems import Fault, Path

if TYPE_CHECKING:
    from standfast.model.people import Person
    from standfast.model.sheet import Sheet


def named_in(text: str, people: Iterable[Person]) -> tuple[str, ...]:
    """The ids of those whom the text names: by the whole name, or a short name with a hyphen.

    Capitals, accents and stops do not matter.  A single word names nobody: it could be any word.
    """
    said = _words(text)
    found = (
        who.id
        for who in people
        for name in (who.name, who.id)
        if re.search(r"[\s-]", name.strip()) and _words(name) in said
    )
    return tuple(dict.fromkeys(found))


def naming_faults(sheet: Sheet, everybody: Callable[[], Sequence[Person]]) -> Iterator[Fault]:
    """One for each text of the sheet that names somebody; a sheet without texts asks for nobody."""
    texts = tuple(_texts(sheet))
    people = everybody() if texts else ()
    if not named_in(" . ".join(text for _, text in texts), people):
        return  # one look at everybody where nobody is named, as is usual
    for path, text in texts:
        for who in named_in(text, people):
            yield Fault(
                path,
                f"it names {who}, and would go on doing so after the name is erased",
                "say 'the candidate', 'the other assessor' or a student's code",
            )


def _texts(sheet: Sheet) -> Iterator[tuple[Path, str]]:
    """Every free text of the sheet that is there, with its path."""
    if sheet.corrects:
        yield ("corrects", "because"), sheet.corrects.because
    for n, note in enumerate(sheet.notes):
        yield ("notes", n, "text"), note.text
    yield from ((("ratings", n, "note"), r.note) for n, r in enumerate(sheet.ratings) if r.note)
    yield from ((("incidents", n, "note"), i.note) for n, i in enumerate(sheet.incidents) if i.note)
    for n, student in enumerate(sheet.students):
        if student.remark:
            yield ("students", n, "remark"), student.remark


def _words(text: str) -> str:
    """The words of a text without accents, each between spaces."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(letter for letter in apart if not unicodedata.combining(letter))
    return " ".join(["", *re.findall(r"[\w-]+", plain), ""])
