"""The page that checks, held to Python: changed bytes are read by both alike, or by neither.

Each reader of the page has one of Python's beside it, and good bytes to begin with.  Many changes
are signed again, so that not every one of them ends at the signature.
"""

from __future__ import annotations

import dataclasses
import gzip
import io
import json
import sys
import tempfile
import time
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Any

import pikepdf
from playwright.sync_api import sync_playwright
from tests.fuzz.changes import PDF_PIECES, changed, changed_json
from tests.published.test_credential_cases import (
    JSON,
    KEY,
    NOW,
    SCHOOL,
    TRUSTED,
    patched,
    sample,
    signed,
    status_list,
)
from tests.seal.conftest import QUESTIONS, Answers, Case, Checking, believing
from tests.seal.test_check_page import OTHERS, changed_somewhere, over_bytes
from tests.seal.test_hostile import TOLD
from tests.seal.test_keys import OTHER_FORMS, SMALL
from tests.web.browser import forgetful

from standfast.desk.checking import With, check
from standfast.desk.proving import check_receipt, paper_of
from standfast.model import tree
from standfast.model.canonical import canonical
from standfast.problems import StandfastError
from standfast.seal import receipts, trust
from standfast.seal.check_page import page
from standfast.seal.encoding import Unreadable, base58btc, base64url, from_base64url, read_json
from standfast.seal.keys import PublicKey
from standfast.seal.papers import filled, hash_of, room_for
from standfast.seal.token import token
from standfast.seal.verify import Lists, verify_token

LISTS = (status_list(),)
CERTIFICATE = signed(sample())


@dataclass(frozen=True)
class Reader:
    """A reader of the page, held to Python's."""

    call: str
    """What the page is asked, by its name in `Checking`."""
    drawn: Callable[[Random], Case]
    """Something to read, mostly bad."""
    times: int
    """How often in one round: as often as takes about a second."""
    differs: Callable[[Case, Any], str]
    """How what the page said differs from what Python says; empty when it does not."""


def as_python(says: Callable[[Case], Any]) -> Callable[[Case, Any], str]:
    """Differs when Python says anything else; a refusal of it is None."""

    def differs(case: Case, by_page: Any) -> str:  # noqa: ANN401 - whatever was read
        try:
            by_python = says(case)
        except Unreadable:
            by_python = None
        return "" if by_python == plain(by_page) else f"Python says {by_python}, the page {by_page}"

    return differs


def plain(said: Any) -> Any:  # noqa: ANN401 - whatever the page said
    """Findings as answers."""
    if isinstance(said, list) and said and "question" in said[0]:
        return {one["question"]: one["answer"] for one in said}
    if isinstance(said, dict) and "question" in said:
        paper = said.get("paper")
        return [said["answer"], paper if isinstance(paper, str) else ""]
    return said


def somewhere(document: JSON, drawn: Random) -> JSON:
    """With one or two of its parts changed; still with an issuer, who signs it."""
    while True:
        found = changed_somewhere(document, drawn)
        if drawn.random() < 0.3:
            found = changed_somewhere(found, drawn)
        if has_issuer(found):
            return found


def has_issuer(document: JSON) -> bool:
    """Whether it can be signed in the name of somebody."""
    issuer = document.get("issuer", SCHOOL)
    return isinstance(issuer, str) or (isinstance(issuer, dict) and "id" in issuer)


# --- what is drawn ------------------------------------------------------------------------------

JSON_TEXTS = (
    canonical(sample()),
    b'{"a":[1,-2,{"b":"\\u00e9\\n"},true,null],"c":{"d":"x\\ud83d\\ude00"}, "e" : 0 }',
    b'[[[[[["a"]]]]],{"b":{"c":{"d":[]}}},"",-0,9007199254740991]',
)


def json_text(drawn: Random) -> Case:
    return Case(changed_json(drawn.choice(JSON_TEXTS), drawn))


def certificate(drawn: Random) -> Case:
    if drawn.random() < 0.4:
        return Case(changed_json(canonical(CERTIFICATE), drawn), LISTS)
    return Case(canonical(over_bytes(somewhere(sample(), drawn))), LISTS)


