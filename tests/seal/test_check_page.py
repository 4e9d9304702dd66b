"""The page says of a certificate what `verify` says, case by case, and never yes where it does not.

In the machine's own Chromium, from a file, with the network off.
"""

from __future__ import annotations

import copy
import json
import random
import re
import unicodedata
from base64 import b64decode
from collections.abc import Iterator
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any

import pytest
from tests.published.test_credential_cases import (
    CASES,
    GOOD,
    JSON,
    KEY,
    MORE,
    NOW,
    PLACE,
    SCHOOL,
    STRANGER,
    TRUSTED,
    patched,
    sample,
    signed,
    stale,
    status_list,
)
from tests.published.test_ed25519 import RFC_8032
from tests.published.test_rfc8785 import DOCUMENTS
from tests.seal.conftest import Answers, Case, Checking
from tests.seal.test_hostile import BODIES, HEADS, NO_LISTS, TWO_WAYS, forged
from tests.seal.test_keys import OTHER_FORMS, SMALL

from standfast.model.canonical import canonical
from standfast.seal import check_page, proofs, trust
from standfast.seal.encoding import Unreadable, base58btc, base64url, read_json
from standfast.seal.keys import PublicKey, SecretKey
from standfast.seal.token import Told, token
from standfast.seal.trust import ListedKey
from standfast.seal.verify import Lists, is_holder, verify, verify_token

pytestmark = pytest.mark.xdist_group("chromium")


def over_bytes(document: JSON, key: SecretKey = KEY) -> JSON:
    """With one proof, over every byte, and so with no part that the page does not check."""
    issuer = document.get("issuer", SCHOOL)
    method = f"{issuer['id'] if isinstance(issuer, dict) else issuer}#{key.public.multikey}"
    when = datetime.fromisoformat("2026-03-01T09:00:00Z")
    bare = {name: value for name, value in document.items() if name != "proof"}
    return bare | {"proof": [proofs.proof(bare, "eddsa-jcs-2022", key, method, when)]}


LISTS = (status_list(),)


def alike(checking: Checking, cases: dict[str, Case]) -> dict[str, Answers]:
    """The answers of Python, after the page gave the same."""
    by_python = {name: case.by_python() for name, case in cases.items()}
    by_page = dict(zip(cases, checking.answers(*cases.values()), strict=True))

    assert by_page == by_python
    return by_python


# Shapes


def test_what_may_stand_in_a_credential_is_the_same(checking: Checking) -> None:
    cases = {
        str(name): Case(canonical(over_bytes(patched(sample(), str(op), str(path), value))), LISTS)
        for name, op, path, value, *_ in (*CASES, *MORE)
    }
    told = alike(checking, cases)
    acceptable = {one[0] for one in CASES if one[4]}

    assert {name for name, answers in told.items() if answers["shape"] == "yes"} == acceptable


TIMES = [
    "2026-02-28T00:00:00Z",
    "2030-02-28T00:00:00Z",
    "2024-02-29T23:59:59+14:00",
    "2026-01-01T00:00:00-00:00",
    "0001-01-01T00:00:00+23:59",
    "0099-12-31T00:00:00Z",
    "2026-02-29T00:00:00Z",
    "2026-13-01T00:00:00Z",
    "2026-00-01T00:00:00Z",
    "2026-01-00T00:00:00Z",
    "2026-01-01T24:00:00Z",
    "2026-01-01T23:60:00Z",
    "2026-01-01T23:59:60Z",
    "2026-01-01T00:00:00+24:00",
    "2026-01-01T00:00:00+05:99",
    "0000-01-01T00:00:00Z",
    "2026-01-01T00:00:00",
    "2026-01-01T00:00:00z",
    "2026-01-01 00:00:00Z",
    "2026-01-01T00:00:00.5Z",
    "٢٠٢٦-01-01T00:00:00Z",
    "2026-01-01T00:00:00Z\n",
]


@pytest.mark.parametrize("which", ["validFrom", "validUntil", "awardedDate"])
def test_a_time_is_one_for_both_or_for_neither(checking: Checking, which: str) -> None:
    cases = {text: Case(canonical(over_bytes(sample() | {which: text})), LISTS) for text in TIMES}
    told = alike(checking, cases)

    assert {answers["shape"] for answers in told.values()} == {"yes", "no"}


