"""Putting certificates on paper, and for which awards none is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.awards import find_award, how_it_stands, reduction_of
from standfast.desk.definitions import kept
from standfast.desk.honouring import rubric_text
from standfast.desk.opening import Desk
from standfast.desk.people import person
from standfast.model.award import Award, Standing
from standfast.problems import NotFound, Refused

if TYPE_CHECKING:
    from standfast.paper.batch import Job
    from standfast.paper.view.certificate import CertificateView


from standfast.desk.press import folders, in_a_name, make_folder, printer, save

NO_CERTIFICATE = {
    "lapsed": "has lapsed",
    "suspended": "is suspended",
    "withdrawn": "is withdrawn",
}
"""Standings in which none is printed, in words."""


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
    if why := no_certificate(desk, award, told):
        raise Refused(why, ["no certificate is printed; 'standfast print record' tells its story"])
    view = certificate_of(desk, award, told)
    return save(out, _certificate_file(award), printer(desk).print("certificate", view))


def print_certificates(
    desk: Desk, out: Path, progress: Callable[[int, int], None]
) -> tuple[Path, ...]:
    """Prints the certificate of every award that has not lapsed into the folder `out`.

    Raises:
        PaperError: the first that cannot be drawn.
    """
    from standfast.paper.batch import print_all

    jobs = certificate_jobs(desk, out)
    make_folder(out)
    print_all(jobs, folders(desk), progress)
    return tuple(job.file for job in jobs)


def certificate_jobs(desk: Desk, out: Path) -> list[Job]:
    """One page for each award that has not lapsed on the desk's day."""
    from standfast.paper.batch import Job

    jobs = []
    for one in desk.book.awards(on=desk.today):
        told = how_it_stands(desk, one.award)
        if not no_certificate(desk, one.award, told):
            view = certificate_of(desk, one.award, told)
            jobs.append(Job("certificate", view, out / _certificate_file(one.award)))
    return jobs


def no_certificate(desk: Desk, award: Award, told: Standing) -> str:
    """Why no certificate of that day is given out; empty when one may be.

    What was ruled later counts too: nobody is to show a paper of an earlier day.
    """
    from standfast.store.names import ERASED

    if told.state in NO_CERTIFICATE:
        return f"{award.number} {NO_CERTIFICATE[told.state]} on {desk.today}: {told.because}"
    later = desk.today < desk.calendar_day
    now = how_it_stands(desk.on_day(desk.calendar_day), award) if later else told
    if now.state in {"suspended", "withdrawn"}:
        return f"{award.number} {NO_CERTIFICATE[now.state]}: {now.because}"
    if person(desk, award.candidate).name == ERASED:
        return f"{award.number}: its holder's name was erased"
    return ""


def _certificate_file(award: Award) -> str:
    return f"certificate-{in_a_name(award.number)}.pdf"


def certificate_of(desk: Desk, award: Award, told: Standing) -> CertificateView:
    """What the certificate of that award says on the desk's day."""
    from standfast.paper.view.certificate import certificate_view

    decision = desk.book.find_decision(award.decision)
    if decision is None:
        raise NotFound("decision", award.decision, [])
    texts = kept(desk, decision.decision.rubric.hash, decision.decision.syllabus.hash)
    return certificate_view(
        award,
        person(desk, award.candidate),
        person(desk, award.certifier),
        desk.school,
        rubric_text(desk, award.rubric.hash) or texts.rubric,
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
