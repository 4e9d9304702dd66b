"""Signed certificates: what they say, and which were taken back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING, Any, TypeAlias
from zoneinfo import ZoneInfo

from standfast.desk.awards import how_it_stands, titles_of
from standfast.desk.definitions import Texts, kept
from standfast.desk.keyring import keyring, signing_key
from standfast.desk.opening import Desk
from standfast.desk.outside import in_grace
from standfast.desk.people import person
from standfast.desk.taken_back import since
from standfast.engine.scope import permitted
from standfast.model.award import Award, Standing
from standfast.model.canonical import canonical
from standfast.model.decision import Decision
from standfast.model.issued import Issued
from standfast.model.rubric import Competency, RatingCriterion
from standfast.problems import NotFound, StandfastError
from standfast.spreading import spread

if TYPE_CHECKING:
    from standfast.seal.keys import SecretKey
    from standfast.seal.shapes import Signed

JSON: TypeAlias = dict[str, Any]

REVOKED, SUSPENDED = "revocation", "suspension"
LIST_DAYS = 31
"""For how many days a status list is good; ours, no source."""


@dataclass(frozen=True)
class Credential:
    """A signed certificate that is in the record book."""

    award: Award
    content: bytes
    """In canonical form, as it was signed."""
    issued: Issued
    entry: str


@dataclass(frozen=True)
class Draft:
    """A certificate that is signed, and not in the record book yet."""

    award: Award
    content: bytes
    """In canonical form, as it was signed."""
    issued: Issued
    document: JSON
    """The same before it was signed."""


def drafts_for(
    desk: Desk, found: Sequence[Award], key: SecretKey, *, named: bool = False
) -> tuple[Draft, ...]:
    """Signs a certificate of each award; nothing is entered.

    It takes long, so nobody waits for it: the turn to write is taken afterwards (`entered`).

    Raises:
        StandfastError: one of them would be none.
    """
    issuer, taken = keyring(desk).signed.file.issuer, set(desk.book.places())
    written = [_written(desk, award, issuer, taken, named=named) for award in found]
    signed = _signed_all(desk, [one.document for one in written], key)
    return tuple(_draft(desk, *pair, key) for pair in zip(written, signed, strict=True))


@dataclass(frozen=True)
class _Written:
    """A certificate that is not signed yet."""

    award: Award
    number: str
    place: int
    until: date
    named: bool
    document: JSON


def _written(desk: Desk, award: Award, issuer: str, taken: set[int], *, named: bool) -> _Written:
    from standfast.seal.status import free_place

    place = free_place(taken, desk.moment.random)
    taken.add(place)
    number, standing = desk.new_key(), how_it_stands(desk, award)
    document = _document(desk, award, issuer, standing, number, place, named=named)
    return _Written(award, number, place, _last_day(standing), named, document)


def _draft(desk: Desk, one: _Written, content: bytes, key: SecretKey) -> Draft:
    told = Issued(
        credential=one.number,
        award=one.award.id,
        place=one.place,
        digest=sha256(content).hexdigest(),
        key=key.public.multikey,
        covers=permitted(one.award, desk.book.rulings(one.award.id), desk.today),
        until=one.until,
        named=one.named,
    )
    return Draft(one.award, content, told, one.document)


def says_the_same(desk: Desk, draft: Draft) -> bool:
    """Whether it would be signed with the same words now."""
    from standfast.seal.verify import issuer_of

    told, award, issuer = draft.issued, draft.award, issuer_of(draft.document)
    standing = how_it_stands(desk, award)
    now = _document(desk, award, issuer, standing, told.credential, told.place, named=told.named)
    return now == draft.document


def entered(desk: Desk, draft: Draft, paper: str) -> Credential:
    """Enters that it was given out; `paper` is the hash of the paper that carries it."""
    told = draft.issued.model_copy(update={"paper": paper})
    entry = desk.book.put_issued(told, desk.stamp())
    return Credential(draft.award, draft.content, told, entry.id)


def _last_day(standing: Standing) -> date:
    """Until when it counts if nothing more is done."""
    return standing.counts_until or standing.ends


def _signed_all(desk: Desk, documents: Sequence[JSON], key: SecretKey) -> Iterator[bytes]:
    """Each signed, in canonical form; nearly all of its time is the proof over statements."""
    from standfast.seal.shapes import BadgeCredential

    work = [(one, key, desk.moment.now, BadgeCredential) for one in documents]
    yield from map(_sign, work[:1])  # loads what all need
    yield from spread(_sign, work[1:])


def _sign(work: tuple[JSON, SecretKey, datetime, type[Signed]]) -> bytes:
    """With a proof over every byte, and one over the statements for readers that expect it."""
    from standfast.seal import proofs, shapes
    from standfast.seal.verify import issuer_of

    document, key, now, kind = work
    faults = shapes.faults(document, kind)
    if faults:
        raise StandfastError(f"what would be signed is not what it should be: {'; '.join(faults)}")
    method = f"{issuer_of(document)}#{key.public.multikey}"
    return canonical(proofs.both(document, key, method, now))


# --- what it says -----------------------------------------------------------------------------


def _document(
    desk: Desk,
    award: Award,
    issuer: str,
    standing: Standing,
    number: str,
    place: int,
    *,
    named: bool,
) -> JSON:
    from standfast.seal.terms import BADGES, CREDENTIALS

    decision = desk.book.find_decision(award.decision)
    if decision is None:
        raise NotFound("decision", award.decision, [])
    made = decision.decision
    texts = kept(desk, made.rubric.hash, made.syllabus.hash)
    return {
        "@context": [CREDENTIALS, BADGES],
        "id": f"urn:uuid:{number}",
        "type": ["VerifiableCredential", "OpenBadgeCredential"],
        "name": award.scope.title,
        "description": _covers(desk, award, standing),
        "issuer": {"id": issuer, "type": ["Profile"], "name": desk.school.name},
        "validFrom": _at(desk, award.dates.first_day, time()),
        "validUntil": _at(desk, _last_day(standing), time(23, 59, 59)),
        "awardedDate": _at(desk, award.granted, time()),
        "credentialSubject": {
            "type": ["AchievementSubject"],
            "identifier": [_holder(desk, award, number, named=named)],
            "licenseNumber": award.number,
            "achievement": _achievement(issuer, award, texts),
            "result": list(_results(issuer, made, texts)),
        },
        "credentialStatus": {
            "id": f"{_list_address(issuer, REVOKED)}#{place}",
            "type": "BitstringStatusListEntry",
            "statusPurpose": REVOKED,
            "statusListIndex": str(place),
            "statusListCredential": _list_address(issuer, REVOKED),
        },
    }


def _covers(desk: Desk, award: Award, standing: Standing) -> str:
    """What it covers on this day, under which conditions, and the caution: as on paper."""
    from standfast.paper.view.words import cautions

    skills = permitted(award, desk.book.rulings(award.id), desk.today)
    parts = [
        f"Covers: {'; '.join(titles_of(desk, award, skills))}.",
        *award.conditions,
        *_refresher(award),
        *in_grace(standing),
        *cautions(desk.school),
    ]
    return " ".join(parts)


def _refresher(award: Award) -> Iterator[str]:
    due = award.dates.refresher_due
    if due and due < award.dates.last_day:
        yield f"A refresher is due by {due}; after that day ask the school how it stands."


def _at(desk: Desk, day: date, when: time) -> str:
    """That time of the day where the school is, with its offset: the last second is within."""
    return datetime.combine(day, when, ZoneInfo(desk.school.zone)).isoformat()


def _holder(desk: Desk, award: Award, number: str, *, named: bool) -> JSON:
    """Her name, or a hash of it under a salt that is erased with it.

    Source: Open Badges 3.0, IdentityHash.
    """
    name = person(desk, award.candidate).name
    if named:
        return {
            "type": "IdentityObject",
            "hashed": False,
            "identityHash": name,
            "identityType": "name",
        }
    salt = desk.book.salt_for(award.candidate, f"credential {number}")
    return {
        "type": "IdentityObject",
        "hashed": True,
        "identityHash": f"sha256${sha256((name + salt).encode()).hexdigest()}",
        "identityType": "name",
        "salt": salt,
    }


def page_of(desk: Desk) -> str:
    """The address of the page that checks certificates; empty for a school without a site."""
    from standfast.seal.addresses import check_page

    return check_page(keyring(desk).signed.file.issuer)


def list_name(purpose: str) -> str:
    """The name of the list of what was taken back for that reason.

    Its ending tells a web server what kind of file it is.
    """
    return f"{purpose}-1.json"


def _list_address(issuer: str, purpose: str) -> str:
    from standfast.seal.addresses import status_list

    return status_list(issuer, list_name(purpose))


def _text_address(issuer: str, texts: Texts) -> str:
    from standfast.seal.addresses import base

    return f"{base(issuer)}/achievements/{texts.rubric.id}/v{texts.rubric.version}"


def _achievement(issuer: str, award: Award, texts: Texts) -> JSON:
    rubric, address = texts.rubric, _text_address(issuer, texts)
    rule = rubric.decision
    narrative = (
        f"Rubric {rubric.id}, version {rubric.version}: {rule.practicals} practicals or more with"
        f" real students, {rule.assessors} assessors or more; every critical criterion met, of"
        " each competency its least share of points, and"
        f" {rule.overall_share * 100:.0f} % of all points."
    )
    return {
        "id": address,
        "type": ["Achievement"],
        "achievementType": "Certification",
        "name": award.scope.title,
        "description": award.scope.words,
        "criteria": {"narrative": narrative},
        "humanCode": rubric.id,
        "version": str(rubric.version),
        "inLanguage": rubric.language,
        "resultDescription": [
            *(_competency(address, one) for one in rubric.competencies),
            *(
                _rating(address, one)
                for one in rubric.criteria()
                if isinstance(one, RatingCriterion)
            ),
            _decided(address),
        ],
    }


def _competency(address: str, one: Competency) -> JSON:
    return {
        "id": f"{address}#competency-{one.id}",
        "type": ["ResultDescription"],
        "name": f"{one.title}: points met",
        "resultType": "Percent",
        "requiredValue": f"{one.least_share * 100:.0f}",
        "valueMin": "0",
        "valueMax": "100",
    }


def _rating(address: str, one: RatingCriterion) -> JSON:
    return {
        "id": f"{address}#{one.id}",
        "type": ["ResultDescription"],
        "name": one.title,
        "resultType": "RubricCriterionLevel",
        "requiredLevel": f"{address}#{one.id}-{one.standard.least}",
        "rubricCriterionLevel": [
            {
                "id": f"{address}#{one.id}-{level.level}",
                "type": ["RubricCriterionLevel"],
                "name": level.title,
                "description": level.words,
                "level": str(level.level),
            }
            for level in one.levels
        ],
    }


def _decided(address: str) -> JSON:
    return {
        "id": f"{address}#decision",
        "type": ["ResultDescription"],
        "name": "Decision by the rubric's rule",
        "resultType": "Status",
    }


def _results(issuer: str, decision: Decision, texts: Texts) -> Iterator[JSON]:
    """What was found, in the order of the rubric; nothing of what was not seen."""
    address = _text_address(issuer, texts)
    for competency in texts.rubric.competencies:
        found = [one for one in decision.findings if one.competency == competency.id]
        whole = sum(one.points for one in found)
        if whole:
            met = sum(one.points for one in found if one.state == "met")
            yield _result(f"{address}#competency-{competency.id}", value=f"{100 * met // whole}")
    for one in decision.findings:
        if one.kind == "rating" and one.figure.value is not None:
            at = f"{address}#{one.criterion}"
            yield _result(at, achievedLevel=f"{at}-{int(one.figure.value)}")
    yield _result(f"{address}#decision", status="Completed")


def _result(described: str, **told: str) -> JSON:
    return {"type": ["Result"], "resultDescription": described, **told}


# --- which were taken back ---------------------------------------------------------------------


def status_lists(desk: Desk, passphrase: str, purposes: Sequence[str]) -> dict[str, bytes]:
    """For each purpose the signed list of what was taken back, good for some days from now on.

    Revoked are certificates whose award was withdrawn or corrected, and those that say more than
    the award is worth since: a skill that was taken away, a last day that came nearer.  Suspended
    are those whose award is suspended today.  An award that was renewed is worth what the one that
    renewed it is; the renewal itself takes nothing back.

    Raises:
        StandfastError: another passphrase, the school has no key.
    """
    key = signing_key(desk, passphrase)
    # A list speaks from the moment of signing, whatever day the desk was asked about.
    desk = desk.on_day(desk.calendar_day)
    issuer, gone = keyring(desk).signed.file.issuer, _taken_back(desk)
    return {one: _status_list(desk, issuer, key, one, gone[one]) for one in purposes}


def _status_list(
    desk: Desk, issuer: str, key: SecretKey, purpose: str, gone: Sequence[int]
) -> bytes:
    from standfast.seal.shapes import StatusListCredential
    from standfast.seal.status import encoded
    from standfast.seal.terms import CREDENTIALS

    now = desk.moment.now
    address = _list_address(issuer, purpose)
    until = now + timedelta(days=LIST_DAYS)
    document: JSON = {
        "@context": [CREDENTIALS],
        "id": address,
        "type": ["VerifiableCredential", "BitstringStatusListCredential"],
        "issuer": issuer,
        "validFrom": now.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "validUntil": until.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "credentialSubject": {
            "id": f"{address}#list",
            "type": "BitstringStatusList",
            "statusPurpose": purpose,
            "encodedList": encoded(gone),
        },
    }
    return _sign((document, key, now, StatusListCredential))


def _taken_back(desk: Desk) -> dict[str, list[int]]:
    """For each purpose the places of the certificates that do not hold any more."""
    gone: dict[str, list[int]] = {REVOKED: [], SUSPENDED: []}
    for issued in desk.book.issued():
        came = since(desk, issued)
        if came.revoked:
            gone[REVOKED].append(issued.place)
        if came.suspended:
            gone[SUSPENDED].append(issued.place)
    return gone
