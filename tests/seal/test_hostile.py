"""What somebody may send who wishes us ill: nothing of it passes, and nothing of it breaks."""

from __future__ import annotations

import gzip
import json
from collections.abc import Mapping
from datetime import date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.counting import kills
from tests.published.test_credential_cases import (
    GOOD,
    KEY,
    NOW,
    STRANGER,
    TRUSTED,
    sample,
    signed,
    status_list,
)

from standfast.model.canonical import canonical
from standfast.seal import shapes
from standfast.seal.encoding import (
    Unreadable,
    base64url,
    from_base58btc,
    from_base64url,
    read_json,
)
from standfast.seal.status import LEAST_PLACES, encoded, free_place, is_set
from standfast.seal.token import Told, key_named_in, read_token, token
from standfast.seal.verify import Lists, verify

TOLD = Told(
    *("LT1-2026-0001", "Inês Carvalho Teles", "LT1", "1", date(2028, 3, 1)),
    *(94567, "digest", "r1"),
)


def answers(content: bytes) -> dict[str, str]:
    found = verify(content, [TRUSTED], Lists((status_list(),)), NOW)
    return {one.question: one.answer for one in found}


@pytest.mark.parametrize("bit", range(min(8, kills(2))))
def test_a_flipped_bit_of_every_byte_of_a_signed_file_is_noticed(bit: int) -> None:
    """Another bit of each byte than of the one before; `./dev faults` tries all eight of each."""
    content = canonical(signed(sample()))
    assert answers(content) == GOOD
    passed = []
    for at in range(len(content)):
        changed = bytearray(content)
        changed[at] ^= 1 << (at + bit) % 8
        if answers(bytes(changed)) == GOOD:
            passed.append(at)

    assert len(content) > 4000
    assert passed == []


TWO_WAYS = [
    (b'{"a": 1, "a": 2}', "twice"),
    (b'{"a": {"b": 1, "b": 1}}', "twice"),
    (b'{"a": 9007199254740992}', "too large"),
    (b'{"a": -1e400}', "whole"),
    (b'{"a": 1.0}', "whole"),
    (b'{"a": NaN}', "whole"),
    (b'{"a": "\\ud800"}', "half a letter"),
    (b'{"a": ["\\uDFFF", "\\uD800\\uDC00"]}', "half a letter"),
    (b'{"\\udc00\\ud800": 1}', "half a letter"),
    (b"\xff\xfe", "UTF-8"),
    (b"\xef\xbb\xbf{}", "no JSON"),
    (b"{" * 100_000, "no JSON"),
    (b"[" * 100_000, "deeper"),
    (b'{"a":' * 100_000, "deeper"),
    (b"[" * 33 + b"]" * 33, "deeper"),
    (b'{"a": "' + b"x" * (1 << 20) + b'"}', "more than"),
    (b'{"a": ' + b"9" * 5000 + b"}", "too large"),
    (b"", "no JSON"),
    (b"{} {}", "no JSON"),
]
"""JSON, and why it is refused."""


@pytest.mark.parametrize(("content", "why"), TWO_WAYS)
def test_json_that_two_readers_could_read_in_two_ways_is_refused(content: bytes, why: str) -> None:
    with pytest.raises(Unreadable, match=why):
        read_json(content)


def test_two_halves_make_a_letter_and_32_levels_are_not_too_deep() -> None:
    assert read_json(b'{"a": "\\uD83E\\uDD38"}') == {"a": "\U0001f938"}
    assert read_json(b'{"a": "\\\\ud800"}') == {"a": "\\ud800"}
    assert read_json(b"[" * 32 + b"]" * 32)


def test_brackets_inside_text_are_no_depth() -> None:
    assert read_json(b'{"a": "[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[\\"[["}')


@settings(max_examples=200)
@given(st.binary(max_size=200))
def test_nothing_that_is_sent_breaks_the_check(content: bytes) -> None:
    assert verify(content, [TRUSTED], Lists(), NOW)[0].answer == "no"


