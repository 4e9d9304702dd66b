"""Proofs on a document: made, and checked.

Two ways of saying what was signed: `eddsa-jcs-2022` signs every byte (RFC 8785), `eddsa-rdfc-2022`
the statements that the document makes (RDFC-1.0), for readers that expect that.  Under the second
neither the order of lists nor a term without a meaning is signed, so it never stands alone in what
we make, and terms without a meaning are refused.  The proof over every byte is made upon the other
one and covers it too: whoever has checked that one has checked the whole file.

Source: W3C Data Integrity EdDSA Cryptosuites 1.0 (2025); chains of proofs by W3C Verifiable
Credential Data Integrity 1.0 (2025), section 2.1.2.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from functools import lru_cache
from hashlib import sha256
from typing import Any, Literal, TypeAlias

from standfast.model.canonical import canonical
from standfast.seal.encoding import Unreadable, base58btc, from_base58btc
from standfast.seal.keys import PublicKey, SecretKey
from standfast.seal.terms import CONTEXTS

JSON: TypeAlias = dict[str, Any]
Suite = Literal["eddsa-jcs-2022", "eddsa-rdfc-2022"]
SUITES: tuple[Suite, ...] = ("eddsa-jcs-2022", "eddsa-rdfc-2022")
SIGNATURE_BYTES = 64
RUBRICS = 32
"""Of so many it is remembered what their certificates say alike."""


class DataLoss(ValueError):  # noqa: N818 - the standard's word
    """A part of the document says nothing under its contexts, so nothing would sign it."""


def proof(
    document: JSON,
    suite: Suite,
    key: SecretKey,
    method: str,
    created: datetime,
    said: Callable[[JSON], bytes] | None = None,
    **more: str,
) -> JSON:
    """A proof for the document; `method` is the address of the key.

    `said` finds the statements, if not `statements`.  `more` may name the proof itself (`id`), and
    the one of the document's proofs upon which it is made (`previousProof`).

    Raises:
        DataLoss: a term has no meaning.
    """
    options: JSON = {
        **more,
        "type": "DataIntegrityProof",
        "cryptosuite": suite,
        "created": created.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "verificationMethod": method,
        "proofPurpose": "assertionMethod",
    }
    if suite == "eddsa-jcs-2022" and "@context" in document:
        options["@context"] = document["@context"]
    signed = key.sign(hashed(_covered(document, options), options, said))
    return options | {"proofValue": base58btc(signed)}


def holds(document: JSON, one: JSON, key: PublicKey) -> bool:
    """Whether the proof, one of the document's, was made for all of it with that key.

    Raises:
        Unreadable: it is no proof of a kind that is known, or made upon one that is not there.
        DataLoss: a term has no meaning.
    """
    if one.get("type") != "DataIntegrityProof" or one.get("cryptosuite") not in SUITES:
        raise Unreadable("a proof of another kind")
    if one.get("proofPurpose") != "assertionMethod":
        raise Unreadable("a proof for another purpose")
    signature = from_base58btc(str(one.get("proofValue", "")))
    if len(signature) != SIGNATURE_BYTES:
        raise Unreadable(f"a signature has {SIGNATURE_BYTES} bytes")
    options = {name: value for name, value in one.items() if name != "proofValue"}
    return key.verifies(signature, hashed(_covered(document, options), options))


def holds_every_byte(document: JSON, one: JSON, key: PublicKey) -> bool:
    """The same for a file of our own, in which no other way of signing is taken.

    Raises:
        Unreadable: it is another kind of proof.
    """
    if one.get("cryptosuite") != "eddsa-jcs-2022":
        raise Unreadable("signed in another way than over every byte")
    return holds(document, one, key)


def both(document: JSON, key: SecretKey, method: str, created: datetime) -> JSON:
    """The document with a proof over its statements, and upon that one over every byte.

    Raises:
        DataLoss: a term has no meaning.
    """
    name = f"{document['id']}#statements"
    first = proof(document, "eddsa-rdfc-2022", key, method, created, of_our_own, id=name)
    whole = document | {"proof": [first]}
    second = proof(whole, "eddsa-jcs-2022", key, method, created, previousProof=name)
    return document | {"proof": [first, second]}


def to_check(document: JSON) -> Iterator[JSON]:
    """The document's proofs, last to first, without those that a later one over bytes covers."""
    covered: set[str] = set()
    for one in reversed(document["proof"]):
        if one.get("id") in covered:
            continue
        yield one
        if one["cryptosuite"] == "eddsa-jcs-2022":
            covered |= set(_upon(one))


def _upon(options: JSON) -> list[str]:
    """The names of the proofs upon which one is made."""
    told = options.get("previousProof", [])
    return [told] if isinstance(told, str) else told


