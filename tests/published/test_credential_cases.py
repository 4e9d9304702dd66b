"""What may stand in a credential, and what can be found of one, case by case.

Sources: verdicts by the text of Open Badges 3.0 and W3C Verifiable Credentials 2.0; the verifying
cases follow the steps of Open Badges 3.0, "Verification".  The credential is the sample that was
signed under the contexts of their makers, without `credentialSchema`: its type has no meaning under
them, so that part would not be signed.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from standfast.model.canonical import canonical
from standfast.seal import proofs
from standfast.seal.keys import SecretKey
from standfast.seal.shapes import faults
from standfast.seal.status import encoded
from standfast.seal.terms import CREDENTIALS
from standfast.seal.trust import KIND, ListedKey, TrustFile
from standfast.seal.verify import Lists, verify

JSON = dict[str, Any]

KEY = SecretKey(bytes(range(32)))
STRANGER = SecretKey(b"\x07" * 32)
SCHOOL = "https://school.example/issuer"
TRUSTED = TrustFile(
    kind=KIND,
    issuer=SCHOOL,
    name="Example Flying School",
    made="2026-01-01T00:00:00Z",
    keys=(ListedKey(key=KEY.public.multikey, since="2026-01-01T00:00:00Z"),),
)
NOW = datetime.fromisoformat("2026-06-01T00:00:00Z")
PLACE = 94567


def sample() -> JSON:
    text = (Path(__file__).parent / "data" / "instructor-signed.json").read_text("utf-8")
    found: JSON = json.loads(text)
    return {name: v for name, v in found.items() if name not in {"proof", "credentialSchema"}}


def patched(document: JSON, op: str, path: str, value: object) -> JSON:
    """JSON Patch (RFC 6902), of what these cases need."""
    found = copy.deepcopy(document)
    *way, last = path.strip("/").split("/")
    inside: Any = found
    for step in way:
        inside = inside[int(step)] if isinstance(inside, list) else inside[step]
    if op == "remove":
        del inside[last]
    else:
        inside[last] = value
    return found


ACHIEVEMENT = "/credentialSubject/achievement"
CASES = [
    ("no id", "remove", "/id", None, False),
    ("no criteria", "remove", f"{ACHIEVEMENT}/criteria", None, False),
    ("status no id", "remove", "/credentialStatus/id", None, False),
    ("no achievement id", "remove", f"{ACHIEVEMENT}/id", None, False),
    ("no achievement description", "remove", f"{ACHIEVEMENT}/description", None, False),
    ("no achievement name", "remove", f"{ACHIEVEMENT}/name", None, False),
    ("subject without id", "remove", "/credentialSubject/id", None, True),
    ("issuer string", "replace", "/issuer", SCHOOL, True),
    ("date no zone", "replace", "/validFrom", "2026-03-01T00:00:00", False),
    (
        *("bad result type", "replace", f"{ACHIEVEMENT}/resultDescription/0/resultType"),
        *("Rubric", False),
    ),
    (
        *("bad achievement type", "replace", f"{ACHIEVEMENT}/achievementType"),
        *("InstructorCertificate", False),
    ),
    (
        *("contexts swapped", "replace", "/@context"),
        *(["https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json", CREDENTIALS], False),
    ),
    ("no valid from", "remove", "/validFrom", None, False),
    ("unknown property", "add", "/schoolSecret", "x", False),
    ("unknown nested", "add", "/credentialSubject/nickname", "x", False),
    ("null description", "add", "/description", None, False),
    (
        *("dangling required level", "replace"),
        *(f"{ACHIEVEMENT}/resultDescription/0/requiredLevel", "https://x.example/none", False),
    ),
    (
        *("bad identity type", "replace", "/credentialSubject/identifier/0/identityType"),
        *("nick", False),
    ),
    ("no issuer", "remove", "/issuer", None, False),
    ("type without vc", "replace", "/type", ["OpenBadgeCredential"], False),
    ("type as string", "replace", f"{ACHIEVEMENT}/type", "Achievement", False),
    (
        *(
            "result to other achievement",
            "replace",
            "/credentialSubject/result/0/resultDescription",
        ),
        *("https://school.example/achievements/other#x", False),
    ),
]


def test_the_sample_itself_is_a_credential() -> None:
    assert faults(sample()) == []


@pytest.mark.parametrize(
    ("op", "path", "value", "acceptable"), [one[1:] for one in CASES], ids=[one[0] for one in CASES]
)
def test_a_changed_credential_is_taken_or_refused_as_the_standard_says(
    op: str, path: str, value: object, acceptable: bool
) -> None:
    found = faults(patched(sample(), op, path, value))

    assert (found == []) is acceptable, found


MORE = [
    ("ends before it begins", "replace", "/validUntil", "2026-02-01T00:00:00Z"),
    ("no day of the calendar", "replace", "/validFrom", "2026-02-30T00:00:00Z"),
    ("criteria that say nothing", "replace", f"{ACHIEVEMENT}/criteria", {}),
    ("a relative address", "replace", f"{ACHIEVEMENT}/id", "achievements/1"),
    ("not over https", "replace", f"{ACHIEVEMENT}/id", "http://school.example/a"),
    ("an empty list", "replace", "/credentialSubject/identifier", []),
    ("a list is the status", "replace", "/credentialStatus/id", "https://school.example/status/1"),
    ("a place that is no number", "replace", "/credentialStatus/statusListIndex", "9e4"),
    ("a place with a leading zero", "replace", "/credentialStatus/statusListIndex", "094567"),
    ("hashed, and is not", "replace", "/credentialSubject/identifier/0/hashed", True),
    ("one type more", "replace", "/type", ["VerifiableCredential", "OpenBadgeCredential", "X"]),
    ("a result of two things", "add", "/credentialSubject/result/0/value", "3"),
    (
        *("a level of another", "replace", "/credentialSubject/result/0/achievedLevel"),
        "https://school.example/achievements/trapeze-instructor-1/v3#spotting-9",
    ),
]
"""Ours: what no schema sees, or both official ones pass."""


@pytest.mark.parametrize(
    ("op", "path", "value"), [one[1:] for one in MORE], ids=[one[0] for one in MORE]
)
def test_what_no_schema_sees_is_refused(op: str, path: str, value: object) -> None:
    assert faults(patched(sample(), op, path, value))


def said_in_other_ways() -> Iterator[JSON]:
    """The sample, and with what would mix what results mean with the rest of the certificate."""
    yield sample()
    without_names: JSON = sample()
    for one in without_names["credentialSubject"]["achievement"]["resultDescription"]:
        del one["id"]
    yield without_names
    level_without_name: JSON = sample()
    meant = level_without_name["credentialSubject"]["achievement"]["resultDescription"]
    del meant[0]["rubricCriterionLevel"][0]["id"]
    yield level_without_name
    said_twice: JSON = sample()
    said_twice["credentialSubject"]["achievement"]["resultDescription"] *= 2
    yield said_twice
    told_elsewhere: JSON = sample()
    subject = told_elsewhere["credentialSubject"]
    subject["identifier"].append(subject["achievement"]["resultDescription"][0])
    yield told_elsewhere
    nothing_meant: JSON = sample()
    del nothing_meant["credentialSubject"]["achievement"]["resultDescription"]
    yield nothing_meant


@pytest.mark.parametrize("document", list(said_in_other_ways()))
def test_what_is_remembered_of_a_rubric_says_what_the_whole_certificate_says(
    document: JSON,
) -> None:
    """Held against PyLD over the whole of it."""
    assert proofs.of_our_own(document) == proofs.statements(document)


# Verifying


def signed(document: JSON, key: SecretKey = KEY, *, named: SecretKey | None = None) -> JSON:
    issuer = document["issuer"]
    address = issuer["id"] if isinstance(issuer, dict) else issuer
    method = f"{address}#{(named or key).public.multikey}"
    when = datetime.fromisoformat("2026-03-01T09:00:00Z")
    return proofs.both(document, key, method, when)


def status_list(*taken: int, key: SecretKey = KEY, days: int = 31, ago: int = 10) -> bytes:
    first = NOW - timedelta(days=ago)
    last = first + timedelta(days=days)
    document: JSON = {
        "@context": [CREDENTIALS],
        "id": "https://school.example/status/1",
        "type": ["VerifiableCredential", "BitstringStatusListCredential"],
        "issuer": SCHOOL,
        "validFrom": first.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "validUntil": last.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "credentialSubject": {
            "id": "https://school.example/status/1#list",
            "type": "BitstringStatusList",
            "statusPurpose": "revocation",
            "encodedList": encoded(taken),
        },
    }
    return canonical(signed(document, key))


def answers(
    document: JSON, lists: tuple[bytes, ...] = (status_list(),), now: datetime = NOW
) -> dict[str, str]:
    found = verify(canonical(document), [TRUSTED], Lists(lists), now)
    return {one.question: one.answer for one in found}


GOOD = dict.fromkeys(("shape", "signature", "key", "dates", "revocation"), "yes")


def test_a_good_one() -> None:
    assert answers(signed(sample())) == GOOD


def test_a_name_that_was_changed() -> None:
    path = "/credentialSubject/identifier/0/identityHash"

    assert answers(patched(signed(sample()), "replace", path, "Eve"))["signature"] == "no"


def test_a_term_that_was_added() -> None:
    assert answers(patched(signed(sample()), "add", "/note", "honours")) == {"shape": "no"}


def test_one_that_ended() -> None:
    later = datetime.fromisoformat("2028-03-02T00:00:00Z")

    assert answers(signed(sample()), now=later)["dates"] == "no"


def test_one_that_was_taken_back() -> None:
    found = answers(signed(sample()), (status_list(PLACE),))

    assert found == GOOD | {"revocation": "no"}
    assert answers(signed(sample()), (status_list(PLACE - 1, PLACE + 1),)) == GOOD


def stale() -> Iterator[Any]:
    yield pytest.param((), id="no list")
    yield pytest.param((status_list(days=9),), id="stale")
    yield pytest.param((status_list(ago=-2),), id="not begun")
    yield pytest.param((status_list(key=STRANGER),), id="signed by somebody else")
    yield pytest.param((b"{}",), id="no list at all")
    changed = json.loads(status_list())
    changed["credentialSubject"]["encodedList"] = encoded([1])
    yield pytest.param((canonical(changed),), id="changed")


@pytest.mark.parametrize("lists", list(stale()))
def test_without_a_list_that_is_good_it_is_not_known(lists: tuple[bytes, ...]) -> None:
    assert answers(signed(sample()), lists) == GOOD | {"revocation": "not known"}


def test_a_list_that_is_no_good_does_not_hide_one_that_is() -> None:
    lists = (b"{}", status_list(days=9), status_list(PLACE))

    assert answers(signed(sample()), lists)["revocation"] == "no"


@pytest.mark.parametrize("order", [1, -1], ids=["older first", "newer first"])
def test_of_two_lists_that_are_good_the_newer_one_says(order: int) -> None:
    older, newer = status_list(ago=9), status_list(PLACE, ago=2)
    given_back = (status_list(PLACE, ago=9), status_list(ago=2))

    assert answers(signed(sample()), (older, newer)[::order])["revocation"] == "no"
    assert answers(signed(sample()), given_back[::order])["revocation"] == "yes"


def test_why_a_list_says_nothing_is_not_hidden_by_another_list() -> None:
    other = json.loads(status_list())
    changed = {name: value for name, value in other.items() if name != "proof"}
    elsewhere = signed({**changed, "id": "https://school.example/status/other"})
    lists = Lists((status_list(days=9), canonical(elsewhere)))
    found = verify(canonical(signed(sample())), [TRUSTED], lists, NOW)

    assert "stale" in next(one.says for one in found if one.question == "revocation")


def test_a_list_that_has_not_begun_is_not_called_stale() -> None:
    found = verify(canonical(signed(sample())), [TRUSTED], Lists((status_list(ago=-2),)), NOW)
    says = next(one.says for one in found if one.question == "revocation")

    assert says == "the list has not begun: it is good from 2026-06-03; is the clock right?"


def test_a_list_is_read_once_for_many_certificates() -> None:
    lists = Lists((status_list(PLACE),))
    read = lists.read
    for _ in range(3):
        assert verify(canonical(signed(sample())), [TRUSTED], lists, NOW)[-1].answer == "no"

    assert lists.read is read


def test_a_stranger_with_a_key_of_her_own_under_the_schools_address() -> None:
    found = answers(signed(sample(), STRANGER))

    assert (found["signature"], found["key"]) == ("yes", "no")


@pytest.mark.parametrize("order", [1, -1])
def test_of_two_files_of_a_school_the_one_that_revoked_the_key_counts(order: int) -> None:
    revoked = ListedKey(key=KEY.public.multikey, since=TRUSTED.made, revoked="2026-05-01T00:00:00Z")
    newer = TRUSTED.model_copy(update={"keys": (revoked,)})
    lists = Lists((status_list(),))
    found = verify(canonical(signed(sample())), [TRUSTED, newer][::order], lists, NOW)

    assert {one.question: one.answer for one in found} == GOOD | {
        "key": "not known",
        "revocation": "not known",
    }


def test_a_stranger_under_the_name_of_the_schools_key() -> None:
    assert answers(signed(sample(), STRANGER, named=KEY))["signature"] == "no"


def test_a_school_that_nobody_imported() -> None:
    document = sample() | {"issuer": "https://elsewhere.example/issuer"}
    del document["credentialStatus"]

    assert answers(signed(document))["key"] == "not known"


def test_one_proof_of_two_that_does_not_hold_is_one_too_many() -> None:
    document = signed(sample())
    for at in (0, 1):
        changed = copy.deepcopy(document)
        changed["proof"][at]["created"] = "2026-03-01T09:00:01Z"

        assert answers(changed)["signature"] == "no"


def test_the_order_of_a_list_is_signed_too() -> None:
    """Under eddsa-rdfc-2022 alone it would not be (JSON-LD sets), as the second part shows."""
    document = signed(sample())
    document["credentialSubject"]["result"].reverse()
    by_statements = document["proof"][0]

    assert answers(document)["signature"] == "no"
    assert proofs.holds(document, by_statements, KEY.public)
