"""Putting lists on paper: what falls due, letters about it, the plan of a day."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.due import Asked, DueList, Row, due
from standfast.desk.opening import Desk

if TYPE_CHECKING:
    from standfast.desk.planning import PlannedDay


from standfast.desk.press import folders, in_a_name, make_folder, printer, save


def print_due(desk: Desk, asked: Asked, out: Path) -> Path:
    """Prints what falls due in a quarter, or in the days ahead.

    Raises:
        StandfastError: no such quarter or span.
        NotFound: no such site or rubric.
    """
    from standfast.paper.view.due_list import due_view

    found = due(desk, asked)
    rows = [
        (str(r.by), r.what, r.name, r.about, r.certificate, r.to_do)
        for _, group in found.groups
        for r in group
    ]
    title = f"{found.title}, {found.first} to {found.last}"
    view = due_view(rows, title, found.counts, desk.today, desk.school)
    return save(out, f"due-{in_a_name(found.title)}.pdf", printer(desk).print("due-list", view))


def print_letters(
    desk: Desk, found: DueList, out: Path, progress: Callable[[int, int], None]
) -> tuple[Path, ...]:
    """A letter to everybody for whom something falls due, as PDF and as text for mail.

    Raises:
        PaperError: the first that cannot be drawn.
        StandfastError: they cannot be written.
    """
    from standfast.paper.batch import Job, print_all
    from standfast.paper.view.letter import letter_view

    make_folder(out, "--letters")
    people: dict[str, list[Row]] = {}
    for row in found.rows:
        people.setdefault(row.person, []).append(row)
    jobs = []
    for slug, rows in people.items():
        lines = [(r.by, r.what, r.about, r.certificate, r.to_do) for r in rows]
        view = letter_view(rows[0].name, lines, desk.today, desk.school)
        jobs.append(Job("letter", view, out / f"letter-{in_a_name(slug)}.pdf"))
        text = printer(desk).text("letter", view)
        save(out, f"letter-{in_a_name(slug)}.txt", text.encode("utf-8"), "--letters")
    print_all(jobs, folders(desk), progress)
    return tuple(job.file for job in jobs)


def print_plan(desk: Desk, planned: PlannedDay, out: Path) -> Path:
    """Prints a planned day into the folder `out`.

    Raises:
        PaperError: it cannot be drawn.
    """
    from standfast.paper.view.plan import plan_view

    title, on = f"Practicals: {planned.title}", planned.asked.day
    view = plan_view(title, on, planned.lines, planned.parts, planned.said, desk.school)
    page = printer(desk).print("plan", view)
    return save(out, f"plan-{in_a_name(planned.asked.id)}.pdf", page)
