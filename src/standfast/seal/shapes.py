"""What may stand in a credential: a closed shape of our own, and what no shape can see.

A subset of W3C Verifiable Credentials 2.0 with Open Badges 3.0, in which every property has one
place and one form, so that whatever is not signed or not understood is refused before it is signed
and before it is trusted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal, TypeAlias

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationError,
)

from standfast.seal.terms import BADGES, CREDENTIALS

JSON: TypeAlias = dict[str, Any]

ADDRESS = r'^(https://[!"$-~]+(#[!-~]*)?|urn:[a-z0-9][a-z0-9-]{0,31}:[!-~]+|did:[a-z0-9]+:[!-~]+)$'
"""Of ASCII only, as RFC 3986 has it; and digits are 0 to 9, not those of every script, as `\\d`."""
HASHED = r"^sha256\$[0-9a-f]{64}$"
_TWO = "[0-9]{2}"
INSTANT = f"^[0-9]{{4}}-{_TWO}-{_TWO}T{_TWO}:{_TWO}:{_TWO}(Z|[+-]{_TWO}:[0-5][0-9])$"


def _instant(text: str) -> str:
    datetime.fromisoformat(text)  # a day that is in the calendar
    return text


Address = Annotated[str, StringConstraints(pattern=ADDRESS, max_length=2000)]
Instant = Annotated[str, StringConstraints(pattern=INSTANT), AfterValidator(_instant)]
Words = Annotated[str, StringConstraints(min_length=1, max_length=4000)]
Index = Annotated[str, StringConstraints(pattern=r"^(0|[1-9][0-9]{0,9})$")]


class Shape(BaseModel):
    """An object in which nothing else may stand."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Profile(Shape):
    """Who issues."""

    id: Address
    type: tuple[Literal["Profile"]]
    name: Words | None = None
    url: Address | None = None
    email: Words | None = None
    description: Words | None = None


class Identity(Shape):
    """Who holds it, by something that she can be asked for."""

    type: Literal["IdentityObject"]
    hashed: bool
    identityHash: Words  # noqa: N815 - the standard's names, here and below
    identityType: Literal["name", "emailAddress", "identifier", "systemId"]  # noqa: N815
    salt: Words | None = None


class Criteria(Shape):
    """What was asked."""

    id: Address | None = None
    narrative: Words | None = None


class Level(Shape):
    """One level of a rubric."""

    id: Address
    type: tuple[Literal["RubricCriterionLevel"]]
    name: Words
    description: Words | None = None
    level: Words | None = None
    points: Words | None = None


class ResultDescription(Shape):
    """What a result says."""

    id: Address
    type: tuple[Literal["ResultDescription"]]
    name: Words
    resultType: Literal[  # noqa: N815
        "Percent",
        "RawScore",
        "Result",
        "RubricCriterion",
        "RubricCriterionLevel",
        "RubricScore",
        "Status",
    ]
    requiredLevel: Address | None = None  # noqa: N815
    requiredValue: Words | None = None  # noqa: N815
    rubricCriterionLevel: Annotated[tuple[Level, ...], Field(min_length=1)] | None = None  # noqa: N815
    valueMin: Words | None = None  # noqa: N815
    valueMax: Words | None = None  # noqa: N815


class Alignment(Shape):
    """Under which scheme."""

    type: tuple[Literal["Alignment"]]
    targetName: Words  # noqa: N815
    targetUrl: Address  # noqa: N815
    targetCode: Words | None = None  # noqa: N815
    targetFramework: Words | None = None  # noqa: N815


class Achievement(Shape):
    """What was reached."""

    id: Address
    type: tuple[Literal["Achievement"]]
    achievementType: Literal["Certification", "Certificate", "License"] | None = None  # noqa: N815
    name: Words
    description: Words
    criteria: Criteria
    humanCode: Words | None = None  # noqa: N815
    version: Words | None = None
    inLanguage: Words | None = None  # noqa: N815
    tag: Annotated[tuple[Words, ...], Field(min_length=1)] | None = None
    alignment: Annotated[tuple[Alignment, ...], Field(min_length=1)] | None = None
    resultDescription: Annotated[  # noqa: N815
        tuple[ResultDescription, ...] | None, Field(min_length=1)
    ] = None