ADDRESSES = [
    "https://school.example/a",
    "https://school.example/a#b",
    "https://school.example/a#b#c",
    "https://school.example/a b",
    "https://schöol.example/a",
    "https://school.example/\x7f",
    "https://school.example/\ufeff",
    "https://school.example/\u0085",
    "https://school.example/a\n",
    "https://",
    "http://school.example/a",
    "urn:uuid:1",
    "urn:UUID:1",
    "did:key:z6Mk",
    "did::x",
    "javascript:alert(1)",
    "https://school.example/" + "a" * 1977,
    "https://school.example/" + "a" * 1978,
]


def test_an_address_is_one_for_both_or_for_neither(checking: Checking) -> None:
    path = "/credentialSubject/achievement/id"
    cases = {
        text: Case(canonical(over_bytes(patched(sample(), "replace", path, text))), LISTS)
        for text in ADDRESSES
    }
    told = alike(checking, cases)

    assert {answers["shape"] for answers in told.values()} == {"yes", "no"}


@pytest.mark.parametrize("name", ["__proto__", "constructor", "toString", "name?"])
def test_a_name_that_means_something_to_a_browser_is_one_that_must_not_stand_there(
    checking: Checking, name: str
) -> None:
    told = alike(
        checking,
        {
            "top": Case(canonical(over_bytes(sample() | {name: {"x": "y"}})), LISTS),
            "inside": Case(
                canonical(over_bytes(patched(sample(), "add", f"/credentialSubject/{name}", "x")))
            ),
        },
    )

    assert told == {"top": {"shape": "no"}, "inside": {"shape": "no"}}


def test_length_is_counted_in_letters(checking: Checking) -> None:
    long = "\U0001f3aa" * 4000
    told = alike(
        checking,
        {
            "on it": Case(canonical(over_bytes(sample() | {"name": long})), LISTS),
            "past it": Case(canonical(over_bytes(sample() | {"name": f"{long}x"})), LISTS),
        },
    )

    assert [one["shape"] for one in told.values()] == ["yes", "no"]


