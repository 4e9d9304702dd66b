"""Ruling on an award: suspended, reinstated, withdrawn, its scope reduced or restored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter

from standfast.desk.appeals import evidence
from standfast.desk.awards import find_award, how_it_stands, not_ahead, titles_of
from standfast.desk.opening import Desk
from standfast.desk.people import check_because, person
from standfast.desk.upheld import withdrawal_undone
from standfast.engine.awarding import order_objections, part_taken, ruling_objections
from standfast.engine.impartiality import tied
from standfast.engine.scope import permitted, scope_objections
from standfast.model.award import COUNTING, Award, Ruling, RulingKind, Standing
from standfast.model.people import Person
from standfast.problems import Refused


@dataclass(frozen=True)
class Ruled:
    """What was ruled of an award, and how it stands since."""

    award: Award
    holder: Person
    standing: Standing
    entry: str
    skills: tuple[str, ...]
    """Titles of the skills that it covers now; none when it does not count."""


def rule(
    desk: Desk,
    wanted: str,
    kind: RulingKind,
    ruler: str,
    because: str,
    without: Sequence[str] = (),
    *,
    read: int | None = None,
) -> Ruled:
    """Suspends, reinstates or withdraws an award, or changes its scope, from the desk's day on.

    `wanted` is the certificate's number, or who holds it and no other; `without` are the skills
    that a reduction takes away.  With `read`, how many rulings on it somebody was shown, nothing is
    ruled on any later state; what she ruled on just that before is given as it stands.

    Raises:
        NotFound: no such award or person.
        Refused: who may not rule, what cannot be ruled now, several awards, a day that has not
            come, or other rulings were read.
        StandfastError: no words why, or too many.
    """
    not_ahead(desk, "what is ruled is entered on its day or later")
    check_because(desk, because)
    with desk.book.together():
        award, who = find_award(desk, wanted, newest=False), person(desk, ruler)
        before = desk.book.rulings(award.id)
        ruling = _ruling(desk, award, kind, who, because, without)
        if read is not None and read != len(before):
            return _ruled_before(desk, award, before, read, ruling)
        if found := objections_to(desk, award, who, ruling):
            raise Refused(f"{award.number} cannot be {kind} on {desk.today}:", found)
        desk.book.put_ruling(ruling, desk.stamp())
        return _ruled(desk, award)


def _ruled_before(
    desk: Desk, award: Award, rulings: Sequence[Ruling], read: int, ruling: Ruling
) -> Ruled:
    """The ruling that was entered after so many, when it is this one.

    Raises:
        Refused: it is another.
    """
    said = attrgetter("kind", "by", "because", "without")
    if [said(one) for one in rulings[read:]] == [said(ruling)]:
        return _ruled(desk, award)
    why = "it was ruled on since the page was read; look at how it stands"
    raise Refused(f"{award.number} was not {ruling.kind}:", [why])


def why_no_ruling(
    desk: Desk, award: Award, kind: RulingKind, ruler: str, without: Sequence[str] = ()
) -> tuple[str, ...]:
    """Every reason for which `rule` would refuse that now; none when it would enter it.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    who = person(desk, ruler)
    return objections_to(desk, award, who, _ruling(desk, award, kind, who, "asked before", without))


def _ruling(
    desk: Desk,
    award: Award,
    kind: RulingKind,
    who: Person,
    because: str,
    without: Sequence[str] = (),
) -> Ruling:
    return Ruling(
        award=award.id,
        kind=kind,
        on=desk.today,
        by=who.id,
        because=because,
        without=tuple(dict.fromkeys(without)),
        tied=tied(who, person(desk, award.candidate), desk.today),
        took_part=_part_taken(desk, award, who),
    )


def _part_taken(desk: Desk, award: Award, who: Person) -> str | None:
    """How who rules had trained or assessed the holder."""
    holder = person(desk, award.candidate)
    if who.id == holder.id:
        return None  # said otherwise
    return part_taken(who, holder, evidence(desk, award.decision), desk.today)


def objections_to(desk: Desk, award: Award, who: Person, ruling: Ruling) -> tuple[str, ...]:
    """By the school's policies, by how the award stands, and by what was ruled of it before."""
    school, before = desk.school, desk.book.rulings(award.id)
    found = ruling_objections(
        ruling.kind,
        award,
        how_it_stands(desk, award),
        who,
        desk.today,
        part=None if school.certifier_may_have_taken_part else ruling.took_part,
        tied=ruling.tied and school.conflict_of_interest == "refused",
        upheld=withdrawal_undone(desk, award),
    )
    found += scope_objections(ruling, award, before)
    return found + order_objections(ruling.on, before)


def _ruled(desk: Desk, award: Award) -> Ruled:
    """The award after its last ruling."""
    told, kept = how_it_stands(desk, award), desk.book.kept_rulings(award.id)
    rulings = tuple(one.ruling for one in kept)
    skills = permitted(award, rulings, desk.today) if told.state in COUNTING else ()
    holder = person(desk, award.candidate)
    return Ruled(award, holder, told, kept[-1].entry, titles_of(desk, award, skills))