class Result(Shape):
    """What was found of one of them."""

    type: tuple[Literal["Result"]]
    resultDescription: Address  # noqa: N815
    achievedLevel: Address | None = None  # noqa: N815
    value: Words | None = None
    status: (
        Literal[
            "Completed", "Enrolled", "Failed", "InProgress", "OnHold", "Provisional", "Withdrew"
        ]
        | None
    ) = None


class Subject(Shape):
    """Whose it is."""

    id: Address | None = None
    type: tuple[Literal["AchievementSubject"]]
    identifier: Annotated[tuple[Identity, ...], Field(min_length=1)] | None = None
    licenseNumber: Words | None = None  # noqa: N815
    role: Words | None = None
    achievement: Achievement
    result: Annotated[tuple[Result, ...], Field(min_length=1)] | None = None


class Evidence(Shape):
    """What it rests on, by name only."""

    id: Address | None = None
    type: tuple[Literal["Evidence"]]
    name: Words | None = None
    genre: Words | None = None
    description: Words | None = None


class StatusEntry(Shape):
    """Where it is told whether it was taken back."""

    id: Address
    type: Literal["BitstringStatusListEntry"]
    statusPurpose: Literal["revocation", "suspension"]  # noqa: N815
    statusListIndex: Index  # noqa: N815
    statusListCredential: Address  # noqa: N815


class Proof(Shape):
    """Who signed, how and when; and upon which other proof."""

    id: Address | None = None
    previousProof: Address | None = None  # noqa: N815
    type: Literal["DataIntegrityProof"]
    cryptosuite: Literal["eddsa-jcs-2022", "eddsa-rdfc-2022"]
    created: Instant
    verificationMethod: Address  # noqa: N815
    proofPurpose: Literal["assertionMethod"]  # noqa: N815
    proofValue: Annotated[str, StringConstraints(pattern=r"^z[1-9A-HJ-NP-Za-km-z]{64,96}$")]  # noqa: N815
    context: Annotated[tuple[Address, ...] | None, Field(alias="@context")] = None


class Signed(Shape):
    """What carries proofs, under contexts that are known."""

    context: Annotated[tuple[Address, ...], Field(alias="@context")]
    proof: Annotated[tuple[Proof, ...], Field(min_length=1, max_length=4)] | None = None
    contexts: ClassVar[tuple[str, ...]] = ()


class BadgeCredential(Signed):
    """A certificate."""

    contexts: ClassVar[tuple[str, ...]] = (CREDENTIALS, BADGES)

    id: Annotated[Address, StringConstraints(pattern=r"^urn:uuid:[0-9a-f-]{36}$")]
    type: tuple[Literal["VerifiableCredential"], Literal["OpenBadgeCredential"]]
    name: Words | None = None
    description: Words | None = None
    issuer: Profile | Address
    validFrom: Instant  # noqa: N815
    validUntil: Instant | None = None  # noqa: N815
    awardedDate: Instant | None = None  # noqa: N815
    credentialSubject: Subject  # noqa: N815
    evidence: Annotated[tuple[Evidence, ...], Field(min_length=1)] | None = None
    credentialStatus: StatusEntry | None = None  # noqa: N815


class StatusList(Shape):
    """A bit for every certificate."""

    id: Address
    type: Literal["BitstringStatusList"]
    statusPurpose: Literal["revocation", "suspension"]  # noqa: N815
    encodedList: Annotated[str, StringConstraints(pattern=r"^u[A-Za-z0-9_-]+$")]  # noqa: N815


