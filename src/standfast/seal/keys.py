"""Ed25519 keys: as text, in a file under a passphrase, and what they sign.

Source: RFC 8032 (Josefsson & Liusvaara, 2017); texts of keys by W3C Controlled Identifiers 1.0
(Multikey); the file is PKCS#8 (RFC 5958) under scrypt (RFC 7914) and AES-256, passphrases in NFC
as RFC 8265 (2017), section 4.2, has them.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from hashlib import sha256

from standfast.model.canonical import canonical
from standfast.problems import StandfastError
from standfast.seal.encoding import Unreadable, base58btc, base64url, from_base58btc

PUBLIC, SECRET = b"\xed\x01", b"\x80\x26"
"""Multicodec prefixes of an Ed25519 key, its public and its secret half."""
LENGTH = 32


@dataclass(frozen=True)
class PublicKey:
    """The half that everybody may know."""

    raw: bytes
    """32 bytes."""

    def __post_init__(self) -> None:
        fault = _fault_in_point(self.raw)
        if fault:
            raise Unreadable(fault)

    @classmethod
    def of(cls, multikey: str) -> PublicKey:
        """The key of that text.

        Raises:
            Unreadable: it is no Ed25519 public key, or one with which anything could be signed.
        """
        return cls(_decoded(multikey, PUBLIC))

    @cached_property
    def multikey(self) -> str:
        """As text, beginning with z6Mk."""
        return base58btc(PUBLIC + self.raw)

    @cached_property
    def thumbprint(self) -> str:
        """43 letters to compare over the phone or on paper; RFC 7638 with RFC 8037."""
        jwk = {"crv": "Ed25519", "kty": "OKP", "x": base64url(self.raw)}
        return base64url(sha256(canonical(jwk)).digest())

    def verifies(self, signature: bytes, message: bytes) -> bool:
        """Whether the other half signed the message."""
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

        try:
            Ed25519PublicKey.from_public_bytes(self.raw).verify(signature, message)
        except InvalidSignature:
            return False
        return True


@dataclass(frozen=True)
class SecretKey:
    """The half that signs; never shown, never in a database."""

    seed: bytes

    def __repr__(self) -> str:
        return "SecretKey(...)"

    def __post_init__(self) -> None:
        if len(self.seed) != LENGTH:
            raise Unreadable(f"a secret key has {LENGTH} bytes")

    @classmethod
    def of(cls, multikey: str) -> SecretKey:
        """The key of the text on the paper copy.

        Raises:
            Unreadable: it is no Ed25519 secret key.
        """
        return cls(_decoded(multikey, SECRET))

    @cached_property
    def multikey(self) -> str:
        """As text, for the paper copy: whoever reads it can sign."""
        return base58btc(SECRET + self.seed)

    @cached_property
    def public(self) -> PublicKey:
        """The other half."""
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
        from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

        other = Ed25519PrivateKey.from_private_bytes(self.seed).public_key()
        return PublicKey(other.public_bytes(Encoding.Raw, PublicFormat.Raw))

    def sign(self, message: bytes) -> bytes:
        """64 bytes; the same for the same message."""
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        return Ed25519PrivateKey.from_private_bytes(self.seed).sign(message)


def _decoded(multikey: str, prefix: bytes) -> bytes:
    content = from_base58btc(multikey)
    if content[:2] != prefix or len(content) != len(prefix) + LENGTH:
        raise Unreadable("no Ed25519 key of this kind")
    return content[2:]


# --- in a file --------------------------------------------------------------------------------


def to_pem(key: SecretKey, passphrase: str, random: Callable[[int], bytes]) -> bytes:
    """The key as a file that only the passphrase opens; see `pkcs8`.

    `random` gives so many random bytes.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    from standfast.seal.pkcs8 import locked

    whole = Ed25519PrivateKey.from_private_bytes(key.seed).private_bytes(
        Encoding.DER, PrivateFormat.PKCS8, NoEncryption()
    )
    return locked(whole, _typed(passphrase), random(16), random(16))


def from_pem(content: bytes, passphrase: str) -> SecretKey:
    """The key in a file.

    Raises:
        StandfastError: another passphrase.
        Unreadable: the file holds no Ed25519 key under a passphrase.
    """
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    if b"ENCRYPTED PRIVATE KEY" not in content:
        raise Unreadable("no key under a passphrase")
    try:
        key = load_pem_private_key(content, _typed(passphrase).encode())
    except (ValueError, TypeError):
        raise StandfastError(
            "this passphrase does not open the key; mind capital letters"
        ) from None
    except UnsupportedAlgorithm as error:
        raise Unreadable(f"a key under a way of locking that is not known: {error}") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise Unreadable("no Ed25519 key")
    return SecretKey(key.private_bytes_raw())


def _typed(passphrase: str) -> str:
    """In the form in which keyboards give letters (NFC): some machines put marks on them after."""
    return unicodedata.normalize("NFC", passphrase)


# --- points of the curve --------------------------------------------------------------------

P = 2**255 - 19
D = -121665 * pow(121666, P - 2, P) % P
SQUARE_ROOT_OF_MINUS_ONE = pow(2, (P - 1) // 4, P)


@lru_cache(maxsize=4096)
def _fault_in_point(raw: bytes) -> str:
    """Why these bytes must not stand for a point of the curve; empty when they may.

    Refused are points of small order, under which one signature is good for many messages, and
    second ways of writing a point.

    Source: RFC 8032, 5.1.3; Chalkias, Garillot & Nikolaenko (2020).
    """
    if len(raw) != LENGTH:
        return f"a point has {LENGTH} bytes"
    number = int.from_bytes(raw, "little")
    sign, y = number >> 255, number & ((1 << 255) - 1)
    if y >= P:
        return "a point in a form of its own"
    x = _x_of(y)
    if x is None:
        return "no point of the curve"
    if x == 0 and sign:
        return "a point in a form of its own"
    for _ in range(3):  # eight times the point
        x, y = _doubled(x, y)
    return "a point of small order" if (x, y) == (0, 1) else ""


def _x_of(y: int) -> int | None:
    """One of the two x of that y."""
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * SQUARE_ROOT_OF_MINUS_ONE % P
    return None if (x * x - square) % P else x


def _doubled(x: int, y: int) -> tuple[int, int]:
    """Twice a point, by the law of addition of the twisted Edwards curve; a = -1."""
    product = D * x * x * y * y % P
    return (
        2 * x * y * pow(1 + product, P - 2, P) % P,
        (y * y + x * x) * pow(1 - product, P - 2, P) % P,
    )
