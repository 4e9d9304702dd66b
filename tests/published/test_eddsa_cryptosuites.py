"""Proofs against the published ones: every byte of what is signed, and the signature.

Source: W3C Data Integrity EdDSA Cryptosuites 1.0 (Recommendation of 2025-05-15), appendix B; and a
credential that was signed under the contexts of W3C and of Open Badges 3.0.3 themselves.
"""

from __future__ import annotations

import copy
import json
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from standfast.model.canonical import canonical
from standfast.seal import proofs
from standfast.seal.encoding import from_base58btc
from standfast.seal.keys import PublicKey, SecretKey
from standfast.seal.terms import CONTEXTS, CREDENTIALS

EXAMPLES = "https://www.w3.org/ns/credentials/examples/v2"
MADE_UP = {"@context": {"@vocab": "https://www.w3.org/ns/credentials/examples#"}}
"""What stands at that address: every term of the example has a meaning."""
ALUMNI: dict[str, Any] = {
    "@context": [CREDENTIALS, EXAMPLES],
    "id": "urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33",
    "type": ["VerifiableCredential", "AlumniCredential"],
    "name": "Alumni Credential",
    "description": "A minimum viable example of an Alumni Credential.",
    "issuer": "https://vc.example/issuers/5678",
    "validFrom": "2023-01-01T00:00:00Z",
    "credentialSubject": {"id": "did:example:abcdefgh", "alumniOf": "The School of Examples"},
}
KEY = SecretKey.of("z3u2en7t5LR2WtQH5PfFqMqwVHBeXouLzo6haApm8XHqvjxq")
METHOD = f"did:key:{KEY.public.multikey}#{KEY.public.multikey}"
CREATED = datetime.fromisoformat("2023-02-24T23:36:38Z")
JCS_PROOF = (
    "z2HnFSSPPBzR36zdDgK8PbEHeXbR56YF24jwMpt3R1eHXQzJDMWS93FCzpvJpwTWd3GAVFuUfjoJdcnTMuVor51aX"
)
RDFC_PROOF = (
    "z2YwC8z3ap7yx1nZYCg4L3j3ApHsF8kgPdSb5xoS1VR7vPG3F561B52hYnQF9iseabecm3ijx4K1FBTQsCZahKZme"
)


@pytest.fixture
def examples(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(CONTEXTS, EXAMPLES, MADE_UP)


def test_the_proof_over_every_byte() -> None:
    made = proofs.proof(ALUMNI, "eddsa-jcs-2022", KEY, METHOD, CREATED)
    options = {name: value for name, value in made.items() if name != "proofValue"}

    assert sha256(canonical(ALUMNI)).hexdigest() == (
        "59b7cb6251b8991add1ce0bc83107e3db9dbbab5bd2c28f687db1a03abc92f19"
    )
    assert sha256(canonical(options)).hexdigest() == (
        "66ab154f5c2890a140cb8388a22a160454f80575f6eae09e5a097cabe539a1db"
    )
    assert made["proofValue"] == JCS_PROOF
    assert proofs.holds(ALUMNI | {"proof": made}, made, KEY.public)


@pytest.mark.usefixtures("examples")
def test_the_proof_over_the_statements() -> None:
    made = proofs.proof(ALUMNI, "eddsa-rdfc-2022", KEY, METHOD, CREATED)
    options = {name: value for name, value in made.items() if name != "proofValue"}
    told = proofs.statements({"@context": ALUMNI["@context"], **options})

    assert sha256(proofs.statements(ALUMNI)).hexdigest() == (
        "517744132ae165a5349155bef0bb0cf2258fff99dfe1dbd914b938d775a36017"
    )
    assert sha256(told).hexdigest() == (
        "bea7b7acfbad0126b135104024a5f1733e705108f42d59668b05c0c50004c6b0"
    )
    assert made["proofValue"] == RDFC_PROOF
    assert proofs.holds(ALUMNI | {"proof": made}, made, KEY.public)


def test_our_terms_say_of_a_badge_what_the_contexts_of_their_makers_say() -> None:
    """The signature was made under the contexts themselves, and holds over our statements.

    One type in that file, `1EdTechJsonSchemaValidator2019`, has no meaning under the contexts that
    it names; whoever signed it let it be resolved against an address of its library.  That one
    statement is added here as it was signed.  Our own credentials carry no such type.
    """
    signed = json.loads((Path(__file__).parent / "data" / "instructor-signed.json").read_text())
    bare = proofs.without_proof(signed)
    schema = bare["credentialSchema"][0]["id"]
    odd = (
        f"<{schema}> <http://www.w3.org/1999/02/22-rdf-syntax-ns#type>"
        " <http://example.org/base/1EdTechJsonSchemaValidator2019> .\n"
    )
    ours = proofs.statements(bare, strict=False).decode().splitlines(keepends=True)
    told = sha256("".join(sorted([*ours, odd])).encode()).digest()
    (one,) = signed["proof"]
    options = {name: value for name, value in one.items() if name != "proofValue"}
    how = sha256(proofs.statements({"@context": bare["@context"], **options})).digest()
    key = PublicKey.of("z6MkehRgf7yJbgaGfYsdoAsKdBPE3dj2CYhowQdcjqSJgvVd")

    assert len(ours) > 90
    assert key.verifies(from_base58btc(one["proofValue"]), how + told)
    for at in range(0, len(ours), 7):  # any other statement would be noticed
        other = [*ours[:at], *ours[at + 1 :], odd]
        changed = sha256("".join(sorted(other)).encode()).digest()
        assert not key.verifies(from_base58btc(one["proofValue"]), how + changed)


def test_contexts_are_never_fetched() -> None:
    stranger = copy.deepcopy(ALUMNI)
    with pytest.raises(proofs.DataLoss):
        proofs.statements(stranger)


@pytest.mark.parametrize("place", [("note",), ("credentialSubject", "nickname")])
def test_a_term_that_says_nothing_is_refused_before_signing_and_before_trusting(
    place: tuple[str, ...],
) -> None:
    document: dict[str, Any] = {
        **ALUMNI,
        "@context": [CREDENTIALS],
        "type": ["VerifiableCredential"],
    }
    document["credentialSubject"] = {"id": "did:example:abcdefgh"}
    made = proofs.proof(document, "eddsa-rdfc-2022", KEY, METHOD, CREATED)
    changed = copy.deepcopy(document)
    inside = changed
    for step in place[:-1]:
        inside = inside[step]
    inside[place[-1]] = "honours"

    assert proofs.holds(document | {"proof": made}, made, KEY.public)
    assert proofs.statements(changed, strict=False) == proofs.statements(document)
    with pytest.raises(proofs.DataLoss, match=place[-1]):
        proofs.holds(changed | {"proof": made}, made, KEY.public)
    with pytest.raises(proofs.DataLoss, match=place[-1]):
        proofs.proof(changed, "eddsa-rdfc-2022", KEY, METHOD, CREATED)
