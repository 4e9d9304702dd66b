"""Whose keys are believed, and since when: a small signed file that is imported once by hand.

A key that comes only with a certificate proves nothing about who made it.  So whoever checks keeps
a trust file for each school: the first is taken after its fingerprint was compared with the one
printed on paper or told by the school; a later one, when a key signed it that is believed already.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from standfast.model.canonical import canonical
from standfast.problems import Refused
from standfast.seal import proofs
from standfast.seal.encoding import Unreadable, read_json
from standfast.seal.keys import PublicKey, SecretKey
from standfast.seal.shapes import Address, Instant, Proof, Words

KIND = "standfast-trust"


class ListedKey(BaseModel):
    """A key of the school's."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    key: Annotated[str, StringConstraints(pattern=r"^z6Mk[1-9A-HJ-NP-Za-km-z]{44}$")]
    since: Instant
    revoked: Instant | None = None
    """From then on nothing that it signed is believed for its signature alone."""
    standby: bool = False
    """Kept in a safe, and signs nothing yet."""


class TrustFile(BaseModel):
    """A school and its keys, as the school says on a day."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    kind: str
    issuer: Address
    name: Words
    made: Instant
    keys: Annotated[tuple[ListedKey, ...], Field(min_length=1)]
    proof: tuple[Proof] | None = None

    def document(self) -> dict[str, Any]:
        """As it is written, without the proof."""
        told = self.model_dump(mode="json", exclude={"proof"}, exclude_none=True)
        return dict(told)

    def find(self, multikey: str) -> ListedKey | None:
        """The key of that text."""
        return next((one for one in self.keys if one.key == multikey), None)


@dataclass(frozen=True)
class Signed:
    """A trust file that is signed, and by which of its keys."""

    file: TrustFile
    by: PublicKey
    content: bytes


def made(
    issuer: str, name: str, keys: tuple[ListedKey, ...], key: SecretKey, now: datetime
) -> Signed:
    """A trust file, signed with one of its keys."""
    when = now.strftime("%Y-%m-%dT%H:%M:%SZ")
    file = TrustFile(kind=KIND, issuer=issuer, name=name, made=when, keys=keys)
    document = file.document()
    method = f"{issuer}#{key.public.multikey}"
    one = proofs.proof(document, "eddsa-jcs-2022", key, method, now)
    return read(canonical(document | {"proof": [one]}))


def read(content: bytes) -> Signed:
    """A trust file whose signature holds with one of its own keys.

    Whether to believe it is another question.

    Raises:
        Unreadable: it is none, or its signature does not hold.
    """
    document = read_json(content)
    try:
        file = TrustFile.model_validate_json(canonical(document), strict=True)
    except ValidationError as error:
        raise Unreadable(f"no trust file: {error.errors()[0]['msg'].lower()}") from None
    if file.kind != KIND or file.proof is None:
        raise Unreadable("no trust file: it is not signed")
    issuer, _, multikey = file.proof[0].verificationMethod.partition("#")
    listed = file.find(multikey)
    if issuer != file.issuer or listed is None or listed.revoked is not None:
        raise Unreadable("signed with a key that it does not list, or that it lists as revoked")
    key = PublicKey.of(multikey)
    if not proofs.holds_every_byte(document, document["proof"][0], key):
        raise Unreadable("its signature does not hold: it was changed")
    return Signed(file, key, content)


def succeeds(known: Signed | None, offered: Signed, fingerprint: str | None) -> None:
    """Returns when the offered file may be believed.

    The first needs the fingerprint of the key that signed it, compared by a person; a later one
    must be signed by a key that the known one lists.  No fingerprint brings back a key that was
    revoked, nor an older file: the fingerprint of a stolen key stands on papers for years.

    Raises:
        Refused: why not.
    """
    listed = None
    if known is not None and known.file.issuer == offered.file.issuer:
        listed = known.file.find(offered.by.multikey)
        _not_gone_back(known, offered, listed)
    if fingerprint == offered.by.thumbprint:
        return
    if fingerprint is not None:
        raise Refused(
            f"not signed with the key {fingerprint}, but with {offered.by.thumbprint}",
            ["do not copy this one: ask the school which it is, in another way than it came"],
        )
    if known is None or known.file.issuer != offered.file.issuer:
        raise Refused(
            "this school is not known yet",
            ["name the fingerprint that the school printed or told: --fingerprint"],
        )
    if listed is None:
        raise Refused(
            "signed with a key that the known file does not list",
            ["ask the school; where it lost all its keys, name the fingerprint that it tells"],
        )


def _not_gone_back(known: Signed, offered: Signed, listed: ListedKey | None) -> None:
    if listed is not None and listed.revoked is not None:
        raise Refused(
            f"signed with a key that the school revoked on {listed.revoked[:10]}",
            ["whoever has that key may have made it; ask the school for its newest trust.json"],
        )
    if datetime.fromisoformat(offered.file.made) < datetime.fromisoformat(known.file.made):
        raise Refused(
            f"older than what is known, which was made on {known.file.made}",
            ["ask the school for its newest trust.json"],
        )