class StatusListCredential(Signed):
    """Which certificates were taken back, as of a day."""

    contexts: ClassVar[tuple[str, ...]] = (CREDENTIALS,)

    id: Address
    type: tuple[Literal["VerifiableCredential"], Literal["BitstringStatusListCredential"]]
    issuer: Address
    validFrom: Instant  # noqa: N815
    validUntil: Instant  # noqa: N815
    credentialSubject: StatusList  # noqa: N815


# --- checks -----------------------------------------------------------------------------------


def faults(document: object, kind: type[Signed] = BadgeCredential) -> list[str]:
    """Why the document is no credential of that kind; empty when it is one."""
    if not isinstance(document, dict):
        return ["no object"]
    text = _as_json(document)  # there a list is a list, and a date is text
    nulls = _nulls(document, "") if "null" in text else ()
    found = [f"{place}: null says nothing" for place in nulls]
    try:
        read = kind.model_validate_json(text, strict=True)
    except ValidationError as error:
        return found + [_in_words(one) for one in error.errors()]
    if read.context != kind.contexts:
        found.append(f"@context: must be {', '.join(kind.contexts)}, in this order")
    names = [one.id for one in read.proof or () if one.id]
    if len(set(names)) < len(names):
        found.append("proof: two of one name")
    found += _between(getattr(read, "validFrom"), getattr(read, "validUntil"))  # noqa: B009
    if isinstance(read, BadgeCredential):
        found += _of_badge(read)
    return found


def _as_json(document: JSON) -> str:
    import json

    return json.dumps(document)


def _in_words(error: Any) -> str:  # noqa: ANN401 - pydantic's details
    where = ".".join(str(step) for step in error["loc"])
    return f"{where}: {str(error['msg']).lower()}"


def _nulls(value: object, place: str) -> Iterator[str]:
    if value is None:
        yield place
    parts = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    for name, part in parts:
        yield from _nulls(part, f"{place}.{name}".lstrip("."))


def _between(first: str, last: str | None) -> list[str]:
    if last is not None and datetime.fromisoformat(last) < datetime.fromisoformat(first):
        return ["validUntil: lies before validFrom"]
    return []


def _of_badge(read: BadgeCredential) -> Iterator[str]:
    subject = read.credentialSubject
    if subject.id is None and subject.identifier is None:
        yield "credentialSubject: neither id nor identifier: nobody's"
    for one in subject.identifier or ():
        if (re.match(HASHED, one.identityHash) is not None) is not one.hashed:
            yield "credentialSubject.identifier: hashed says otherwise than identityHash"
    criteria = subject.achievement.criteria
    if criteria.id is None and criteria.narrative is None:
        yield "credentialSubject.achievement.criteria: says nothing"
    yield from _of_results(subject)
    status = read.credentialStatus
    if status and status.id != f"{status.statusListCredential}#{status.statusListIndex}":
        yield "credentialStatus.id: is not the list with # and the index"


def _of_results(subject: Subject) -> Iterator[str]:
    described = {one.id: one for one in subject.achievement.resultDescription or ()}
    for one in described.values():
        levels = {level.id for level in one.rubricCriterionLevel or ()}
        if one.requiredLevel is not None and one.requiredLevel not in levels:
            yield f"{one.id}: requiredLevel is none of its levels"
    if len(described) < len(subject.achievement.resultDescription or ()):
        yield "resultDescription: two with one id"
    for result in subject.result or ():
        meant = described.get(result.resultDescription)
        if meant is None:
            yield f"result: {result.resultDescription} is not described in this achievement"
            continue
        levels = {level.id for level in meant.rubricCriterionLevel or ()}
        if result.achievedLevel is not None and result.achievedLevel not in levels:
            yield f"{meant.id}: achievedLevel is none of its levels"
        told = [v for v in (result.achievedLevel, result.value, result.status) if v is not None]
        if len(told) != 1:
            yield f"{meant.id}: a result says one thing: a level, a value or a status"