def status(drawn: Random) -> Case:
    """A good certificate, with a list that is none."""
    plain = json.loads(LISTS[0])
    how = drawn.randrange(4)
    if how == 0:
        made = changed_json(LISTS[0], drawn)
    elif how == 1:
        made = canonical(over_bytes(somewhere(plain, drawn)))
    else:
        packed = drawn.choice(packed_lists())
        if drawn.random() < 0.8:
            packed = changed(packed, (b"\x1f\x8b\x08", bytes(2000)), drawn)
        text = f"u{base64url(packed)}"
        made = canonical(
            over_bytes(patched(plain, "replace", "/credentialSubject/encodedList", text))
        )
    return Case(canonical(CERTIFICATE), (made,))


@cache
def packed_lists() -> tuple[bytes, ...]:
    bits = [bytes(1 << 14), b"\xff" * (1 << 14), bytes((1 << 24) + 1), bytes(1 << 24), bytes(10)]
    found = [gzip.compress(one, mtime=0) for one in bits]
    with_name = b"\x1f\x8b\x08\x08" + found[0][4:10] + b"name\x00" + found[0][10:]
    return (*found, with_name, found[0] + found[0], zlib.compress(bits[0]))


def trust_file(drawn: Random) -> Case:
    made = trust_of_the_cases()
    if drawn.random() < 0.5:
        return Case(changed_json(made, drawn))
    return Case(canonical(over_bytes(somewhere(json.loads(made), drawn))))


def code(drawn: Random) -> Case:
    made = token(TOLD, KEY)
    if drawn.random() < 0.4:
        text = changed_json(made.encode(), drawn).decode("utf-8", "replace")
        return Case(text.encode(), LISTS)
    head, claims = {"alg": "Ed25519", "kid": KEY.public.thumbprint}, TOLD.claims()
    parts = [canonical(head), canonical(claims)]
    which = drawn.choice((0, 1, 1))
    if drawn.random() < 0.5:
        parts[which] = changed_json(parts[which], drawn)
    else:
        parts[which] = canonical(changed_somewhere([head, claims][which], drawn))
    first, middle = (base64url(one) for one in parts)
    last = base64url(KEY.sign(f"{first}.{middle}".encode()))
    return Case(f"{first}.{middle}.{last}".encode(), LISTS)


def a_receipt(drawn: Random) -> Case:
    entry = entry_of(CERTIFICATE, drawn.choice(("0" * 64, "")))
    how = drawn.randrange(4)
    if how == 0:
        entry = changed_json(entry, drawn).decode("utf-8", "replace").encode()
    made = receipt_of(entry, drawn.randrange(1, 9))
    if how == 1:
        made = changed_json(made, drawn)
    elif how > 1:
        found = changed_somewhere(json.loads(made), drawn)
        head = found.get("head")
        if isinstance(head, dict) and has_issuer(head) and how > 2:
            found["head"] = over_bytes(head)
        made = canonical(found)
    return Case(made, (canonical(CERTIFICATE),))


def entry_of(document: JSON, paper: str) -> bytes:
    """As it stands in a record book."""
    issued = {"digest": sha256(canonical(document)).hexdigest()} | (
        {"paper": paper} if paper else {}
    )
    return canonical({"body": {"issued": issued}, "kind": "x"})


def receipt_of(entry: bytes, size: int) -> bytes:
    """Of the last entry of a book of that many."""
    leaves = [
        *(tree.leaf_hash(bytes([number])) for number in range(size - 1)),
        tree.leaf_hash(entry),
    ]
    head = receipts.signed_head(SCHOOL, size, tree.root(leaves), KEY, NOW)
    return receipts.receipt(entry, size - 1, tree.inclusion_proof(leaves, size - 1), head)


def key_text(drawn: Random) -> Case:
    odd = [base58btc(b"\xed\x01" + bytes.fromhex(one)) for one in (*SMALL, *OTHER_FORMS)]
    text = drawn.choice((KEY.public.multikey, "z" + "1" * 90, *odd)).encode()
    if drawn.random() < 0.7:
        text = changed_json(text, drawn)[:3000].decode("utf-8", "replace").encode()
    return Case(text)