def _covered(document: JSON, options: JSON) -> JSON:
    """What a proof signs: the document with the proofs upon which it is made, and no other."""
    wanted = _upon(options)
    if not wanted:
        return without_proof(document)
    before = [one for one in document["proof"] if one.get("id") in wanted]
    if sorted(str(one["id"]) for one in before) != sorted(wanted):
        raise Unreadable("made upon a proof that is not there, or there twice")
    return document | {"proof": before}


def without_proof(document: JSON) -> JSON:
    """The document as it was before it was signed."""
    return {name: value for name, value in document.items() if name != "proof"}


def hashed(document: JSON, options: JSON, said: Callable[[JSON], bytes] | None = None) -> bytes:
    """64 bytes that are signed: the hash of how it is signed, then that of the document."""
    if options["cryptosuite"] == "eddsa-jcs-2022":
        begins = options.get("@context")
        if begins is not None and not _begins_with(document.get("@context"), begins):
            raise Unreadable("the proof was made under other contexts")
        parts = (canonical(options), canonical(document | ({"@context": begins} if begins else {})))
    else:
        own = {name: value for name, value in options.items() if name != "@context"}
        context = document.get("@context")
        parts = (statements({"@context": context, **own}), (said or statements)(document))
    return b"".join(sha256(part).digest() for part in parts)


def _begins_with(whole: object, first: object) -> bool:
    if isinstance(whole, list) and isinstance(first, list):
        return whole[: len(first)] == first
    return whole == first


def statements(
    document: JSON, contexts: Mapping[str, JSON] = CONTEXTS, *, strict: bool = True
) -> bytes:
    """What the document says, as sorted N-Quads with blank nodes named by RDFC-1.0.

    Raises:
        DataLoss: when strict, a term that says nothing; always a context that is not known.
    """
    from pyld import jsonld

    lost: set[str] = set()
    settings = {"documentLoader": _only(contexts), "base": None}
    try:
        expanded = jsonld.expand(document, settings, lambda name: lost.add(str(name)))
        lost |= set(_without_a_meaning(expanded))
        if strict and lost:
            raise DataLoss(f"says nothing under its contexts: {', '.join(sorted(lost))}")
        text = jsonld.normalize(
            expanded, {**settings, "algorithm": "URDNA2015", "format": "application/n-quads"}
        )
    except jsonld.JsonLdError as error:
        raise DataLoss(f"cannot be read as statements: {error.type}") from None
    return str(text).encode()


def of_our_own(document: JSON) -> bytes:
    """`statements` of a certificate that was just made, in a third of the time.

    What a rubric's results mean is said alike in each of its certificates and is remembered.  It
    can be told apart: everything in it has a name of its own, and RDFC-1.0 names the others by the
    statements in which they stand.

    Raises:
        DataLoss: a term has no meaning.
    """
    subject = document.get("credentialSubject", {})
    achievement = subject.get("achievement", {})
    meant = achievement.get("resultDescription")
    if not meant:
        return statements(document)
    alike = _remembered(canonical({"@context": document["@context"], "@graph": meant}))
    if any(line.startswith(b"_:") or b"> _:" in line for line in alike):
        return statements(document)
    names = [{"id": one["id"]} for one in meant]
    rest = document | {
        "credentialSubject": subject | {"achievement": achievement | {"resultDescription": names}}
    }
    return b"".join(sorted(alike | set(statements(rest).splitlines(keepends=True))))


@lru_cache(RUBRICS)
def _remembered(document: bytes) -> frozenset[bytes]:
    return frozenset(statements(json.loads(document)).splitlines(keepends=True))


def _without_a_meaning(value: object) -> Iterator[str]:
    """Types and names that are no address: a reader would drop them without a word."""
    if isinstance(value, dict):
        names = [*value.get("@type", ()), value.get("@id")] if "@value" not in value else []
        yield from (name for name in names if isinstance(name, str) and ":" not in name)
        for part in value.values():
            yield from _without_a_meaning(part)
    elif isinstance(value, list):
        for part in value:
            yield from _without_a_meaning(part)


def _only(contexts: Mapping[str, JSON]) -> Callable[[str, object], JSON]:
    """A loader that knows these contexts, and fetches nothing."""

    def load(address: str, _: object) -> JSON:
        from pyld import jsonld

        if address not in contexts:
            raise jsonld.JsonLdError(f"{address} is not known", "jsonld.LoadDocumentError")
        return {
            "contentType": "application/ld+json",
            "contextUrl": None,
            "documentUrl": address,
            "document": contexts[address],
        }

    return load
