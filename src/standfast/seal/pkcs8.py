"""A private key in a file under a passphrase: PKCS#8 with PBES2, scrypt and AES-256-CBC.

`cryptography` reads this, and OpenSSL does; it writes only PBKDF2 with 2,048 rounds, which a
graphics card tries in no time.

Source: RFC 5958 (PKCS#8), RFC 8018 (PBES2), RFC 7914 section 7 (scrypt), NIST AES object
identifiers.
"""

from __future__ import annotations

from typing import Any, ClassVar

from asn1crypto import core, pem
from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from cryptography.hazmat.primitives.padding import PKCS7

PBES2, SCRYPT = "1.2.840.113549.1.5.13", "1.3.6.1.4.1.11591.4.11"
AES256_CBC = "2.16.840.1.101.3.4.1.42"

COST, BLOCK, PARALLEL = 1 << 14, 8, 5
"""scrypt: what OpenSSL 3.0 reads without being asked to allow more memory; about half a second."""


# The library has no types, and takes its fields as lists that it changes.


class _Algorithm(core.Sequence):  # type: ignore[misc]
    _fields: ClassVar[list[tuple[str, Any]]] = [
        ("algorithm", core.ObjectIdentifier),
        ("parameters", core.Any),
    ]


class _Scrypt(core.Sequence):  # type: ignore[misc]
    _fields: ClassVar[list[tuple[str, Any]]] = [
        ("salt", core.OctetString),
        ("cost", core.Integer),
        ("block", core.Integer),
        ("parallel", core.Integer),
    ]


class _Pbes2(core.Sequence):  # type: ignore[misc]
    _fields: ClassVar[list[tuple[str, Any]]] = [("key", _Algorithm), ("cipher", _Algorithm)]


class _Locked(core.Sequence):  # type: ignore[misc]
    _fields: ClassVar[list[tuple[str, Any]]] = [
        ("algorithm", _Algorithm),
        ("content", core.OctetString),
    ]


def locked(key: bytes, passphrase: str, salt: bytes, first: bytes) -> bytes:
    """The key, PKCS#8 in DER, as PEM that only the passphrase opens.

    `salt` and `first`, the block before the first, are 16 random bytes each.
    """
    stretched = Scrypt(salt=salt, length=32, n=COST, r=BLOCK, p=PARALLEL).derive(
        passphrase.encode()
    )
    padder = PKCS7(128).padder()
    padded = padder.update(key) + padder.finalize()
    aes = Cipher(algorithms.AES(stretched), modes.CBC(first)).encryptor()
    how = _Pbes2(
        {
            "key": _algorithm(
                SCRYPT,
                _Scrypt({"salt": salt, "cost": COST, "block": BLOCK, "parallel": PARALLEL}),
            ),
            "cipher": _algorithm(AES256_CBC, core.OctetString(first)),
        }
    )
    content = aes.update(padded) + aes.finalize()
    whole = _Locked({"algorithm": _algorithm(PBES2, how), "content": content})
    written: bytes = pem.armor("ENCRYPTED PRIVATE KEY", whole.dump())
    return written


def _algorithm(name: str, parameters: core.Asn1Value) -> _Algorithm:
    return _Algorithm({"algorithm": name, "parameters": core.Any(parameters)})