# --- papers -------------------------------------------------------------------------------------


@cache
def papers() -> tuple[bytes, ...]:
    """A paper as a school makes it, and the same in other forms, which are none of the school's."""
    content = canonical(CERTIFICATE)
    room = room_for(content)
    with_room = pdf({"credential.json": content, "receipt.json": room})
    entry = entry_of(CERTIFICATE, sha256(with_room).hexdigest())
    whole = filled(with_room, room, receipt_of(entry, 5))
    return whole, *(saved_anew(whole, **how) for how in HOW)


HOW: tuple[dict[str, Any], ...] = (
    {"compress_streams": True},
    {"object_stream_mode": pikepdf.ObjectStreamMode.generate},
    {"linearize": True},
)


def pdf(attached: dict[str, bytes]) -> bytes:
    """A page that shows what the sample says, with files attached."""
    told = ("TI1-2026-0042", "Trapeze instructor, level 1", "Ada Example", "1 March 2028")
    lines = (f"/P <</MCID {at}>> BDC ({one}) Tj 0 -30 Td EMC " for at, one in enumerate(told))
    made = pikepdf.new()
    page = made.add_blank_page()
    font = pikepdf.Dictionary(
        Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica
    )
    page.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=font))
    page.Contents = made.make_stream(f"BT /F 20 Tf 60 700 Td {''.join(lines)}ET".encode())
    for name, content in attached.items():
        made.attachments[name] = content
    out = io.BytesIO()
    made.save(out, compress_streams=False, deterministic_id=True)
    return out.getvalue()


def saved_anew(content: bytes, **how: Any) -> bytes:  # noqa: ANN401 - as pikepdf takes it
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(content)) as found:
        found.save(out, **how)
    return out.getvalue()


@cache
def with_a_bomb() -> bytes:
    """A small paper; of what is attached to it one file grows past all measure."""
    content = canonical(CERTIFICATE)
    grown = pdf({"credential.json": content, "grown.json": bytes(BOMB), "more.json": content})
    return saved_anew(grown, compress_streams=True)


BOMB = 1 << 26


def paper(drawn: Random) -> Case:
    whole = with_a_bomb() if drawn.random() < 0.02 else drawn.choice(papers())
    return Case(changed(whole, PDF_PIECES, drawn), LISTS)


def file(drawn: Random) -> Case:
    """Of whatever kind; no trust file, since the page would believe it from then on."""
    kind = drawn.choice((json_text, certificate, status, a_receipt))
    case = kind(drawn)
    content = case.lists[0] if kind is status else case.content
    if drawn.random() < 0.2:
        odd = (*OTHERS, *[{"includes": 1}] * 9)
        content = canonical({name: drawn.choice(odd) for name in ("kind", "type")})
    return Case(content, LISTS)


def paper_differs(case: Case, by_page: Any) -> str:  # noqa: ANN401 - what the page said
    """Whether it gives another answer than Python to what it found, or a yes that Python does not.

    The page looks for what is attached without the table of contents, so that of a broken file one
    may find what the other does not.
    """
    if not isinstance(by_page, dict):
        return str(by_page)
    said = [
        {QUESTIONS[asked]: one for asked, one in answers.items()} for answers in by_page["said"]
    ]
    inside = [from_base64url(one) for one in by_page["inside"]]
    if not case.content.startswith(b"%PDF"):
        inside = [case.content]
    expected = [_of_certificate(case, one, inside) for one in inside if _is_certificate(one)]
    if said and said != expected:
        return f"Python says {expected} of what the page found, the page {said}"
    whole = _by_command(case)
    if (whole.get("paper") == "yes") != any(one.get("paper") == "yes" for one in said):
        return f"Python says {whole}, the page {said}"
    return ""


NO_CERTIFICATES = [f"standfast-{one}" for one in ("trust", "receipt", "head", "extension")]


def _is_certificate(content: bytes) -> bool:
    """Whatever is nothing else that is known."""
    try:
        found = read_json(content)
    except Unreadable:
        return True
    if not isinstance(found, dict):
        return True
    kind = found.get("type")
    of_a_list = "BitstringStatusListCredential" in (kind if isinstance(kind, list) else [kind])
    return found.get("kind") not in NO_CERTIFICATES and not of_a_list


