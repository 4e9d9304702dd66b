"""A whole folder: every definition in it, and every fault, never stopping at the first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from standfast.files.candidates import as_people, read_people, twice
from standfast.files.plan import as_plan
from standfast.files.read import Document, Placed, read_yaml
from standfast.files.shape import as_noun
from standfast.files.sheets import as_sheet, read_json, read_sheet
from standfast.model.people import Person
from standfast.model.plan import AskedDay
from standfast.model.rubric import Rubric
from standfast.model.school import School
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus
from standfast.problems import BadInput, Place, Problem, nearest

KINDS = ("school", "rubric", "syllabus", "people", "sheet", "plan")
"""What the first key of a file may be."""


@dataclass
class Definitions:
    """What a school has written down."""

    schools: list[Placed[School]] = field(default_factory=list)
    rubrics: list[Placed[Rubric]] = field(default_factory=list)
    syllabuses: list[Placed[Syllabus]] = field(default_factory=list)
    people: list[Placed[Person]] = field(default_factory=list)
    sheets: list[Placed[Sheet]] = field(default_factory=list)
    plans: list[Placed[AskedDay]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)
    """What files with faults may hold: of KINDS."""
    files: int = 0


def read_definitions(root: Path) -> Definitions:
    """What the school in that folder has written down: settings, rubrics, syllabuses, people.

    Score sheets are not read: those of the school are in its record book.  Nor are days to plan:
    a fault in one must not keep anybody from deciding.
    """
    found = Definitions()
    names = [root / "school.yaml", *_inside(root / "rubrics"), *_inside(root / "candidates")]
    _read_all(names, found, skip=("sheet", "plan"))
    return found


def read_paths(paths: Sequence[Path]) -> Definitions:
    """Every definition and sheet of the files named, and of those in the folders named."""
    found = Definitions()
    names: dict[Path, None] = {}
    for path in paths:
        names.update(dict.fromkeys(_inside(path) if path.is_dir() else [path]))
    _read_all(names, found)
    return found


def _inside(folder: Path) -> Iterator[Path]:
    """The YAML and JSON files of a folder, in order; hidden ones and links out of it left out."""
    root = folder.resolve()
    for path in sorted(folder.rglob("*")):
        hidden = any(part.startswith(".") for part in path.relative_to(folder).parts)
        outside = not path.resolve().is_relative_to(root)
        if path.suffix in {".yaml", ".yml", ".json"} and not hidden and not outside:
            yield path


def _read_all(paths: Iterable[Path], found: Definitions, skip: Sequence[str] = ()) -> None:
    for path in paths:
        found.files += 1
        kinds = set(KINDS)
        try:
            kind, take = _opened(path, found)
            kinds = {kind}
            if kind not in skip:
                take()
        except BadInput as error:
            found.problems.extend(error.problems)
            found.unread |= kinds
    found.problems.extend(twice(found.people))


def _opened(path: Path, found: Definitions) -> tuple[str, Callable[[], object]]:
    """What the file holds, and what takes it in."""
    if path.suffix.lower() in {".csv", ".xlsx"}:
        return _opened_table(path, found)
    document = read_json(path) if path.suffix.lower() == ".json" else read_yaml(path)
    takers: dict[str, Callable[[], object]] = {
        "school": lambda: found.schools.append(as_noun(School, document, word="school")),
        "rubric": lambda: found.rubrics.append(as_noun(Rubric, document, word="rubric")),
        "syllabus": lambda: found.syllabuses.append(as_noun(Syllabus, document, word="syllabus")),
        "people": lambda: found.people.extend(as_people(document)),
        "sheet": lambda: found.sheets.append(as_sheet(document)),
        "plan": lambda: found.plans.append(as_plan(document)),
    }
    kind = _kind(document)
    return kind, takers[kind]


def _opened_table(path: Path, found: Definitions) -> tuple[str, Callable[[], object]]:
    """People when a column is `person`, else a score sheet."""
    from standfast.files.table import read_table

    if "person" in read_table(path).head:
        return "people", lambda: found.people.extend(read_people(path))
    return "sheet", lambda: found.sheets.append(read_sheet(path))


def _kind(document: Document) -> str:
    """What the file holds, told by its first key."""
    value = document.value
    first = next(iter(value), None) if isinstance(value, dict) else None
    if first in KINDS:
        return str(first)
    if first is None:
        place, what = Place(document.file, 1, 1), "begins with no key"
    else:
        place, what = document.keys[first,], f"begins with '{first}:'"
    cure = nearest(str(first), KINDS) if first else ""
    raise BadInput(
        [
            Problem(
                place, what, f"begin with one of {', '.join(k + ':' for k in KINDS)} {cure}".strip()
            )
        ]
    )
