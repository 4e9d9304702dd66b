"""Putting on paper: certificates, records, blank score sheets, due lists, letters, plans."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.awards import find_award, how_it_stands, reduction_of, skill_titles
from standfast.desk.decisions import decide_for
from standfast.desk.definitions import kept, written
from standfast.desk.due import Asked, DueList, Row, due
from standfast.desk.focusing import Ahead, ahead
from standfast.desk.opening import Desk
from standfast.desk.people import name_of, person
from standfast.desk.schools import shipped
from standfast.engine.narrowing import asked
from standfast.model.award import Award, Standing
from standfast.model.decision import Decision
from standfast.model.rubric import Rubric
from standfast.problems import NotFound, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.desk.planning import PlannedDay
    from standfast.model.appeal import Answer, Appeal
    from standfast.paper.batch import Job
    from standfast.paper.pdf import Printer
    from standfast.paper.view.certificate import CertificateView
    from standfast.paper.view.record import Held, Part
    from standfast.paper.view.score_sheet import Lesson

NO_CERTIFICATE = {
    "lapsed": "has lapsed",
    "suspended": "is suspended",
    "withdrawn": "is withdrawn",
}
"""Standings in which none is printed, in words."""
MOST_ROWS, USUAL_ROWS, LEAST_ROWS = 30, 11, 6
"""Rows for tries on a blank score sheet, two tries each: as many as the page holds, no fewer."""


def folders(desk: Desk) -> tuple[Path, ...]:
    """Where templates are looked for: the school's own folder, then the shipped one."""
    own = desk.root / "templates"
    return (own, shipped("templates")) if own.is_dir() else (shipped("templates"),)


def printer(desk: Desk) -> Printer:
    """A printer with the school's templates."""
    from standfast.paper.pdf import Printer

    return Printer(folders(desk))


def print_certificate(desk: Desk, wanted: str, out: Path) -> Path:
    """Prints a certificate into the folder `out`: by its number, or the newest of a candidate.

    Raises:
        NotFound: no such award.
        Refused: it has lapsed or is suspended or withdrawn on the desk's day, or another took
            its place.
        PaperError: it cannot be drawn.
    """
    award = find_award(desk, wanted)
    told = how_it_stands(desk, award)
    if why := _no_certificate(desk, award, told):
        raise Refused(why, ["no certificate is printed; 'standfast print record' tells its story"])
    view = _certificate(desk, award, told)
    return _save(out, _certificate_file(award), printer(desk).print("certificate", view))


def print_certificates(
    desk: Desk, out: Path, progress: Callable[[int, int], None]
) -> tuple[Path, ...]:
    """Prints the certificate of every award that has not lapsed into the folder `out`.

    Raises:
        PaperError: the first that cannot be drawn.
    """
    from standfast.paper.batch import print_all

    jobs = certificate_jobs(desk, out)
    _make_folder(out)
    print_all(jobs, folders(desk), progress)
    return tuple(job.file for job in jobs)


def certificate_jobs(desk: Desk, out: Path) -> list[Job]:
    """One page for each award that has not lapsed on the desk's day."""
    from standfast.paper.batch import Job

    jobs = []
    for one in desk.book.awards(on=desk.today):
        told = how_it_stands(desk, one.award)
        if not _no_certificate(desk, one.award, told):
            view = _certificate(desk, one.award, told)
            jobs.append(Job("certificate", view, out / _certificate_file(one.award)))
    return jobs


def _no_certificate(desk: Desk, award: Award, told: Standing) -> str:
    """Why no certificate of that day is given out; empty when one may be.

    What was ruled later counts too: nobody is to show a paper of an earlier day.
    """
    from standfast.store.names import ERASED

    if told.state in NO_CERTIFICATE:
        return f"{award.number} {NO_CERTIFICATE[told.state]} on {desk.today}: {told.because}"
    now = how_it_stands(desk.on_day(max(desk.today, desk.calendar_day)), award)
    if now.state in {"suspended", "withdrawn"}:
        return f"{award.number} {NO_CERTIFICATE[now.state]}: {now.because}"
    if person(desk, award.candidate).name == ERASED:
        return f"{award.number}: its holder's name was erased"
    return ""


def _certificate_file(award: Award) -> str:
    return f"certificate-{_slug(award.number)}.pdf"


