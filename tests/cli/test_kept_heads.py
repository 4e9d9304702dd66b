"""Heads and receipts that somebody brings to the school, or shows in its name."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from hashlib import sha256
from pathlib import Path

import pytest
from freezegun import freeze_time
from tests.cli.conftest import ISSUER, Run

from standfast.desk.proving import check_receipt
from standfast.model import tree
from standfast.model.canonical import canonical
from standfast.seal.keys import SecretKey
from standfast.seal.receipts import receipt, signed_head
from standfast.seal.trust import KIND, ListedKey, TrustFile

KEY = SecretKey(b"\x07" * 32)
NOW = datetime.fromisoformat("2026-11-24T10:00:00Z")


@pytest.fixture
def keyed(scored: Path, typed: Run) -> Iterator[Path]:
    """The school with three sheets and keys."""
    with freeze_time(NOW, ignore=["pydantic"]):
        assert typed("keys", "make", "--issuer", ISSUER).code == 0
        yield scored


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize("issuer", [ISSUER, "https://other.example/issuer"])
def test_a_head_that_somebody_made_up_does_not_look_like_a_rewritten_book(
    typed: Run, tmp_path: Path, issuer: str
) -> None:
    file = tmp_path / "head-2026-01-01.json"
    file.write_bytes(canonical(signed_head(issuer, 2, b"\0" * 32, KEY, NOW)))
    told = typed("prove", "--since", file, "--out", "out")

    assert told.code == 1
    assert "made it up" in told.err
    assert "rewritten" not in told.err


@pytest.mark.usefixtures("keyed")
def test_a_head_from_before_a_theft_is_still_shown_to_be_the_begin_of_the_book(typed: Run) -> None:
    kept = typed("head", "--out", "out", "--json").json["file"]
    assert typed("keys", "lost", "--stolen").code == 0

    assert typed("prove", "--since", kept, "--out", "out").code == 0


@pytest.mark.usefixtures("keyed")
def test_a_head_by_a_thief_is_said_to_be_perhaps_made_up(typed: Run, tmp_path: Path) -> None:
    secret = typed("keys", "paper").out.splitlines()[0].replace(" ", "")
    assert typed("keys", "lost", "--stolen").code == 0
    file = tmp_path / "head-2026-01-01.json"
    thief = SecretKey.of(secret)
    file.write_bytes(canonical(signed_head(ISSUER, 2, b"\0" * 32, thief, NOW)))
    told = typed("prove", "--since", file, "--out", "out")

    assert (told.code, "its key was revoked on 2026-11-24" in told.err) == (1, True)


# Receipts


def made(entry: bytes) -> bytes:
    head = signed_head(ISSUER, 1, tree.leaf_hash(entry), KEY, NOW)
    return receipt(entry, 0, (), head)


def trusted(revoked: str | None = None) -> TrustFile:
    since = "2026-01-01T00:00:00Z"
    listed = ListedKey(key=KEY.public.multikey, since=since, revoked=revoked)
    return TrustFile(kind=KIND, issuer=ISSUER, name="Sandhof", made=since, keys=(listed,))


DOCUMENT = {"issuer": {"id": ISSUER}}
DIGEST = sha256(canonical(DOCUMENT)).hexdigest()
GOOD = canonical({"body": {"issued": {"digest": DIGEST}}})


def test_a_receipt_of_this_certificate_is_one() -> None:
    assert check_receipt(made(GOOD), DOCUMENT, [trusted()]).answer == "yes"


@pytest.mark.parametrize(
    "entry",
    [
        pytest.param(b"[]", id="a list"),
        pytest.param(b"no JSON", id="no JSON"),
        pytest.param(b"[" * 5000, id="too deep"),
        pytest.param(b'{"body": []}', id="a body that is a list"),
        pytest.param(b'{"body": {"issued": "x"}}', id="a text where an object should be"),
        pytest.param(b'{"body": {"issued": {}}}', id="no digest"),
    ],
)
def test_whatever_stands_in_a_receipt_breaks_nothing(entry: bytes) -> None:
    assert check_receipt(made(entry), DOCUMENT, [trusted()]).answer == "no"


@pytest.mark.parametrize("order", [1, -1])
def test_a_receipt_under_a_key_that_any_file_revoked_is_not_believed(order: int) -> None:
    files = [trusted(), trusted("2026-11-01T00:00:00Z")][::order]

    assert check_receipt(made(GOOD), DOCUMENT, files).answer == "not known"
