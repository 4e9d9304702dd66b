"""What stands in the code on paper: the little that a phone can check without a network.

Three parts in base64url: header, claims, Ed25519 signature (as JWS, RFC 7515, with the algorithm of
RFC 9864); it stands after # in an address, which no browser sends to a server.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from standfast.model.canonical import canonical
from standfast.seal.encoding import Unreadable, base64url, from_base64url, read_json
from standfast.seal.keys import PublicKey, SecretKey

CLAIMS = ("num", "nam", "ach", "ver", "end", "idx", "dig", "lst")


@dataclass(frozen=True)
class Told:
    """The claims."""

    number: str
    """Of the certificate."""
    name: str
    """Whose it is, as printed."""
    achievement: str
    version: str
    last_day: date
    """Inclusive."""
    index: int
    """Her place in the status list."""
    digest: str
    """SHA-256 of the credential in canonical form, base64url."""
    status_list: str
    """Which list: the last part of its address."""

    def claims(self) -> dict[str, Any]:
        """As they are signed."""
        return {
            "num": self.number,
            "nam": self.name,
            "ach": self.achievement,
            "ver": self.version,
            "end": self.last_day.isoformat(),
            "idx": self.index,
            "dig": self.digest,
            "lst": self.status_list,
        }


def token(told: Told, key: SecretKey) -> str:
    """The token, which names the key by its thumbprint."""
    head = base64url(canonical({"alg": "Ed25519", "kid": key.public.thumbprint}))
    body = base64url(canonical(told.claims()))
    return f"{head}.{body}.{base64url(key.sign(f'{head}.{body}'.encode()))}"


def key_named_in(text: str) -> str:
    """The thumbprint of the key that is said to have signed.

    Raises:
        Unreadable: it is no token.
    """
    return str(_header(text)["kid"])


def _header(text: str) -> dict[str, Any]:
    parts = text.split(".")
    if len(parts) != 3:  # noqa: PLR2004 - header, claims, signature
        raise Unreadable("a token has three parts")
    head = read_json(from_base64url(parts[0]))
    if not isinstance(head, dict) or set(head) != {"alg", "kid"}:
        raise Unreadable("a header with other names than alg and kid")
    if head["alg"] != "Ed25519" or not isinstance(head["kid"], str):
        raise Unreadable("signed in another way than Ed25519")
    return head


def read_token(text: str, key: PublicKey) -> Told:
    """What the token says, which was signed with that key.

    Raises:
        Unreadable: it is no token, signed in another way, with another key, or changed.
    """
    _header(text)
    head, body, signature = text.split(".")
    if not key.verifies(from_base64url(signature), f"{head}.{body}".encode()):
        raise Unreadable("the signature does not hold")
    claims = read_json(from_base64url(body))
    if not isinstance(claims, dict) or set(claims) != set(CLAIMS):
        raise Unreadable("other claims than a certificate has")
    index = claims.pop("idx")
    if not isinstance(index, int) or isinstance(index, bool) or index < 0:
        raise Unreadable("no place in a status list")
    if not all(isinstance(value, str) for value in claims.values()):
        raise Unreadable("a claim that is no text")
    try:
        last = date.fromisoformat(claims["end"])
    except ValueError:
        raise Unreadable("no last day") from None
    if last.isoformat() != claims["end"]:
        raise Unreadable("a last day in a form of its own")
    return Told(
        claims["num"],
        claims["nam"],
        claims["ach"],
        claims["ver"],
        last,
        index,
        claims["dig"],
        claims["lst"],
    )
