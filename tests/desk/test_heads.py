"""Heads, receipts and growth files, as somebody outside the school checks them."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standfast.desk.heads import KINDS, check, kind_of
from standfast.model import tree
from standfast.model.canonical import canonical
from standfast.seal.keys import SecretKey
from standfast.seal.receipts import extension, receipt, signed_head
from standfast.seal.trust import KIND, ListedKey, TrustFile

ISSUER = "https://sandhof.example/issuer"
KEY, NEXT, STRANGER = (SecretKey(bytes([n]) * 32) for n in (1, 2, 3))
NOW = datetime.fromisoformat("2026-11-24T10:00:00Z")
SINCE = "2026-01-01T00:00:00Z"
ENTRIES = [
    canonical({"at": f"2026-11-{n:02}T09:00:00.000Z", "kind": "credential-issued", "seq": n})
    for n in range(1, 21)
]
OTHERS = [*ENTRIES[:3], b"{}", *ENTRIES[4:]]
"""The same book with its fourth entry written anew."""

JSON = dict[str, Any]


def trust_file(*keys: ListedKey) -> TrustFile:
    listed = keys or tuple(ListedKey(key=one.public.multikey, since=SINCE) for one in (KEY, NEXT))
    return TrustFile(kind=KIND, issuer=ISSUER, name="Sandhof", made=SINCE, keys=listed)


def head(size: int, key: SecretKey = KEY, of: list[bytes] = ENTRIES, issuer: str = ISSUER) -> JSON:
    root = tree.root(tree.leaf_hash(one) for one in of[:size])
    return signed_head(issuer, size, root, key, NOW)


def receipt_of(index: int, size: int, of: list[bytes] = ENTRIES) -> bytes:
    leaves = [tree.leaf_hash(one) for one in of[:size]]
    return receipt(of[index], index, tree.inclusion_proof(leaves, index), head(size, of=of))


def growth(first: JSON, size: int, key: SecretKey = KEY, of: list[bytes] = ENTRIES) -> bytes:
    leaves = [tree.leaf_hash(one) for one in of[:size]]
    path = tree.consistency_proof(leaves, first["size"])
    return extension(first, head(size, key, of), path)


def answers(content: bytes, kept: JSON | None = None, *trusted: TrustFile) -> dict[str, str]:
    files = trusted or (trust_file(),)
    found = check(content, files, None if kept is None else canonical(kept))
    return {one.question: one.answer for one in found}


def says(content: bytes, question: str, kept: JSON | None = None) -> str:
    found = check(content, [trust_file()], None if kept is None else canonical(kept))
    return next(one.says for one in found if one.question == question)


SIGNED = {"shape": "yes", "signature": "yes", "key": "yes"}


def test_each_kind_of_file_is_told_by_its_name() -> None:
    files = (canonical(head(5)), receipt_of(2, 5), growth(head(5), 9))

    assert [kind_of(one) for one in files] == list(KINDS)
    for other in (b"", b"{}", b"[]", b'{"kind": 3}', b'{"kind": ["standfast-head"]}', b"\xff"):
        assert kind_of(other) is None
        assert answers(other) == {"shape": "no"}


def test_a_head_says_whose_it_is_and_nothing_of_the_book() -> None:
    assert answers(canonical(head(5))) == SIGNED


def test_a_receipt_leads_to_its_head_and_says_what_entry_it_is() -> None:
    assert answers(receipt_of(2, 20)) == {**SIGNED, "book": "yes"}
    told = says(receipt_of(2, 20), "book")
    assert told.startswith("entry 3 (credential-issued, 2026-11-03) of 20 entries of 2026-11-24")
    root = head(20)["root"]
    assert f"root {' '.join(root[at : at + 4] for at in range(0, 64, 4))}" in told


def test_a_growth_file_shows_nothing_to_whoever_kept_no_head() -> None:
    content = growth(head(5), 20)

    assert answers(content) == {**SIGNED, "book": "yes", "kept": "not known"}
    assert head(5)["root"][:4] in says(content, "kept")  # to compare with the page


def test_a_growth_file_shows_to_whoever_kept_its_first_head_that_the_book_only_grew() -> None:
    assert answers(growth(head(5), 20), head(5)) == {**SIGNED, "book": "yes", "kept": "yes"}
    assert answers(growth(head(5), 5), head(5)) == {**SIGNED, "book": "yes", "kept": "yes"}


@pytest.mark.parametrize(
    ("kept", "why"),
    [
        pytest.param(head(4), "begins at another head than was kept", id="of fewer entries"),
        pytest.param(head(6), "begins at another head than was kept", id="of more entries"),
        pytest.param(head(5, of=OTHERS), "the book was rewritten", id="of other entries"),
        pytest.param(
            head(5, issuer="https://other.example/i"), "https://other.example/i", id="of others"
        ),
        pytest.param({**head(5), "root": "0" * 64}, "was changed", id="changed by hand"),
        pytest.param({"kind": "standfast-head"}, "no such file", id="no head"),
    ],
)
def test_a_growth_file_that_begins_elsewhere_than_the_kept_head_shows_nothing(
    kept: JSON, why: str
) -> None:
    content = growth(head(5), 20)

    assert answers(content, kept)["kept"] == "no"
    assert why in says(content, "kept", kept)


def test_a_book_that_was_rewritten_has_no_growth_file_from_the_kept_head() -> None:
    kept = head(5)
    honest_start = growth(kept, 20, of=OTHERS)
    own_start = growth(head(5, of=OTHERS), 20, of=OTHERS)

    assert answers(honest_start, kept)["book"] == "no"
    assert answers(own_start, kept)["book"] == "yes"
    assert answers(own_start, kept)["kept"] == "no"


def test_a_head_that_was_signed_again_over_the_same_entries_is_the_one_that_was_kept() -> None:
    assert answers(growth(head(5, NEXT), 20), head(5, KEY))["kept"] == "yes"


@pytest.mark.parametrize(
    ("size", "of", "answer"),
    [
        pytest.param(5, ENTRIES, "yes", id="the same"),
        pytest.param(5, OTHERS, "no", id="as many entries, other ones"),
        pytest.param(9, ENTRIES, "not known", id="a later one"),
        pytest.param(4, ENTRIES, "not known", id="an earlier one"),
    ],
)
def test_two_heads_are_compared_and_two_of_one_size_must_be_alike(
    size: int, of: list[bytes], answer: str
) -> None:
    assert answers(canonical(head(size, of=of)), head(5)) == {**SIGNED, "kept": answer}
    assert answers(receipt_of(2, size, of), head(5))["kept"] == answer


# Whose keys


def test_whose_key_it_is_is_asked_of_both_ends_unless_the_first_was_kept() -> None:
    only_next = trust_file(ListedKey(key=NEXT.public.multikey, since=SINCE))
    content = growth(head(5, KEY), 20, NEXT)

    assert answers(content, None, only_next)["key"] == "no"
    assert answers(content, head(5, KEY), only_next)["key"] == "yes"
    assert answers(content, head(4, KEY), only_next)["key"] == "no"
    assert answers(growth(head(5, NEXT), 20, KEY), head(5, NEXT), only_next)["key"] == "no"


@pytest.mark.parametrize(
    ("trusted", "answer"),
    [
        pytest.param(
            trust_file(ListedKey(key=KEY.public.multikey, since=SINCE, revoked=SINCE)),
            "not known",
            id="revoked",
        ),
        pytest.param(
            trust_file(ListedKey(key=STRANGER.public.multikey, since=SINCE)),
            "no",
            id="none of hers",
        ),
        pytest.param(
            trust_file().model_copy(update={"issuer": "https://other.example/i"}),
            "not known",
            id="a school that is not known",
        ),
    ],
)
def test_a_key_that_is_not_believed_is_said(trusted: TrustFile, answer: str) -> None:
    for content in (canonical(head(5)), receipt_of(2, 5), growth(head(5), 9)):
        assert answers(content, None, trusted)["key"] == answer


def test_a_key_revoked_in_any_trust_file_is_revoked() -> None:
    revoked = trust_file(ListedKey(key=KEY.public.multikey, since=SINCE, revoked=SINCE))

    assert answers(canonical(head(5)), None, trust_file(), revoked)["key"] == "not known"


def test_a_growth_file_from_one_school_to_another_is_none() -> None:
    first = head(5, issuer="https://other.example/i")
    other = TrustFile(**{**trust_file().model_dump(), "issuer": "https://other.example/i"})
    told = answers(growth(first, 9), None, trust_file(), other)

    assert told["book"] == "no"


# Changed, or meant to break


@pytest.mark.parametrize(
    "change",
    [
        lambda told: told.update(size=told["size"] + 1),
        lambda told: told.update(root="0" * 64),
        lambda told: told.update(at="2020-01-01T00:00:00Z"),
        lambda told: told.update(issuer="https://elsewhere.example/issuer"),
        lambda told: told["proof"][0].update(created="2020-01-01T00:00:00Z"),
    ],
)
def test_a_changed_head_is_noticed_wherever_it_stands(change: Callable[[JSON], object]) -> None:
    whole = (canonical(head(5)), receipt_of(2, 5), growth(head(5), 9), growth(head(5), 9))
    for at, content in enumerate(whole):
        told = json.loads(content)
        change((told, told.get("head"), told.get("first"), told.get("second"))[at])

        assert answers(canonical(told)) == {"shape": "yes", "signature": "no"}, at


def test_a_head_signed_by_its_statements_alone_shows_nothing() -> None:
    told = head(5)
    told["proof"][0]["cryptosuite"] = "eddsa-rdfc-2022"

    assert answers(canonical(told)) == {"shape": "yes", "signature": "no"}
    assert answers(growth(told, 9)) == {"shape": "yes", "signature": "no"}


@pytest.mark.parametrize("content", [canonical(head(5)), receipt_of(2, 5), growth(head(5), 9)])
def test_nothing_else_may_stand_in_them(content: bytes) -> None:
    told = json.loads(content) | {"note": "and she may teach"}

    assert answers(canonical(told)) == {"shape": "no"}


@pytest.mark.parametrize("steps", [0, 3, 64])
def test_a_way_of_the_wrong_length_leads_nowhere(steps: int) -> None:
    for content in (receipt_of(2, 20), growth(head(5), 20)):
        told = json.loads(content) | {"path": ["0" * 64] * steps}

        assert answers(canonical(told), head(5))["book"] == "no"


@pytest.mark.parametrize("entry", ["", "[" * 5000, '"a"', '{"kind": "\\u001b[2J", "at": 3}', "[]"])
def test_whatever_stands_in_an_entry_breaks_nothing_and_is_not_shown(entry: str) -> None:
    leaves = [entry.encode()]
    content = receipt(leaves[0], 0, (), head(1, of=leaves))

    assert answers(content) == {**SIGNED, "book": "yes"}
    assert says(content, "book").startswith("entry 1 of 1 entries of 2026-11-24")


@settings(max_examples=300)
@given(st.data())
def test_no_flipped_bit_passes(data: st.DataObject) -> None:
    content = bytearray(data.draw(st.sampled_from([receipt_of(2, 7), growth(head(5), 7)])))
    at = data.draw(st.integers(0, len(content) - 1))
    content[at] ^= 1 << data.draw(st.integers(0, 7))

    assert set(answers(bytes(content), head(5)).values()) != {"yes"}