@settings(max_examples=200, deadline=None)
@given(st.recursive(st.none() | st.booleans() | st.integers() | st.text(), st.lists, max_leaves=9))
def test_nothing_in_the_place_of_a_proof_breaks_the_check(value: object) -> None:
    document = sample() | {"proof": value}
    found = verify(json.dumps(document).encode(), [TRUSTED], Lists(), NOW)

    assert found[0].answer == "no"


# The code on paper


def test_what_a_token_says_comes_back() -> None:
    made = token(TOLD, KEY)

    assert read_token(made, KEY.public) == TOLD
    assert key_named_in(made) == KEY.public.thumbprint
    assert len(made) < 400


def forged(head: Mapping[str, object], key: object = KEY, body: bytes | None = None) -> str:
    made = token(TOLD, KEY).split(".")
    first = base64url(json.dumps(head, separators=(",", ":"), sort_keys=True).encode())
    middle = base64url(body) if body is not None else made[1]
    last = KEY.sign(f"{first}.{middle}".encode())
    return f"{first}.{middle}.{base64url(last)}"


HEADS: list[dict[str, object]] = [
    {"alg": "none", "kid": "x"},
    {"alg": "HS256", "kid": "x"},
    {"alg": "EdDSA", "kid": "x"},
    {"alg": "ed25519", "kid": "x"},
    {"alg": "Ed25519"},
    {"alg": "Ed25519", "kid": 7},
    {"alg": "Ed25519", "kid": "x", "jwk": "x"},
    {"alg": "Ed25519", "kid": "x", "crit": "x"},
]
"""Of a token, that are not ours."""


@pytest.mark.parametrize("head", HEADS)
def test_a_token_that_is_signed_in_another_way_is_refused(head: dict[str, object]) -> None:
    with pytest.raises(Unreadable):
        read_token(forged(head), KEY.public)


BODIES = [
    b"{}",
    b"[]",
    canonical(TOLD.claims() | {"idx": True}),
    canonical(TOLD.claims() | {"idx": -1}),
    canonical(TOLD.claims() | {"end": "2028-02-30"}),
    canonical(TOLD.claims() | {"end": "20280301"}),
    canonical(TOLD.claims() | {"end": "2028-W09-3"}),
    canonical(TOLD.claims() | {"end": "0000-01-01"}),
    canonical(TOLD.claims() | {"num": 7}),
    canonical(TOLD.claims() | {"more": "x"}),
    canonical(TOLD.claims())[:-1] + b',"num":"LT1-2026-0002"}',
]
"""Of a token, that are no claims of ours."""


@pytest.mark.parametrize("body", BODIES)
def test_a_token_with_other_claims_is_refused_though_it_is_signed(body: bytes) -> None:
    with pytest.raises(Unreadable):
        read_token(forged({"alg": "Ed25519", "kid": "x"}, body=body), KEY.public)


def test_a_token_of_somebody_else_is_refused_and_so_is_one_without_a_signature() -> None:
    made = token(TOLD, STRANGER)
    head, body, _ = token(TOLD, KEY).split(".")
    for text in (made, f"{head}.{body}.", f"{head}.{body}", f"{head}.{body}.{'A' * 86}"):
        with pytest.raises(Unreadable):
            read_token(text, KEY.public)


def test_every_changed_letter_of_a_token_is_noticed() -> None:
    made = token(TOLD, KEY)
    for at, letter in enumerate(made):
        other = "A" if letter != "A" else "B"
        with pytest.raises(Unreadable):
            read_token(made[:at] + other + made[at + 1 :], KEY.public)


@pytest.mark.parametrize("blank", [" ", "\n", "\t", "\x0b"])
def test_a_key_has_one_form_without_a_blank_behind_it(blank: str) -> None:
    with pytest.raises(Unreadable):
        from_base58btc(f"{KEY.public.multikey}{blank}")