def _certificate(desk: Desk, award: Award, told: Standing) -> CertificateView:
    from standfast.paper.view.certificate import certificate_view

    decision = desk.book.find_decision(award.decision)
    if decision is None:
        raise NotFound("decision", award.decision, [])
    texts = kept(desk, decision.decision.rubric.hash, decision.decision.syllabus.hash)
    granting = desk.book.find_text(award.rubric.hash)
    return certificate_view(
        award,
        person(desk, award.candidate),
        person(desk, award.certifier),
        desk.school,
        granting if isinstance(granting, Rubric) else texts.rubric,
        texts.syllabus,
        list(_seen_on(desk, award)),
        told,
        on=desk.today,
        reduced=reduction_of(desk, award),
        decision=decision.decision,
    )


def _seen_on(desk: Desk, award: Award) -> Iterator[date]:
    """The days of the practicals: of a top-up also those of the award that it goes on from."""
    kept = desk.book.find_decision(award.decision)
    if kept is None:
        return
    for key in kept.decision.sheets:
        if sheet := desk.book.find_sheet(key):
            yield sheet.sheet.on
    before = desk.book.find_award(award.renews) if award.renews else None
    if before and kept.decision.is_top_up:
        yield from _seen_on(desk, before.award)


def print_record(desk: Desk, wanted: str, out: Path) -> Path:
    """Prints a person's competency record into the folder `out`.

    Raises:
        NotFound: nobody of that slug is in the book.
        PaperError: it cannot be drawn.
    """
    from standfast.paper.view.record import RecordFacts, record_view

    who = person(desk, wanted)
    made = [one.decision for one in desk.book.decisions(wanted) if one.decision.on <= desk.today]
    facts = RecordFacts(
        who,
        desk.school,
        desk.today,
        tuple(_parts(desk, wanted)),
        tuple(_held(desk, wanted)),
        tuple((_title(desk, d.rubric.hash, d.rubric.id), d) for d in made),
        lambda slug: name_of(desk, slug),
        tuple(_own_appeals(desk, wanted)),
    )
    page = printer(desk).print("record", record_view(facts))
    return _save(out, f"record-{_slug(wanted)}.pdf", page)


def _own_appeals(desk: Desk, wanted: str) -> Iterator[tuple[Appeal, Answer | None]]:
    """Those of the person by the desk's day; what others complain about is not for this paper."""
    for one in desk.book.appeals(wanted):
        if one.appeal.kind == "appeal" and one.appeal.received <= desk.today:
            answered = one.answer and one.answer.on <= desk.today
            yield one.appeal, one.answer if answered else None


def _title(desk: Desk, text: str, otherwise: str) -> str:
    rubric = desk.book.find_text(text)
    return rubric.title if isinstance(rubric, Rubric) else otherwise


def _held(desk: Desk, wanted: str) -> list[Held]:
    return [_one_held(desk, one.award) for one in desk.book.awards(wanted, on=desk.today)]


def _one_held(desk: Desk, award: Award) -> Held:
    from standfast.paper.view.record import Held

    now, titles = reduction_of(desk, award), skill_titles(desk, award)
    without = tuple(titles.get(skill, skill) for skill in now.without) if now else ()
    rulings = tuple(one for one in desk.book.rulings(award.id) if one.on <= desk.today)
    since = now.since if now else None
    return Held(award, how_it_stands(desk, award), without, since, rulings)


def _parts(desk: Desk, wanted: str) -> list[Part]:
    """For each rubric with a sheet: the last decision in the book, else one made for the paper."""
    rubrics = dict.fromkeys(
        one.sheet.rubric for one in desk.book.sheets(wanted) if one.sheet.on <= desk.today
    )
    return [part for rubric in rubrics for part in _of_rubric(desk, wanted, rubric)]


def _of_rubric(desk: Desk, wanted: str, rubric: str) -> Iterator[Part]:
    """The last decision on what the rubric asks, and a top-up that came after it."""
    made = [
        one.decision for one in desk.book.decisions(wanted, rubric) if one.decision.on <= desk.today
    ]
    if not made:
        decided = decide_for(desk, wanted, rubric)
        yield _part(desk, decided.decision, decided.texts.rubric, kept_so=False)
        return
    top_ups = [n for n, one in enumerate(made) if one.is_top_up]
    others = [n for n in range(len(made)) if n not in top_ups]
    for n in sorted({*others[-1:], *(n for n in top_ups[-1:] if not others or n > others[-1])}):
        text = kept(desk, made[n].rubric.hash, made[n].syllabus.hash).rubric
        yield _part(desk, made[n], text, kept_so=True)


