"""One byte string for one value: RFC 8785, and the SHA-256 that names it.

Content hashes, journal leaves and signatures all start here, so that the same value has the
same name on every machine and in every year.
"""

from __future__ import annotations

import hashlib
import unicodedata
from typing import Any

import rfc8785

from standfast.model.base import Noun


def canonical(value: Any) -> bytes:  # noqa: ANN401 - any JSON value
    """The canonical JSON of a JSON value, as UTF-8.

    Source: RFC 8785 (Rundgren, Jordan & Erdtman, 2020).  Names are brought to Unicode NFC
    before they get here (`plain`); RFC 8785 itself does not.

    Raises:
        rfc8785.CanonicalizationError: NaN, infinity, an integer past 2**53 - 1, a lone
            surrogate.
    """
    return rfc8785.dumps(value)


def plain(noun: Noun) -> dict[str, Any]:
    """The noun as JSON values: dates as text, values at their default left out, text in NFC."""
    dumped: dict[str, Any] = _nfc(noun.model_dump(mode="json", exclude_defaults=True))
    return dumped


def content_hash(noun: Noun) -> str:
    """The SHA-256 of the noun's canonical JSON, in hexadecimal."""
    return hashlib.sha256(canonical(plain(noun))).hexdigest()


def _nfc(value: Any) -> Any:  # noqa: ANN401
    if isinstance(value, str):
        return unicodedata.normalize("NFC", value)
    if isinstance(value, dict):
        return {_nfc(key): _nfc(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_nfc(part) for part in value]
    return value
