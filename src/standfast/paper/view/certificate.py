"""What a certificate says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from standfast.model.award import Award, Reduction, Standing
from standfast.model.decision import Decision
from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.model.school import School
from standfast.model.syllabus import Syllabus
from standfast.paper.code import code
from standfast.paper.seal import seal_path
from standfast.paper.view.words import INVENTED, cautions, day, listed, name_size

SEAL = seal_path()


@dataclass(frozen=True)
class Checkable:
    """How anybody checks a signed certificate."""

    text: str
    """What the code says: scanned, it opens the page that checks with the certificate's token."""
    address: str
    """Of that page; empty for a school that has none."""
    fingerprint: str
    """Of the key that signed, for comparing."""

    @property
    def code(self) -> str:
        """The code as a picture; made where the page is drawn, since it takes a while."""
        return code(self.text)


REDUCED = "Only the skills named here: the scope was reduced on"
"""Among the conditions, so that a school's own template says it too."""


@dataclass(frozen=True)
class CertificateView:
    """A certificate, in words."""

    title: str
    language: str
    paper: str
    school: str
    address: str
    name: str
    name_size: str
    number: str
    scope: str
    scope_words: str
    skills: tuple[str, ...]
    conditions: tuple[str, ...]
    valid_from: str
    last_day: str
    ends_by: str
    refresher: str
    certifier: str
    took_part: str
    granted: str
    rubric: str
    text: str
    seen_on: str
    stood: str
    """The day of which the page tells how the award stands."""
    check: str
    seal: str
    caution: tuple[str, ...]
    invented: str
    signed: Checkable | None = None
    """Set by whoever signs."""


def impartiality(award: Award, certifier: str, decision: Decision | None) -> str:
    """What the school allowed although it could be doubted; which tie it was is not said."""
    allowed = []
    if award.certifier_took_part:
        allowed.append(f"{certifier} {award.certifier_took_part}")
    if award.certifier_tied:
        allowed.append(f"{certifier} had a conflict of interest with the holder")
    if decision and decision.tied:
        allowed.append("an assessor of the evidence had a conflict of interest with the holder")
    words = listed(allowed)
    return f"{words[0].upper()}{words[1:]}; the school's rules allow this." if words else ""


def certificate_view(  # noqa: PLR0913 - one for each noun that the page is made from
    award: Award,
    candidate: Person,
    certifier: Person,
    school: School,
    rubric: Rubric,
    syllabus: Syllabus,
    seen_on: Sequence[date],
    told: Standing,
    *,
    on: date,
    reduced: Reduction | None = None,
    decision: Decision | None = None,
) -> CertificateView:
    """What the certificate of an award says.

    `seen_on` are the days of the practicals; `told` is how the award stands on the day `on` and
    `reduced` what was taken from its scope.  `decision` is the one that it rests on.
    """
    titles = {skill.id: skill.title for skill in syllabus.skills}
    gone = reduced.without if reduced else ()
    limits = [f"{REDUCED} {day(reduced.since)}."] if reduced else []
    if told.limit:
        limits.append(f"Until a refresher is passed: {told.limit}.")
    dates, last_day, ends_by = award.dates, told.ends, told.ends_by
    if told.state == "in grace" and told.counts_until:
        last_day, ends_by = told.counts_until, "the grace after a missed refresher"
    refresher = ""
    if dates.refresher_due and dates.refresher_due < dates.last_day:
        refresher = (
            f"{day(dates.refresher_opens or dates.refresher_due)} to {day(dates.refresher_due)}"
        )
    return CertificateView(
        title=f"Certificate {award.number}",
        language=school.language,
        paper=school.paper,
        school=school.name,
        address=school.address or "",
        name=candidate.name,
        name_size=name_size(candidate.name),
        number=award.number,
        scope=award.scope.title,
        scope_words=award.scope.words,
        skills=tuple(titles.get(skill, skill) for skill in award.scope.skills if skill not in gone),
        conditions=(*award.conditions, *limits),
        valid_from=day(dates.first_day),
        last_day=day(last_day),
        ends_by="" if last_day == dates.last_day else f"it ends with {ends_by.replace('-', ' ')}",
        refresher=refresher,
        certifier=certifier.name,
        took_part=impartiality(award, certifier.name, decision),
        granted=day(award.granted),
        rubric=rubric.title,
        text=f"version {award.rubric.version}, text {award.rubric.hash[:12]}",
        seen_on=listed([day(seen) for seen in sorted(set(seen_on))]),
        stood=day(on),
        check=school.check_address or "",
        seal=SEAL,
        caution=cautions(school),
        invented=INVENTED if school.invented else "",
    )