def _part(desk: Desk, decision: Decision, text: Rubric, *, kept_so: bool) -> Part:
    from standfast.paper.view.record import Part

    named = {*decision.sheets, *(left.sheet for left in decision.left_out)}
    sheets = sorted(
        (
            one.sheet
            for one in desk.book.sheets(decision.candidate, text.id, superseded=True)
            if one.sheet.id in named
        ),
        key=lambda sheet: (sheet.began, sheet.assessor),
    )
    return Part(text, decision, kept_so, tuple(sheets))


def print_score_sheet(
    desk: Desk,
    rubric: str,
    lesson: Lesson,
    out: Path,
    candidate: str | None = None,
    *,
    top_up: bool = False,
) -> Path:
    """Prints a blank score sheet of one page, with as many lines for tries as it holds.

    For a named candidate the sheet of a refresher or a top-up asks only what it covers.

    Raises:
        NotFound: no such rubric, skill or person.
        Refused: there is nothing to top up, or it is not said whose award.
        StandfastError: not even the least number of lines fits.
    """
    from standfast.paper.pdf import TooLong
    from standfast.paper.view.score_sheet import score_sheet_view

    if top_up and candidate is None:
        raise Refused("a top-up depends on the award that is held; say whose with --candidate")
    coming = Ahead(written(desk, rubric), None)
    if candidate:
        coming = ahead(desk, candidate, rubric, top_up=top_up)
    texts, lesson = coming.texts, replace(lesson, focus=coming.focus)
    sheet_asks = asked(texts.rubric, coming.covers)
    known = [skill.id for skill in texts.syllabus.skills]
    for skill in lesson.skills:
        if skill not in known:
            raise NotFound("skill", skill, known)
    press = printer(desk)

    def draw(rows: int) -> bytes | None:
        view = score_sheet_view(sheet_asks, texts.syllabus, desk.school, lesson, rows)
        try:
            return press.print("score-sheet", view, most_pages=1)
        except TooLong:
            return None

    drawn = _fullest(draw)
    if drawn is None:
        raise StandfastError(
            f"a sheet with {2 * LEAST_ROWS} lines for tries does not fit on one page of"
            f" {desk.school.paper}; ask for fewer students, minutes or skills"
        )
    return _save(out, f"score-sheet-{_slug(lesson.practical or rubric)}.pdf", drawn)


def _fullest(draw: Callable[[int], bytes | None]) -> bytes | None:
    """The page with the most rows that is still one page; None when not even the fewest fit."""
    rows, drawn = USUAL_ROWS, draw(USUAL_ROWS)
    if drawn is None:
        while drawn is None and rows > LEAST_ROWS:
            rows -= 1
            drawn = draw(rows)
        return drawn
    while rows < MOST_ROWS and (more := draw(rows + 1)) is not None:
        rows, drawn = rows + 1, more
    return drawn


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
    view = due_view(rows, title, desk.today, desk.school)
    return _save(out, f"due-{_slug(found.title)}.pdf", printer(desk).print("due-list", view))


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

    _make_folder(out, "--letters")
    people: dict[str, list[Row]] = {}
    for row in found.rows:
        people.setdefault(row.person, []).append(row)
    jobs = []
    for slug, rows in people.items():
        lines = [(r.by, r.what, r.about, r.certificate, r.to_do) for r in rows]
        view = letter_view(rows[0].name, lines, desk.today, desk.school)
        jobs.append(Job("letter", view, out / f"letter-{_slug(slug)}.pdf"))
        text = printer(desk).text("letter", view)
        _save(out, f"letter-{_slug(slug)}.txt", text.encode("utf-8"), "--letters")
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
    return _save(out, f"plan-{_slug(planned.asked.id)}.pdf", page)


def _slug(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-")


def _make_folder(out: Path, option: str = "--out") -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _not_written(out, error, option) from None


def _save(out: Path, name: str, page: bytes, option: str = "--out") -> Path:
    """Writes the page beside its place first, so that no half page is ever there.

    `option` is the one that named the folder, for the words when it cannot be written.
    """
    _make_folder(out, option)
    file, half = out / name, out / f".{name}.{os.getpid()}"
    try:
        half.write_bytes(page)
        half.replace(file)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise _not_written(file, error, option) from None
    return file


def _not_written(file: Path, error: OSError, option: str) -> StandfastError:
    return StandfastError(f"{file}: {error.strerror}; name another folder with {option}")
