"""Heads of the record book outside the school: on a page, and checked by whoever kept one.

No school is needed to check a head, a receipt or a growth file: only the trust files that were
imported, and for a growth file the head that was kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, TypeAlias, TypeVar

from standfast.desk.opening import Desk
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.seal.keys import PublicKey
    from standfast.seal.receipts import Extension, Head, Receipt
    from standfast.seal.trust import TrustFile
    from standfast.seal.verify import Finding

    AnyFile: TypeAlias = Head | Receipt | Extension
    FileT = TypeVar("FileT", Head, Receipt, Extension)

KINDS = {
    "standfast-head": "a head of a record book",
    "standfast-receipt": "a receipt: an entry and its way to a head",
    "standfast-extension": "a growth file: two heads, and the way from one to the other",
}
"""The files that `check` reads, in words."""


def name_of(desk: Desk, signed: bytes) -> str:
    """What the signed head's file is called: by day and entries, so that none takes another's."""
    from standfast.seal.receipts import Head, read

    return f"head-{desk.calendar_day}-{read(signed, Head).size}"


def page(desk: Desk, signed: bytes, file: str) -> bytes:
    """The signed head on one page, PDF; `file` is the name of the file that holds the same.

    Raises:
        StandfastError: it is no signed head.
        PaperError: it cannot be drawn.
    """
    from datetime import datetime

    from standfast.desk.press import printer
    from standfast.paper.view.head import HeadFacts, head_view
    from standfast.seal.encoding import Unreadable
    from standfast.seal.receipts import Head, read, signer

    try:
        head = read(signed, Head)
        key = signer(head)
    except Unreadable as error:
        raise StandfastError(f"{file}: {error}") from None
    facts = HeadFacts(
        head.size,
        head.root,
        datetime.fromisoformat(head.at),
        head.issuer,
        key.thumbprint,
        signed.decode(),
        file,
    )
    return printer(desk).print("head", head_view(facts, desk.school))


def kind_of(content: bytes) -> str | None:
    """Which of `KINDS` the file says that it is; None when it says none of them."""
    from standfast.seal.encoding import Unreadable, read_json

    try:
        document = read_json(content)
    except Unreadable:
        return None
    kind = document.get("kind") if isinstance(document, dict) else None
    return kind if isinstance(kind, str) and kind in KINDS else None


def check(
    content: bytes, trusted: Sequence[TrustFile], kept: bytes | None = None
) -> tuple[Finding, ...]:
    """What can be said of a head, a receipt or a growth file, in the order in which a person asks.

    `kept` is the head that the person who asks has kept.  A growth file shows something to her
    alone: without it `kept` is not known.  Nothing is looked at after a broken shape or signature.
    """
    from standfast.seal.encoding import Unreadable
    from standfast.seal.verify import Finding

    kind = kind_of(content)
    if kind is None:
        return (Finding("shape", "no", "neither a head nor a receipt nor a growth file"),)
    try:
        found = _read(content, kind)
    except Unreadable as error:
        return (Finding("shape", "no", str(error)),)
    shape = Finding("shape", "yes", f"{KINDS[kind]}, and nothing beside it")
    heads = _heads(found)
    try:
        keys = [_signer(one) for one in heads]
    except Unreadable as error:
        return (shape, Finding("signature", "no", str(error)))
    signature = Finding("signature", "yes", "unchanged since it was signed")
    held = tuple(_held(found, heads, kept))
    of_hers = any(one.answer == "yes" for one in held) and len(heads) > 1
    # Of her own head she need not ask who signed it.
    asked = list(zip(heads, keys, strict=True))[1 if of_hers else 0 :]
    return (shape, signature, _key(asked, trusted), *_book(found), *held)


def _read(content: bytes, kind: str) -> AnyFile:
    from standfast.seal.receipts import Extension, Head, Receipt, read

    if kind == "standfast-head":
        return read(content, Head)
    return read(content, Receipt) if kind == "standfast-receipt" else read(content, Extension)


def _heads(found: AnyFile) -> list[Head]:
    """The heads in the file, the earlier first."""
    from standfast.seal.receipts import Extension, Receipt

    if isinstance(found, Extension):
        return [found.first, found.second]
    return [found.head if isinstance(found, Receipt) else found]


def _signer(head: Head) -> PublicKey:
    from standfast.seal.receipts import signer

    return signer(head)


def _key(signed: Sequence[tuple[Head, PublicKey]], trusted: Sequence[TrustFile]) -> Finding:
    """Whether keys that are believed signed these heads: the first doubt, or a yes for all."""
    from standfast.seal.verify import believed

    left = "only a head that was kept shows something"
    found = [believed(head.issuer, key, trusted, left) for head, key in signed]
    return next((one for one in found if one.answer != "yes"), found[-1])


def _book(found: AnyFile) -> Iterator[Finding]:
    """What the file shows of the record book: nothing, when it is a head alone."""
    from standfast.seal.receipts import Extension, Receipt, extended, included
    from standfast.seal.verify import Finding

    if isinstance(found, Receipt):
        at = f"entry {found.index + 1}{_entry(found.entry)} of {told(found.head)}"
        if included(found):
            yield Finding("book", "yes", at)
        else:
            yield Finding("book", "no", f"the entry does not lead to its head: {at}")
    if isinstance(found, Extension):
        if extended(found):
            says = f"nothing of {told(found.first)} was changed until {told(found.second)}"
            yield Finding("book", "yes", says)
        else:
            says = "the second head is not shown to begin with the first: the book was rewritten"
            yield Finding("book", "no", f"{says}, or the file was changed")


def _entry(content: str) -> str:
    """What kind of entry it says that it is, and when it was made; nothing of anybody."""
    import json

    try:
        document = json.loads(content)
    except (ValueError, RecursionError):
        return ""
    names = document if isinstance(document, dict) else {}
    kind, at = (str(names.get(name, "")) for name in ("kind", "at"))
    plain = re.fullmatch(r"[a-z-]{1,40}", kind) and re.match(r"\d{4}-\d\d-\d\d", at)
    return f" ({kind}, {at[:10]})" if plain else ""


def told(head: Head) -> str:
    """The head in words, with its root as on the page."""
    from standfast.paper.view.head import in_lines

    root = " ".join(group for line in in_lines(head.root) for group in line)
    return f"{head.size} entries of {head.at[:10]}, root {root}"


# --- the head that was kept ---------------------------------------------------------------------


def _held(found: AnyFile, heads: Sequence[Head], kept: bytes | None) -> Iterator[Finding]:
    """What the file says to whoever kept that head."""
    from standfast.seal.encoding import Unreadable
    from standfast.seal.receipts import Extension, Head, read
    from standfast.seal.verify import Finding

    if kept is None:
        if isinstance(found, Extension):
            why = "name the head that you kept; else whoever holds the book made both ends"
            yield Finding("kept", "not known", f"{why}. It is of {told(found.first)}")
        return
    try:
        own = read(kept, Head)
        _signer(own)
    except Unreadable as error:
        yield Finding("kept", "no", f"the head that was kept: {error}")
        return
    yield _against(own, heads[0], grows=isinstance(found, Extension))


def _against(own: Head, other: Head, *, grows: bool) -> Finding:
    """Whether the other stands for the same entries as the head that was kept."""
    from standfast.seal.verify import Finding

    if own.issuer != other.issuer:
        return Finding("kept", "no", f"the head that was kept is of {own.issuer}")
    if own.size == other.size:
        if own.root == other.root:
            return Finding("kept", "yes", f"the head that was kept: {told(own)}")
        says = f"the book was rewritten: kept was {told(own)}; and this is {told(other)}"
        return Finding("kept", "no", says)
    if grows:
        says = f"it begins at another head than was kept, which is of {told(own)}"
        return Finding("kept", "no", says)
    says = f"kept was another head, of {told(own)}; ask for a growth file between the two"
    return Finding("kept", "not known", says)
