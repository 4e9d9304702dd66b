"""Commands about what a school writes down: new, check, people, key."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standfast.cli import options, show


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(epilog=options.example("standfast new my-school"))(new)
    app.command(epilog=options.example("standfast check rubrics candidates"))(check)
    app.command(epilog=options.example("standfast people candidates/people.yaml"))(people)
    app.command(epilog=options.example("standfast key --count 3"))(key)


def new(
    folder: Annotated[
        Path, typer.Argument(help="The folder to make; it is not there yet, or is empty.")
    ],
    name: Annotated[str, typer.Option(help="The school's name.")] = "",
    zone: Annotated[str, typer.Option(help="The school's time zone.")] = "UTC",
    as_json: options.Json = False,
) -> None:
    """Make a school in a new folder.

    Settings, rubrics and syllabuses to start from, an example of people, and an empty record book.
    """
    from standfast.desk.schools import new_school

    made = new_school(folder, name or folder.resolve().name, zone, options.moment())
    words = [
        f"made the school '{made.name}' in {folder}",
        "  school.yaml      its settings: look at them first",
        "  rubrics/         rubrics and syllabuses to start from; change them as you need",
        "  candidates/      people and score sheets; people.yaml has an example",
        "  templates/       copy a template here to change what paper looks like",
        "  standfast.db     the record book; keep copies of it",
        f"next: cd {folder} && standfast check",
    ]
    show.answer(
        words, {"school": made.id, "name": made.name, "folder": str(folder)}, as_json=as_json
    )


def check(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(help="Files and folders; the school's own when none is named."),
    ] = None,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Say every fault of a school's files.

    Rubrics, syllabuses, people and sheets, each alone and all together; exit 1 when there is one,
    2 when something named is not there.
    """
    from standfast.desk.definitions import check as check_files

    found = check_files(paths or [folder], folder)
    words = [str(problem) for problem in found.problems]
    words.append(
        f"{show.counted(found.files, 'file')}: {show.counted(len(found.rubrics), 'rubric')},"
        f" {show.counted(len(found.syllabuses), 'syllabus')}, {found.people} people,"
        f" {show.counted(found.sheets, 'sheet')}; "
        + (show.counted(len(found.problems), "fault") if found.problems else "no faults")
    )
    value = {
        "files": found.files,
        "rubrics": found.rubrics,
        "syllabuses": found.syllabuses,
        "people": found.people,
        "sheets": found.sheets,
        "problems": [show.problem_value(problem) for problem in found.problems],
    }
    show.answer(words, value, as_json=as_json)
    if not all(path.exists() for path in paths or ()):
        raise typer.Exit(show.COULD_NOT)
    raise typer.Exit(show.NO if found.problems else show.YES)


def people(
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="YAML, CSV or XLSX files; the school's own when none is named."),
    ] = None,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Enter people from files into the book.

    All of them, or none and why.  CSV and XLSX: one row for each person, with the columns person,
    name, contact, site, first-aid issued, first-aid until (and so on for each document), trained
    by, trained since, scores, scores since, scores until.
    """
    from standfast.desk.people import enter_files

    with options.desk(folder, by=by) as desk:
        entered = enter_files(desk, files or ())
    words = [
        f"new: {', '.join(entered.new) or 'nobody'}",
        f"changed: {', '.join(entered.changed) or 'nobody'}",
        f"as before: {entered.same}",
        *(
            f"{version} counts from now on for awards under earlier ones"
            for version in entered.versions
        ),
    ]
    value = {"new": entered.new, "changed": entered.changed, "same": entered.same}
    if entered.versions:
        value["versions"] = entered.versions
    show.answer(words, value, as_json=as_json)


def key(
    count: Annotated[int, typer.Option(min=1, max=1000, help="How many.")] = 1,
    as_json: options.Json = False,
) -> None:
    """Say a fresh id for a sheet written by hand."""
    from standfast.model.keys import uuid7

    here = options.moment()
    keys = [uuid7(here.now, here.random(10)) for _ in range(count)]
    show.answer(keys, {"keys": keys}, as_json=as_json)