def places_in(value: object, way: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The way to every part of a JSON value."""
    parts = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    for name, part in parts:
        yield (*way, name)
        yield from places_in(part, (*way, name))


OTHERS: list[Any] = [
    *(None, True, False, 0, 1, -1, "", "x", " ", "\n", [], {}, [[]], [None], [""], {"id": "x"}),
    *("2026-05-05T05:05:05Z", "https://school.example/x", "sha256$" + "0" * 64, "Percent"),
    *("yes", ["Profile"], ["Achievement"], [{}], "urn:uuid:" + "0" * 36, "x" * 4001, 2**53 - 1),
]


def changed_somewhere(document: JSON, drawn: random.Random) -> JSON:
    """With one part taken out, taken twice, renamed, or something else in its place."""
    found = copy.deepcopy(document)
    *way, last = drawn.choice(list(places_in(found)))
    inside: Any = found
    for step in way:
        inside = inside[step]
    part = inside.pop(last)
    how = drawn.randrange(4)
    if isinstance(inside, list) and isinstance(last, int):
        inside[last:last] = ([], [part, part], [drawn.choice(OTHERS)], [[part]])[how]
    elif how == 1:
        inside[f"{last}?"] = part
    elif how > 1:
        inside[last] = drawn.choice(OTHERS)
    return found


def test_whatever_is_changed_anywhere_both_say_the_same(checking: Checking) -> None:
    drawn = random.Random(8785)
    start = sample()
    start["evidence"] = [{"type": ["Evidence"], "name": "two lessons", "genre": "practical"}]
    start["credentialSubject"]["achievement"]["alignment"] = [
        {"type": ["Alignment"], "targetName": "x", "targetUrl": "https://school.example/x"}
    ]
    cases = {}
    for number in range(800):
        document = changed_somewhere(start, drawn)
        if drawn.random() < 0.3:
            document = changed_somewhere(document, drawn)
        issuer = document.get("issuer", SCHOOL)
        if isinstance(issuer, str) or (isinstance(issuer, dict) and "id" in issuer):
            cases[str(number)] = Case(canonical(over_bytes(document)), LISTS)
    told = alike(checking, cases)
    shapes = [answers["shape"] for answers in told.values()]

    assert shapes.count("yes") > 50
    assert shapes.count("no") > 400


# Verifying


def test_of_a_good_one_every_question_is_answered_with_yes(checking: Checking) -> None:
    told = alike(checking, {"good": Case(canonical(signed(sample())), LISTS)})

    assert told["good"] == GOOD


def test_one_that_was_changed_ended_or_taken_back(checking: Checking) -> None:
    document = signed(sample())
    name = "/credentialSubject/identifier/0/identityHash"
    reversed_results = copy.deepcopy(document)
    reversed_results["credentialSubject"]["result"].reverse()
    ended = datetime.fromisoformat("2028-03-02T00:00:00Z")
    told = alike(
        checking,
        {
            "name": Case(canonical(patched(document, "replace", name, "Eve")), LISTS),
            "order": Case(canonical(reversed_results), LISTS),
            "term": Case(canonical(document | {"note": "honours"}), LISTS),
            "ended": Case(canonical(document), LISTS, now=ended),
            "early": Case(canonical(document), LISTS, now=NOW - timedelta(days=365)),
            "taken back": Case(canonical(document), (status_list(PLACE),)),
            "others taken back": Case(canonical(document), (status_list(PLACE - 1, PLACE + 1),)),
            "by the last list": Case(
                canonical(document), (b"{}", status_list(days=9), status_list(PLACE))
            ),
            "unsigned": Case(canonical(sample()), LISTS),
        },
    )

    assert told["name"]["signature"] == told["order"]["signature"] == "no"
    assert told["term"] == told["unsigned"] == {"shape": "no"}
    assert told["ended"]["dates"] == told["early"]["dates"] == "no"
    assert told["taken back"]["revocation"] == told["by the last list"]["revocation"] == "no"
    assert told["others taken back"] == GOOD


def test_without_a_list_that_is_good_it_is_not_known(checking: Checking) -> None:
    content = canonical(signed(sample()))
    told = alike(checking, {str(one.id): Case(content, *one.values) for one in stale()})

    assert set(map(str, told)) >= {"no list", "stale", "not begun", "changed"}
    for answers in told.values():
        assert answers == GOOD | {"revocation": "not known"}


def test_why_a_list_says_nothing_is_said_alike(checking: Checking) -> None:
    content = canonical(signed(sample()))
    lists = {str(one.id): one.values[0] for one in stale()}
    cases = [Case(content, lists[name]) for name in ("no list", "stale", "not begun")]
    by_python = [verify(content, [TRUSTED], Lists(one.lists), NOW)[-1].says for one in cases]
    by_page = [said[-1]["says"] for said in checking.each(cases, "verify")]

    assert by_page == by_python
    assert len(set(by_page)) == len(cases)


def test_of_two_good_lists_the_newer_counts_in_whatever_order(checking: Checking) -> None:
    content = canonical(signed(sample()))
    newer = json.loads(status_list(PLACE)) | {"validFrom": "2026-05-31T00:00:00Z"}
    del newer["proof"]
    lists = (status_list(), canonical(signed(newer)))
    told = alike(checking, {"old": Case(content, lists), "new": Case(content, lists[::-1])})

    assert [one["revocation"] for one in told.values()] == ["no", "no"]


def with_list(packed: bytes) -> bytes:
    text = "u" + base64url(packed)
    changed = patched(json.loads(LISTS[0]), "replace", "/credentialSubject/encodedList", text)
    return canonical(over_bytes(changed))


def test_a_list_that_is_none_says_nothing(checking: Checking) -> None:
    content = canonical(signed(sample()))
    cases = {why: Case(content, (with_list(packed),)) for packed, why in NO_LISTS}
    other = patched(json.loads(LISTS[0]), "replace", "/id", "https://school.example/status/2")
    cases["another"] = Case(content, (canonical(over_bytes(other)),))
    cases["of somebody"] = Case(content, (status_list(key=STRANGER),))
    cases["stale"] = Case(content, (status_list(days=9),))
    for answers in alike(checking, cases).values():
        assert answers == GOOD | {"revocation": "not known"}


def test_whose_key_it_is(checking: Checking) -> None:
    content = canonical(signed(sample()))
    revoked = TRUSTED.model_copy(
        update={"keys": (TRUSTED.keys[0].model_copy(update={"revoked": "2026-05-01T00:00:00Z"}),)}
    )
    elsewhere = sample() | {"issuer": "https://elsewhere.example/issuer"}
    del elsewhere["credentialStatus"]
    named = signed(sample(), STRANGER, named=KEY)
    two = signed(sample())
    two["proof"].append(over_bytes(sample(), STRANGER)["proof"][0])
    told = alike(
        checking,
        {
            "nobody believed": Case(content, LISTS, trusted=()),
            "revoked": Case(content, LISTS, trusted=(revoked,)),
            "stranger": Case(canonical(signed(sample(), STRANGER)), LISTS),
            "under another name": Case(canonical(named), LISTS),
            "elsewhere": Case(canonical(signed(elsewhere))),
            "two keys": Case(canonical(two), LISTS),
        },
    )

    assert told["nobody believed"]["key"] == told["revoked"]["key"] == "not known"
    assert (told["stranger"]["signature"], told["stranger"]["key"]) == ("yes", "no")
    assert told["under another name"]["signature"] == told["two keys"]["signature"] == "no"
    assert told["elsewhere"]["key"] == "not known"


def test_a_school_that_is_known_by_its_key_alone(checking: Checking) -> None:
    name = f"did:key:{KEY.public.multikey}"
    trusted = (TRUSTED.model_copy(update={"issuer": name}),)
    whole = json.loads(status_list()) | {"issuer": name, "id": f"{name}/status/1"}
    del whole["proof"]
    lists = (canonical(signed(whole)),)
    document = patched(sample() | {"issuer": name}, "add", "/credentialStatus/id", "")
    document["credentialStatus"] |= {
        "id": f"{name}/status/1#{PLACE}",
        "statusListCredential": f"{name}/status/1",
    }
    case = Case(canonical(signed(document)), lists, trusted)
    code = Case(token(TOKEN, KEY).encode(), lists, trusted)

    assert alike(checking, {"file": case})["file"] == GOOD
    assert codes_alike(checking, [code]) == [GOOD]


def test_the_last_second_of_the_zone_that_stands_in_it_is_within(checking: Checking) -> None:
    document = signed(sample() | {"validUntil": "2026-06-01T23:59:59+02:00"})
    ended = [datetime.fromisoformat(f"2026-06-01T{at}Z") for at in ("21:59:59", "22:00:00")]
    told = alike(checking, {str(now): Case(canonical(document), LISTS, now=now) for now in ended})

    assert [one["dates"] for one in told.values()] == ["yes", "no"]


def test_the_proof_over_statements_is_not_checked_and_the_page_says_not_known(
    checking: Checking,
) -> None:
    when, method = NOW, f"{SCHOOL}#{KEY.public.multikey}"
    by_statements = proofs.proof(sample(), "eddsa-rdfc-2022", KEY, method, when)
    alone = sample() | {"proof": [by_statements]}
    beside = sample() | {"proof": [*over_bytes(sample())["proof"], by_statements]}
    before = sample() | {"proof": [by_statements, *over_bytes(sample())["proof"]]}
    of_alone, *of_both = checking.answers(
        *(Case(canonical(one), LISTS) for one in (alone, beside, before))
    )

    assert of_alone == {"shape": "yes", "signature": "not known"}
    assert of_both == [GOOD | {"signature": "not known"}] * 2


def test_a_proof_over_every_byte_covers_the_one_upon_which_it_is_made(checking: Checking) -> None:
    document = signed(sample())
    statements, every_byte = document["proof"]
    changes = {
        "both": [statements, every_byte],
        "the first changed": [statements | {"created": "2026-03-01T09:00:01Z"}, every_byte],
        "the first with another value": [
            statements | {"proofValue": every_byte["proofValue"]},
            every_byte,
        ],
        "the first taken out": [every_byte],
        "the first renamed": [statements | {"id": "urn:uuid:1#other"}, every_byte],
        "the first twice": [statements, statements, every_byte],
        "upon nothing": [
            statements,
            {name: one for name, one in every_byte.items() if name != "previousProof"},
        ],
        "upon itself": [
            statements,
            every_byte | {"id": "urn:uuid:1#bytes", "previousProof": "urn:uuid:1#bytes"},
        ],
        "a third behind": [statements, every_byte, *over_bytes(sample())["proof"]],
    }
    cases = {
        name: Case(canonical(document | {"proof": one}), LISTS) for name, one in changes.items()
    }
    told = alike(checking, cases)
    good = {name for name, answers in told.items() if answers == GOOD}

    assert good == {"both", "a third behind"}


def test_in_another_order_the_first_proof_is_not_covered(checking: Checking) -> None:
    """Python checks it then by its statements; the page does not, and says so."""
    document = signed(sample())
    document["proof"].reverse()
    case = Case(canonical(document), LISTS)

    assert case.by_python() == GOOD
    assert checking.answers(case) == [GOOD | {"signature": "not known"}]


def test_every_changed_bit_of_a_signed_certificate_is_seen_as_python_sees_it(
    checking: Checking,
) -> None:
    drawn = random.Random(20261127)
    content = canonical(signed(sample()))
    cases = {}
    for _ in range(600):
        at, bit = drawn.randrange(len(content)), drawn.randrange(8)
        changed = bytearray(content)
        changed[at] ^= 1 << bit
        cases[f"{at}.{bit}"] = Case(bytes(changed), LISTS)
    told = alike(checking, cases)

    assert len(told) > 550
    assert all(answers != GOOD for answers in told.values())


def test_every_changed_bit_of_a_list_is_seen_as_python_sees_it(checking: Checking) -> None:
    drawn = random.Random(131072)
    content, taken = canonical(signed(sample())), status_list(PLACE)
    cases = {}
    for _ in range(200):
        at, bit = drawn.randrange(len(taken)), drawn.randrange(8)
        changed = bytearray(taken)
        changed[at] ^= 1 << bit
        cases[f"{at}.{bit}"] = Case(content, (bytes(changed),))
    told = alike(checking, cases)

    assert len(told) > 150
    assert {answers["revocation"] for answers in told.values()} == {"not known"}


# JSON


@pytest.mark.parametrize(("text", "utf8"), DOCUMENTS[:4])
def test_the_documents_of_rfc_8785(checking: Checking, text: str, utf8: str) -> None:
    """The page reads no 56.0, which the standard writes as 56: so stands 56 in its place here."""
    (found,) = checking.each([Case(text.replace("56.0", "56").encode())], "json")

    assert found.encode().hex() == utf8


def test_names_past_ffff_are_sorted_by_utf_16(checking: Checking) -> None:
    """RFC 8785, 3.2.3: the example of its authors, from memory."""
    text = '{"\u20ac":1,"\\r":2,"\ufb33":3,"1":4,"\U0001f600":5,"\x80":6,"\u00f6":7}'
    (found,) = checking.each([Case(text.encode())], "json")

    assert found == '{"\\r":2,"1":4,"\x80":6,"\u00f6":7,"\u20ac":1,"\U0001f600":5,"\ufb33":3}'
    assert found.encode() == canonical(json.loads(text))


def test_json_that_two_readers_could_read_in_two_ways_is_refused(checking: Checking) -> None:
    contents = [one for one, _ in TWO_WAYS]
    contents += [
        *(b'{"a":"\x00"}', b'{"a":"\\x"}', b'{"a":"\\u12"}', b'{"a":01}', b'{"a":+1}', b'{"a":.5}'),
        *(b'{"a":1,}', b"[1,]", b'{"a" 1}', b"{'a':1}", b"[1 2]", b'"a', b"nul", b"\xc2\xa0{}"),
        *(b'{"a":"\xed\xa0\x80"}', b'{"a":"\\ud83d"}', b'{"a":"\\ude00\\ud83d"}', b"\x0c{}", b"-"),
        *(b"\xef\xbb\xbf{}", b'{"a":-}', b"[1e0]", b"\x00"),
    ]

    assert checking.each([Case(one) for one in contents], "json") == [None] * len(contents)


def test_json_that_can_be_read_in_one_way_only_is_read(checking: Checking) -> None:
    texts = [
        *(' {"a" : [ ] }\r\n', '["\\u00e9\\ud83d\\ude00\\/\\b"]', "[-0,9007199254740991]", '""'),
        *('"\x7f\u2028"', "[" * 32 + "]" * 32, '{"__proto__":1,"b":{"__proto__":[]}}', "true"),
    ]
    found = checking.each([Case(one.encode()) for one in texts], "json")

    assert found == [canonical(json.loads(one)).decode() for one in texts]


PIECES = [
    *'{}[],:"\\',
    *(
        '"a":',
        '"a"',
        "1",
        "-",
        "0",
        ".",
        "e1",
        "true",
        "null",
        " ",
        "\n",
        "\t",
        "\\u",
        "d83d",
        "de00",
    ),
    *(
        "\\ud83d",
        "\\ude00",
        "00",
        "9007199254740992",
        "\u00e9",
        "\U0001f3aa",
        "\x00",
        "\x1f",
        "\x7f",
    ),
    *('{"a":1}', "[1,2]", '{"b":{"a":[]}}', "\u2028", "\ufeff", "\u00a0", '{"__proto__":1}'),
]


def test_whatever_text_is_read_both_read_the_same_or_neither_reads_it(checking: Checking) -> None:
    drawn = random.Random(7493)
    texts = [
        "".join(drawn.choice(PIECES) for _ in range(drawn.randrange(1, 9))) for _ in range(4000)
    ]
    start = '{"a":[1,-2,{"b":"\\u00e9\\n"},true,null],"c":{"d":"x\\ud83d\\ude00"}, "e" : 0 }'
    for _ in range(4000):
        at = drawn.randrange(len(start))
        texts.append(start[:at] + drawn.choice(PIECES) + start[at + drawn.randrange(3) :])
    contents = [one.encode() for one in texts]
    by_python: list[str | None] = []
    for content in contents:
        try:
            by_python.append(canonical(read_json(content)).decode())
        except Unreadable:
            by_python.append(None)
    found = checking.each([Case(one) for one in contents], "json")
    differ = [
        (text, one, two)
        for text, one, two in zip(texts, by_python, found, strict=True)
        if one != two
    ]

    assert differ == []
    assert sum(one is not None for one in by_python) > 400


# Keys, and files beside the certificate


@pytest.mark.parametrize(("secret", "message", "public", "signature"), RFC_8032)
def test_signatures_of_rfc_8032(
    checking: Checking, secret: str, message: str, public: str, signature: str
) -> None:
    multikey = PublicKey(bytes.fromhex(public)).multikey
    changed = f"{signature[:-2]}{int(signature[-2:], 16) ^ 1:02x}"
    script = """async ([multikey, message, ...signatures]) => {
      const { publicKey, fromHex, verifies } = standfast;
      return Promise.all(signatures.map(
        one => verifies(publicKey(multikey), fromHex(one), fromHex(message))));
    }"""

    found = checking.page.evaluate(script, [multikey, message, signature, changed])

    assert found == [True, False], secret


def test_a_key_of_small_order_or_in_a_form_of_its_own_is_refused(checking: Checking) -> None:
    good = [KEY.public.raw.hex(), STRANGER.public.raw.hex()]
    script = "keys => keys.map(one => standfast.faultInPoint(standfast.fromHex(one)))"
    found = checking.page.evaluate(script, [*SMALL, *OTHER_FORMS, *good])

    assert found[: len(SMALL)] == ["a point of small order"] * len(SMALL)
    assert all(found[len(SMALL) : -2])
    assert found[-2:] == ["", ""]


def test_the_fingerprint_is_the_one_that_the_school_prints(checking: Checking) -> None:
    made = trust.made(SCHOOL, "Example Flying School", TRUSTED.keys, KEY, NOW)

    assert checking.each([Case(made.content)], "trust") == [KEY.public.thumbprint]


def test_a_trust_file_that_was_changed_or_is_none_is_refused_by_both(checking: Checking) -> None:
    made = trust.made(SCHOOL, "Example Flying School", TRUSTED.keys, KEY, NOW)
    document = json.loads(made.content)
    suite = patched(document, "replace", "/proof/0/cryptosuite", "eddsa-rdfc-2022")
    contents = [
        *(b"{}", b"[]", b"null", b"\xff", canonical(document | {"name": "Other"})),
        canonical({name: value for name, value in document.items() if name != "proof"}),
        *(canonical(suite), canonical(document | {"more": 1}), canonical(document | {"keys": []})),
        canonical(document | {"issuer": "https://elsewhere.example/issuer"}),
    ]
    for content in contents:
        with pytest.raises(Unreadable):
            trust.read(content)

    assert checking.each([Case(one) for one in contents], "trust") == [None] * len(contents)


def test_whose_it_is(checking: Checking) -> None:
    hashed = {
        "type": "IdentityObject",
        "hashed": True,
        "identityHash": f"sha256${sha256('Inês Carvalho Telessalt'.encode()).hexdigest()}",
        "identityType": "name",
        "salt": "salt",
    }
    script = """async ([hashed, ...names]) => Promise.all(names.map(
      name => standfast.holder({ credentialSubject: { identifier: [hashed] } }, name)))"""
    name = "Inês Carvalho Teles"
    same = (name, f" {name}\n", name.replace(" ", "  "), unicodedata.normalize("NFD", name))
    others = ("Ines Carvalho Teles", name.lower(), name.replace(" ", ""))
    found = checking.page.evaluate(script, [hashed, *same, *others])

    assert [one["answer"] for one in found] == ["yes"] * len(same) + ["no"] * len(others)
    for spelt, one in zip((*same, *others), found, strict=True):
        document = {"credentialSubject": {"identifier": [hashed]}}
        assert is_holder(document, spelt) is (one["answer"] == "yes")


# The code on paper


TOKEN = Told(
    *("LT1-2026-0001", "Inês Carvalho Teles", "low-trapeze-1", "1"),
    *(datetime.fromisoformat("2028-03-01").date(), PLACE, "digest", "1"),
)


def of_code(text: str, lists: tuple[bytes, ...] = LISTS, now: datetime = NOW) -> Case:
    return Case(text.encode(), lists, now=now)


def codes_alike(checking: Checking, cases: list[Case]) -> list[Answers]:
    """The answers of Python to codes, after the page gave the same."""
    by_python: list[Answers] = []
    for one in cases:
        found, _ = verify_token(one.content.decode(), one.trusted, Lists(one.lists), one.now)
        by_python.append({said.question: said.answer for said in found})

    assert checking.of_tokens(*cases) == by_python
    return by_python


def test_a_code_is_checked_against_the_keys_that_are_believed(checking: Checking) -> None:
    made = token(TOKEN, KEY)
    taken = (status_list(PLACE),)
    good, strange, back, unlisted = codes_alike(
        checking,
        [of_code(made), of_code(token(TOKEN, STRANGER)), of_code(made, taken), of_code(made, ())],
    )

    assert good == dict.fromkeys(("shape", "signature", "key", "dates", "revocation"), "yes")
    assert strange == {"shape": "yes", "signature": "not known"}
    assert back["revocation"] == "no"
    assert unlisted["revocation"] == "not known"


def test_what_a_school_lists_and_is_no_key_keeps_no_code_from_being_checked(
    checking: Checking,
) -> None:
    none = ListedKey(key=base58btc(b"\xed\x01" + bytes.fromhex(SMALL[0])), since=TRUSTED.made)
    trusted = (TRUSTED.model_copy(update={"keys": (none, *TRUSTED.keys)}),)
    made = token(TOKEN, KEY).encode()

    assert codes_alike(checking, [Case(made, LISTS, trusted)]) == [GOOD]


def test_every_changed_letter_of_a_code_is_noticed(checking: Checking) -> None:
    made = token(TOKEN, KEY)
    changed = [
        made[:at] + ("A" if letter != "A" else "B") + made[at + 1 :]
        for at, letter in enumerate(made)
    ]
    for answers in codes_alike(checking, [of_code(one) for one in changed]):
        assert answers.get("signature") != "yes"


def test_a_code_that_is_signed_in_another_way_or_says_something_else_is_none(
    checking: Checking,
) -> None:
    head = {"alg": "Ed25519", "kid": KEY.public.thumbprint}
    texts = [*(forged(one) for one in HEADS), "", "a.b", "a.b.c", "..", "=.=.="]
    texts += [f"{token(TOKEN, KEY)}."]
    for answers in codes_alike(checking, [of_code(one) for one in texts]):
        assert answers == {"shape": "no"}
    for answers in codes_alike(checking, [of_code(forged(head, body=one)) for one in BODIES]):
        assert answers == {"shape": "yes", "signature": "no"}


def test_the_last_day_of_a_code_is_not_known_while_it_ends_somewhere(checking: Checking) -> None:
    """It has no zone: the day 2028-03-01 ends first at UTC+14 and last at UTC-12."""
    made = token(TOKEN, KEY)
    times = {
        "2028-03-01T09:59:59": "yes",
        "2028-03-01T10:00:00": "not known",
        "2028-03-02T11:59:59": "not known",
        "2028-03-02T12:00:00": "no",
    }
    cases = [of_code(made, (), datetime.fromisoformat(f"{at}Z")) for at in times]
    found = codes_alike(checking, cases)

    assert [one["dates"] for one in found] == list(times.values())


# How it is made


def test_the_page_is_small_and_names_the_hash_of_all_that_runs_in_it() -> None:
    text = check_page.page().decode()
    (script,) = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
    (style,) = re.findall(r"<style>(.*?)</style>", text, re.DOTALL)
    hashes = re.findall(r"'sha256-([^']+)'", text)

    assert [b64decode(one) for one in hashes] == [
        sha256(part.encode()).digest() for part in (script, style)
    ]
    assert len(check_page.page()) < 60_000
    assert not re.search(r"style=|src=|href=|(?<!64)url\(|@import", text)
    assert not re.search(r"\son[a-z]+=", text.replace(script, ""))


TEXTS = r"""
/** Words about it, with a ' and a ` in them. */
const said = "two  blanks // no  comment"; // but  this is one
/* and  this */
const all = [said, 'it /* is */  "so"  \' ', "a \" b \\", `  over
    two  lines // and  ${ said.length / 2 } of  them \` `, "`", '${'];
function pattern(text) {
  // a ` that begins nothing
  return text.replace(/[ "'`/]  \/ /g, "  x  ").match(/x  */)?.[0] + text.length / 2 / 1;
}
class Last {
  static async of(value) { return typeof value in { string: 1 } ? value : void 0; }
}
const told = async () => [...all, pattern(' "  / a `  / '), await Last.of(" y "), await Last.of(1)];
"""


def test_what_is_left_out_to_make_it_small_is_in_no_text_of_it(checking: Checking) -> None:
    told, small = (
        checking.page.evaluate(f"(() => {{ {one}\n return told(); }})()")
        for one in (TEXTS, check_page.tight(TEXTS))
    )

    assert small == told
    assert told[3].splitlines()[1] == "    two  lines // and  13 of  them ` "
    assert "Words" not in check_page.tight(TEXTS)
    assert len(check_page.tight(TEXTS)) < len(TEXTS) - 150


@pytest.mark.parametrize(
    "text",
    [
        *('x = `a ${b ? `c  d` : ""}`;', "x = `a ${{}}  b`;", 'x = "a\n  b";', "x = `  a"),
        *("x = / a  b/;", "f(/ a  b/);", "x = a/b;"),
    ],
)
def test_a_text_of_which_the_end_is_not_plain_stops_the_making_of_the_page(text: str) -> None:
    with pytest.raises(ValueError, match="line 2: where the text at"):
        check_page.tight(f"y = 1;\n{text}\n")


def test_each_module_imports_only_what_stands_before_it_and_what_is_there() -> None:
    """The modules are joined without their import lines, so these must say the truth."""
    known: dict[str, set[str]] = {"made": {"SHAPES"}}
    for name in check_page.SCRIPTS:
        text = (check_page.FOLDER / f"{name}.js").read_text("utf-8")
        imports = re.findall(r"^import \{([^}]*)\} from \"\./(\w+)\.js\";$", text, re.MULTILINE)
        for names, module in imports:
            assert {one.strip() for one in names.split(",")} <= known[module], (name, module)
        assert len(imports) == text.count("import ")
        assert text.count("\n") <= 250
        known[name] = set(check_page._EXPORT.findall(text))
    exported = [one for names in known.values() for one in names]

    assert len(exported) == len(set(exported))
