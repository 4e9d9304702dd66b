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
from standfast.seal.encoding import Unreadable, from_base58btc
from standfast.seal.keys import PublicKey, SecretKey
from standfast.seal.shapes import BadgeCredential, StatusListCredential
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


CHAIN: list[dict[str, Any]] = [
    {
        "type": "DataIntegrityProof",
        "id": "urn:uuid:26329423-bec9-4b2e-88cb-a7c7d9dc4544",
        "cryptosuite": "eddsa-rdfc-2022",
        "created": "2023-02-24T23:36:38Z",
        "verificationMethod": "https://vc.example/issuers/56781"
        "#z6MktgKTsu1QhX6QPbyqG6geXdw6FQCZBPq7uQpieWbiQiG7",
        "proofPurpose": "assertionMethod",
        "proofValue": "z5KTX5yikM4eUukZW9qh66LGT3KZEUCACGpWcT2t4Yd54NMoFRchGmH4778omyNFAD3weSt6sNk5"
        "fuaMQmhhzNmEC",
    },
    {
        "type": "DataIntegrityProof",
        "id": "urn:uuid:8cc9022b-6b14-4cf3-8571-74972c5feb54",
        "cryptosuite": "eddsa-rdfc-2022",
        "created": "2023-02-24T23:36:38Z",
        "verificationMethod": "https://vc.example/issuers/56782"
        "#z6MkhWqdDBPojHA7cprTGTt5yHv5yUi1B8cnXn8ReLumkw6E",
        "proofPurpose": "assertionMethod",
        "proofValue": "z5KXNyXDcm822dHS37tmS6Xc7FFNo8c73AfeqmfHoywPxnXWNjWKYK3VQzt3CMUoK9uAqsboVHKJ"
        "XxuYwbdnfxZeA",
    },
    {
        "type": "DataIntegrityProof",
        "id": "urn:uuid:d94f792a-c546-4d06-b38a-da070ab56c23",
        "cryptosuite": "eddsa-rdfc-2022",
        "created": "2023-02-26T22:06:38Z",
        "verificationMethod": "https://vc.example/issuers/56783"
        "#z6MkmEq87wkHCYnWnNZkigeDMGTN7oUw1upkhzd77KuXERS1",
        "proofPurpose": "assertionMethod",
        "previousProof": [
            "urn:uuid:26329423-bec9-4b2e-88cb-a7c7d9dc4544",
            "urn:uuid:8cc9022b-6b14-4cf3-8571-74972c5feb54",
        ],
        "proofValue": "z2hcFbMaj3BJufikuLZQ36gAXVT9J3ZiwB9rqN3j7VdqyT1GaQPbMTaF1Q2gn7h75ZcJ6JpV9pvN"
        "oDumvcjtmSRAV",
    },
]
"""The third was made upon the two before it.

Source: W3C Data Integrity EdDSA Cryptosuites 1.0, appendix B, proof sets and chains, with its keys.
"""


@pytest.mark.usefixtures("examples")
@pytest.mark.parametrize("which", [0, 1, 2])
def test_a_proof_made_upon_others(which: int) -> None:
    one = CHAIN[which]
    key = PublicKey.of(one["verificationMethod"].rpartition("#")[2])

    assert proofs.holds(ALUMNI | {"proof": CHAIN}, one, key)


@pytest.mark.usefixtures("examples")
def test_a_proof_made_upon_others_covers_them() -> None:
    last, key = CHAIN[2], PublicKey.of(CHAIN[2]["verificationMethod"].rpartition("#")[2])
    other = CHAIN[1] | {"created": "2023-02-24T23:36:39Z"}

    assert not proofs.holds(ALUMNI | {"proof": [CHAIN[0], other, last]}, last, key)
    for gone in ([CHAIN[0], last], [CHAIN[0], CHAIN[1], CHAIN[1], last]):
        with pytest.raises(Unreadable, match="upon a proof"):
            proofs.holds(ALUMNI | {"proof": gone}, last, key)


@pytest.mark.usefixtures("examples")
def test_both_proofs_of_what_we_sign_hold_and_the_last_covers_the_first() -> None:
    made = proofs.both(ALUMNI, KEY, METHOD, CREATED)
    statements, whole = made["proof"]

    assert [one["cryptosuite"] for one in made["proof"]] == ["eddsa-rdfc-2022", "eddsa-jcs-2022"]
    assert proofs.holds(made, statements, KEY.public)
    assert proofs.holds(made, whole, KEY.public)
    assert list(proofs.to_check(made)) == [whole]

    changed = made | {"proof": [statements | {"proofValue": RDFC_PROOF}, whole]}
    assert not proofs.holds(changed, whole, KEY.public)


@pytest.mark.parametrize(
    ("suites", "checked"),
    [
        (("eddsa-jcs-2022", "eddsa-jcs-2022"), [1]),
        (("eddsa-jcs-2022", "eddsa-rdfc-2022"), [1, 0]),  # over statements: not every byte
    ],
)
def test_proofs_that_name_each_other_are_not_all_passed_over(
    suites: tuple[str, str], checked: list[int]
) -> None:
    one = {"id": "urn:a:1", "previousProof": "urn:a:2", "cryptosuite": suites[0]}
    two = {"id": "urn:a:2", "previousProof": "urn:a:1", "cryptosuite": suites[1]}

    assert list(proofs.to_check({"proof": [one, two]})) == [[one, two][at] for at in checked]


def test_every_name_that_may_stand_in_a_credential_has_a_meaning() -> None:
    """So that a closed shape refuses what the statements would drop without a word."""
    known = set(CONTEXTS[CREDENTIALS]["@context"]) | {"@context"}
    named: set[str] = set()
    for kind in (BadgeCredential, StatusListCredential):
        shape = kind.model_json_schema()
        for one in (shape, *shape["$defs"].values()):
            named |= set(one.get("properties", ()))

    assert len(named) > 50
    # What is said once for the whole, inside of a type that has it.
    assert named - known == {"resultDescription"}


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