def _of_certificate(case: Case, content: bytes, inside: Sequence[bytes]) -> Answers:
    """What Python says of a certificate that was found in a paper with those files."""
    answers = dataclasses.replace(case, content=content).by_python()
    if "key" not in answers or inside == [case.content]:
        return answers
    document = read_json(content)
    book = {one: check_receipt(one, document, [TRUSTED]).answer for one in inside if one != content}
    good = [one for one, answer in book.items() if answer == "yes"]
    made = any(paper_of(one) == hash_of(case.content, one) != "" for one in good)
    answers["paper"] = "yes" if made else "not known"
    known = [answer for one, answer in book.items() if not _is_certificate(one)]
    return answers | ({"book": "yes" if good else known[0]} if known else {})


def _by_command(case: Case) -> Answers:
    """What `verify` answers about a paper; nothing when it refuses."""
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        Path(file.name).write_bytes(case.content)
        try:
            found = check(Path(file.name), With([TRUSTED]), NOW).findings
        except StandfastError:
            return {}
    return {one.question: one.answer for one in found}


# --- readers ------------------------------------------------------------------------------------


def read_code(case: Case) -> Answers:
    found, _ = verify_token(case.content.decode(), case.trusted, Lists(case.lists), case.now)
    return {one.question: one.answer for one in found}


def read_receipt(case: Case) -> list[str]:
    answer = check_receipt(case.content, CERTIFICATE, [TRUSTED]).answer
    return [answer, paper_of(case.content) if answer == "yes" else ""]


def read_text(case: Case) -> str:
    return canonical(read_json(case.content)).decode()


def read_trust(case: Case) -> str:
    return trust.read(case.content).by.thumbprint


def read_key(case: Case) -> str:
    return PublicKey.of(case.content.decode()).raw.hex()


READERS = {
    "json": Reader("json", json_text, 300, as_python(read_text)),
    "certificate": Reader("verify", certificate, 80, as_python(Case.by_python)),
    "list": Reader("verify", status, 30, as_python(Case.by_python)),
    "trust": Reader("trust", trust_file, 150, as_python(read_trust)),
    "code": Reader("token", code, 150, as_python(read_code)),
    "receipt": Reader("receipt", a_receipt, 60, as_python(read_receipt)),
    "key": Reader("key", key_text, 200, as_python(read_key)),
    "file": Reader("whole", file, 60, paper_differs),
    "paper": Reader("whole", paper, 25, paper_differs),
}
"""Name to reader."""


def differences(checking: Checking, name: str, cases: Sequence[Case]) -> list[tuple[Case, str]]:
    """The cases of which the page says something else than Python, and what both say."""
    reader = READERS[name]
    said = checking.each(cases, reader.call)
    found = [(case, reader.differs(case, one)) for case, one in zip(cases, said, strict=True)]
    return [(case, how) for case, how in found if how]


def trust_of_the_cases() -> bytes:
    """The trust file of the school whose certificates are drawn."""
    return trust.made(SCHOOL, "Example Flying School", TRUSTED.keys, KEY, NOW).content


def main(folder: Path, seconds: int) -> int:
    """Rounds of all readers for so long; what was read in two ways is put into the folder."""
    drawn, runs, found = Random(), 0, []
    file = folder / "verify.html"
    file.write_bytes(page())
    begun = time.monotonic()
    with sync_playwright() as started, forgetful(started) as browser:
        while time.monotonic() - begun < seconds or not runs:
            with believing(started, browser, file, trust_of_the_cases()) as checking:
                for name, reader in READERS.items():
                    cases = [reader.drawn(drawn) for _ in range(reader.times)]
                    found += [(name, *one) for one in differences(checking, name, cases)]
                    runs += len(cases)
    for number, (name, case, how) in enumerate(found):
        (folder / "bad" / f"{name}-{number}").write_bytes(case.content)
        sys.stdout.write(f"{name}-{number}: {how}\n")
    sys.stderr.write(f"Done {runs} runs\n")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), int(sys.argv[2])))