def test_base64url_has_one_form() -> None:
    assert from_base64url("_-8") == b"\xff\xef"
    for text in ("_-8=", "_-9", "/+8", "_-8\n", "_"):
        with pytest.raises(Unreadable):
            from_base64url(text)


# Status lists


def test_the_list_of_the_standard_is_empty() -> None:
    """W3C Bitstring Status List 1.0, example 3: 131,072 places, none set."""
    text = "uH4sIAAAAAAAAA-3BMQEAAADCoPVPbQwfoAAAAAAAAAAAAAAAAAAAAIC3AYbSVKsAQAAA"

    assert not any(is_set(text, place) for place in (0, 1, 94567, 131_071))
    with pytest.raises(Unreadable, match="RANGE_ERROR"):
        is_set(text, 131_072)


def test_place_0_is_the_left_most_bit() -> None:
    bits = gzip.decompress(from_base64url(encoded([0, 94567])[1:]))

    assert (bits[0], bits[11820]) == (0x80, 0x01)
    assert sum(map(int.bit_count, bits)) == 2


@settings(max_examples=50, deadline=None)
@given(st.sets(st.integers(0, LEAST_PLACES - 1), max_size=40))
def test_a_list_has_the_places_that_were_taken_back_and_no_other(places: set[int]) -> None:
    text = encoded(places)

    assert all(is_set(text, place) for place in places)
    for place in (0, 7, 8, LEAST_PLACES - 1, *(place ^ 1 for place in places)):
        assert is_set(text, place) is (place in places)


NO_LISTS = [
    (gzip.compress(bytes(10)), "STATUS_LIST_LENGTH_ERROR"),
    (gzip.compress(bytes(1 << 28)), "whole"),
    (gzip.compress(bytes(1 << 14))[:-9], "whole"),
    (gzip.compress(bytes(1 << 14)) + b"more", "whole"),
    (b"no gzip", "unpacked"),
]
"""The bits of a list, packed, and why it is none."""


@pytest.mark.parametrize(
    ("content", "why"), NO_LISTS, ids=["short", "bomb", "cut off", "more behind", "no gzip"]
)
def test_a_list_that_is_none_is_refused(content: bytes, why: str) -> None:
    with pytest.raises(Unreadable, match=why):
        is_set("u" + base64url(content), 1)


def test_places_are_given_at_random_and_once() -> None:
    drawn = iter([(5).to_bytes(4, "big"), (5).to_bytes(4, "big"), (9).to_bytes(4, "big")])
    first = free_place(set(), lambda _: next(drawn))

    assert first == 5
    assert free_place({first}, lambda _: next(drawn)) == 9
    with pytest.raises(ValueError, match="new list"):
        free_place(range(LEAST_PLACES // 2 + 1), bytes)


def test_a_day_of_the_last_second_is_within() -> None:
    document = signed(sample() | {"validUntil": "2026-06-01T23:59:59+02:00"})
    for at, answer in (("2026-06-01T21:59:59Z", "yes"), ("2026-06-01T22:00:00Z", "no")):
        (told,) = (
            one.answer
            for one in verify(canonical(document), [TRUSTED], Lists(), datetime.fromisoformat(at))
            if one.question == "dates"
        )
        assert told == answer


# What a shape sees


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("validFrom", "2026-03-01T00:00:00+05:99"),
        ("validFrom", "\u0662\u0660\u0662\u0666-03-01T00:00:00Z"),
        ("issuer", "https://school.example/\u0661"),
        ("issuer", "https://school.example/\ufeff"),
    ],
)
def test_what_another_reader_could_read_otherwise_is_refused(name: str, value: str) -> None:
    assert shapes.faults(sample() | {name: value})


def test_contexts_stand_under_their_own_name_only() -> None:
    document = sample()
    document["context"] = document.pop("@context")

    assert shapes.faults(document)
