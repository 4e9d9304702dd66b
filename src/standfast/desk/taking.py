"""Taking in a candidate's record from another school: evidence from elsewhere, no award here."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING, Any, cast

from standfast.desk.opening import Desk
from standfast.model.base import LONGEST_SLUG, SLUG, Reference
from standfast.model.canonical import canonical, content_hash
from standfast.model.handing import Carried, FromElsewhere, HandOver, Known
from standfast.model.people import Person
from standfast.problems import BadInput, Place, Problem, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.seal.handed import Handed, Named
    from standfast.seal.trust import TrustFile
    from standfast.store.bodies import Body, HandedOver
    from standfast.store.handing import KeptFromElsewhere

CURE = "ask the school that handed it over for the file again"
NO_AWARD = (
    "It is evidence from elsewhere, and gives nobody anything here: no decision counts it and no"
    " award follows from it. What of it this school recognises is for the school to decide, by its"
    " own rule."
)


@dataclass(frozen=True)
class TakenIn:
    """What is taken in, or would be."""

    record: FromElsewhere
    hand_over: HandOver
    name: str
    """Of the candidate, as the other school has it."""
    known_as: str | None
    """As this school has it; None when she is new here."""
    new_people: tuple[str, ...]
    """Names of those who judged or trained there, and are named here from now on."""
    counts: dict[str, int]
    """Entries by kind."""
    entry: str | None
    """Of this book; None when nothing was entered."""
    again: bool
    """It was taken in before."""


def take_in(
    desk: Desk, file: Path, wanted: str, trusted: Sequence[TrustFile], *, do: bool
) -> TakenIn:
    """Takes in the record of that file as that of the person `wanted`, or only says what it is.

    Raises:
        BadInput: the file was changed, or says something else than a record.
        Refused: the school is not believed, or the record may not be taken in, with every reason.
        StandfastError: the file cannot be read.
    """
    if not re.fullmatch(SLUG, wanted):
        raise StandfastError(f"'{wanted}' is no short name of a person; write it like kei-ito")
    handed = _read(file)
    bodies = _bodies(handed, file)
    agreement = cast("HandedOver", bodies[-1]).hand_over
    with desk.book.together():  # nobody may take it in meanwhile
        before = desk.book.taken_in()
        faults = [
            *_not_believed(handed, trusted),
            *_not_for_us(desk, agreement),
            *_no_slug(desk, wanted),
            *_known_otherwise(desk, handed, wanted, before),
        ]
        if faults:
            raise Refused(f"{file} was not taken in", faults)
        same = next((one for one in before if one.record.digest == handed.digest), None)
        record, new = _record(desk, handed, wanted, before)
        known = desk.book.find_person(wanted)
        entry = same.entry if same else None
        if do and same is None:
            desk.book.put_people(new, desk.stamp)
            entry = desk.book.put_taken_in(record, desk.stamp()).id
    return TakenIn(
        record,
        agreement,
        handed.first.candidate.name,
        known.name if known else None,
        () if same else tuple(one.name for one in new if one.id != wanted),
        _counted(bodies),
        entry,
        same is not None,
    )


# --- the file -------------------------------------------------------------------------------


def _read(file: Path) -> Handed:
    from standfast.seal.encoding import Unreadable
    from standfast.seal.handed import MOST_BYTES, read

    try:
        with file.open("rb") as opened:
            return read(opened.read(MOST_BYTES + 1))
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; name another file") from None
    except Unreadable as error:
        raise BadInput([Problem(Place(str(file)), str(error), CURE)]) from None


def _bodies(handed: Handed, file: Path) -> list[Body]:
    """What each entry says.

    Raises:
        BadInput: every entry that does not belong into a record of that candidate.
    """
    problems: list[Problem] = []
    bodies: list[Body] = []
    names = [handed.first.candidate, *handed.first.people]
    for at, one in enumerate(handed.carried, start=2):
        last = at == len(handed.carried) + 1
        found = _body(one.entry, handed.first.candidate.ref, last=last, shortened=bool(one.leaf))
        what = found if isinstance(found, str) else _names_somebody(one.entry, names)
        if what:
            problems.append(Problem(Place(str(file), at), what, CURE))
        elif not isinstance(found, str):
            bodies.append(found)
    places = [one.index for one in handed.carried]
    if not problems and places != sorted(set(places)):
        what = "the entries are not in the order of the book, or one is there twice"
        problems.append(Problem(Place(str(file)), what, CURE))
    if not problems:
        missing = _missing(bodies)
        problems = [Problem(Place(str(file), at), what, CURE) for at, what in missing]
    if problems:
        raise BadInput(problems)
    return bodies


def _body(text: str, candidate: str, *, last: bool, shortened: bool) -> Body | str:
    """What the entry says, or why it does not belong here."""
    from standfast.seal.encoding import Unreadable
    from standfast.seal.handed import content_of
    from standfast.store.bodies import KINDS

    try:
        told = content_of(text)
    except Unreadable as error:
        return str(error)
    if what := _no_entry(told):
        return what
    try:
        body = KINDS[told["kind"]].model_validate(told["body"])
    except (KeyError, ValueError):
        return f"no entry that is known here: '{told['kind']}'"
    faults = _unfit(body, told["about"], candidate, last=last, shortened=shortened)
    return next(faults, None) or body


_KEYS: dict[str, type | UnionType] = {
    "about": str | None,
    "at": str,
    "body": dict,
    "id": str,
    "kind": str,
    "seq": int,
    "supersedes": str | None,
    "who": str,
}
"""Of an entry of a journal (`store.journal.canonical_entry`)."""


def _no_entry(told: dict[str, Any]) -> str:
    """What the entry lacks or has too much; empty when it is made as a journal makes them."""
    if lacks := _KEYS.keys() - told.keys():
        return f"the entry does not say: {', '.join(sorted(lacks))}"
    if more := told.keys() - _KEYS.keys():
        return f"the entry says what no entry of a journal does: {', '.join(sorted(more))}"
    others = (key for key, kind in _KEYS.items() if not isinstance(told[key], kind))
    key = next(others, None)
    return f"'{key}' of the entry is nothing that a journal writes there" if key else ""


def _missing(bodies: Sequence[Body]) -> Iterator[tuple[int, str]]:
    """What entries rest on that was not handed over with them, and the line of each."""
    from standfast.store.bodies import AwardGranted, AwardRuled, TextKept

    texts = {body.hash for body in bodies if isinstance(body, TextKept)}
    awards = {body.award.id for body in bodies if isinstance(body, AwardGranted)}
    for at, body in enumerate(bodies, start=2):
        for text in _rests_on(body):
            if text.hash not in texts:
                yield at, f"the text of {text.id}, version {text.version}, is not in the file"
        if isinstance(body, AwardRuled) and body.ruling.award not in awards:
            yield at, "the award that it rules on is not in the file"


def _rests_on(body: Body) -> tuple[Reference, ...]:
    """The texts without which no book has it: the tables of the store see to these, to no more."""
    from standfast.store.bodies import DecisionMade, SheetTaken

    match body:
        case SheetTaken():
            return body.rubric, body.syllabus
        case DecisionMade():
            return (body.decision.rubric,)
        case _:
            return ()


def _unfit(
    body: Body, about: object, candidate: str, *, last: bool, shortened: bool
) -> Iterator[str]:
    from standfast.store.bodies import KIND_OF, HandedOver, TextKept
    from standfast.store.handing import ABOUT_HER

    if last and not isinstance(body, HandedOver):
        yield "there is no entry that she agreed, and that it was handed over"
    if isinstance(body, HandedOver) and not last:
        yield "it was handed over on another occasion too, which is nobody's here"
    if not isinstance(body, (*ABOUT_HER, HandedOver, TextKept)):
        yield f"'{KIND_OF[type(body)]}' is no part of a record"
    if shortened and not _may_be_shortened(type(body)):
        yield f"'{KIND_OF[type(body)]}' is handed over whole or not at all"
    if isinstance(body, TextKept):
        if (body.rubric is None) == (body.syllabus is None):
            yield "it is to hold a rubric or a syllabus, one of the two"
        elif content_hash(body.text) != body.hash:
            yield "the rubric or syllabus is not the one of its hash"
    elif about != candidate or _of_whom(body) not in {candidate, None}:
        yield "it is about somebody else"


def _may_be_shortened(kind: type[Body]) -> bool:
    """Only in these may a tie to somebody else stand."""
    from standfast.store.bodies import DecisionMade, PersonSet

    return kind in {DecisionMade, PersonSet}


def _of_whom(body: Body) -> str | None:
    """The candidate whom the entry itself names; None when it names none."""
    from standfast.store import bodies

    match body:
        case bodies.PersonSet():
            return body.person.person
        case bodies.SheetTaken():
            return body.sheet.candidate
        case bodies.DecisionMade():
            named = {body.decision.candidate, body.inputs.candidate.person}
            return named.pop() if len(named) == 1 else "two people"
        case bodies.AwardGranted():
            return body.award.candidate
        case bodies.HandedOver():
            return body.hand_over.person
        case _:
            return None


def _names_somebody(text: str, people: Sequence[Named]) -> str:
    """Whether the journal would keep a name that nobody could erase; empty when not."""
    found = next((one for one in people if " " in one.name and one.name in text), None)
    return f"it names {found.slug}, and would go on doing so after an erasure" if found else ""


# --- whether it may be taken in ---------------------------------------------------------------


def _not_believed(handed: Handed, trusted: Sequence[TrustFile]) -> Iterator[str]:
    from standfast.seal.verify import believed

    for key in dict.fromkeys(handed.keys):
        found = believed(handed.first.issuer, key, trusted, "ask the school to hand it over again")
        if found.answer != "yes":
            told = f"its fingerprint is {key.thumbprint}"
            yield f"{found.says}; {told}: import the school's keys with 'standfast trust'"


def _not_for_us(desk: Desk, agreement: HandOver) -> Iterator[str]:
    to = agreement.to
    if to.casefold() not in {desk.school.id, desk.school.name.casefold()}:
        yield f"she agreed that '{to}' receives it, and this is '{desk.school.name}'"


def _no_slug(desk: Desk, wanted: str) -> Iterator[str]:
    """Why that is no short name, though it looks like one."""
    from standfast.store.names import is_ref

    if not is_ref(wanted):
        return
    handle = desk.book.handles().get(wanted)
    if handle:
        yield f"'{wanted}' is the opaque id of {handle}: write that"
    elif desk.book.find_person(wanted):
        yield "the name was erased: nobody can say any more whose record it is"
    else:
        yield f"'{wanted}' cannot be a slug: it has the form of an opaque id"


def _known_otherwise(
    desk: Desk, handed: Handed, wanted: str, before: Sequence[KeptFromElsewhere]
) -> Iterator[str]:
    """Why she cannot be that person here."""
    first, handles = handed.first, set(desk.book.handles().values())
    for one in before:
        same = (one.record.issuer, one.record.origin) == (first.issuer, first.candidate.ref)
        if same and one.record.person not in handles:
            yield "it was taken in before, and her name was erased here since: it stays erased"
            return
        if same and one.record.person != wanted:
            yield f"it was taken in before as the record of {one.record.person}"
            return
    if first.candidate.ref in desk.book.handles():
        yield "it is of this very record book; nobody hands her record to herself"


# --- what is entered ----------------------------------------------------------------------------


def _record(
    desk: Desk, handed: Handed, wanted: str, before: Sequence[KeptFromElsewhere]
) -> tuple[FromElsewhere, list[Person]]:
    """What is entered, and who is new here."""
    first = handed.first
    known = {
        one.ref: one.person
        for kept in before
        if kept.record.issuer == first.issuer
        for one in kept.record.people
    }
    taken, new = set(desk.book.handles().values()) | {wanted}, []
    if desk.book.find_person(wanted) is None:
        new.append(Person(id=wanted, name=first.candidate.name))
    for one in first.people:
        if one.ref not in known:
            known[one.ref] = _free(f"{first.school}-{one.slug}", taken)
            taken.add(known[one.ref])
            new.append(Person(id=known[one.ref], name=one.name))
    record = FromElsewhere(
        person=wanted,
        origin=first.candidate.ref,
        issuer=first.issuer,
        school=first.school_name,
        people=tuple(Known(ref=one.ref, person=known[one.ref]) for one in first.people),
        head=canonical(first.head.model_dump(mode="json", exclude_none=True)).decode(),
        carried=tuple(Carried(**one.model_dump()) for one in handed.carried),
        digest=handed.digest,
    )
    return record, new


def _free(slug: str, taken: set[str]) -> str:
    """That slug, cut where it is too long, or the first with a number that nobody has."""
    base = slug[: LONGEST_SLUG - 4].strip("-")
    found, number = base, 1
    while found in taken:
        number += 1
        found = f"{base}-{number}"
    return found


def _counted(bodies: Sequence[Body]) -> dict[str, int]:
    from standfast.store.bodies import KIND_OF

    return dict(Counter(KIND_OF[type(body)] for body in bodies))
