"""Score sheets from YAML, JSON and CSV, and back to YAML."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from standfast.files.read import Document, Placed, parse_yaml, read_text, read_yaml
from standfast.files.shape import as_noun
from standfast.model.canonical import plain
from standfast.model.sheet import Sheet
from standfast.problems import BadInput, Place, Problem


def read_sheet(path: Path) -> Placed[Sheet]:
    """The score sheet of a YAML, JSON or CSV file; the key `sheet` holds its id.

    Raises:
        BadInput: every fault of its form and shape.
    """
    suffix = path.suffix.lower()
    if suffix == ".csv":
        from standfast.files.sheet_table import read_sheet_table

        return read_sheet_table(path)
    return as_sheet(read_json(path) if suffix == ".json" else read_yaml(path))


def as_sheet(document: Document) -> Placed[Sheet]:
    """The sheet that a document holds; as `read_sheet`."""
    return as_noun(Sheet, document, word="sheet")


def read_json(path: Path) -> Document:
    """What a JSON file says, with places.

    Strict JSON is asked for first; the places come from reading the same text as YAML 1.2, of
    which JSON is a part.

    Raises:
        BadInput: it is no JSON, or names a key twice.
    """
    text, name = read_text(path), str(path)
    try:
        json.loads(text, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        place = Place(name, error.lineno, error.colno)
        raise BadInput(
            [Problem(place, f"is no JSON ({error.msg})", "mend the form there")]
        ) from None
    except (ValueError, RecursionError) as error:
        raise BadInput([Problem(Place(name), f"is no JSON ({error})", "mend the form")]) from None
    return parse_yaml(text.replace("\t", " "), name)


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is no number")


def plain_sheet(sheet: Sheet) -> str:
    """The sheet as YAML that `read_sheet` reads back to an equal sheet.

    Text stands in double quotes, so that no word is taken for a number.
    """
    values = plain(sheet)
    values = {"sheet": values.pop("id"), **values}
    return "".join(_lines(values, ""))


def _lines(value: dict[str, Any], indent: str) -> list[str]:
    lines = []
    for key, part in value.items():
        if isinstance(part, list) and part and isinstance(part[0], dict):
            lines.append(f"{indent}{key}:\n")
            lines.extend(f"{indent}  - {json.dumps(item, ensure_ascii=False)}\n" for item in part)
        else:
            lines.append(f"{indent}{key}: {json.dumps(part, ensure_ascii=False)}\n")
    return lines
