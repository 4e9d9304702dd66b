"""One byte string for one value: RFC 8785, and the SHA-256 that names it.

Content hashes, journal leaves and signatures all start here, so that the same value has the
same name on every machine and in every year.
"""

from __future__ import annotations

import hashlib
import json
import re
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
    return _quickly(value) or rfc8785.dumps(value)


def plain(noun: Noun) -> dict[str, Any]:
    """The noun as JSON values: dates as text, values at their default left out, text in NFC.

    A number without a fraction is whole, as RFC 8785 writes it: 1.0 and 1 are one value.
    """
    dumped: dict[str, Any] = _one_way(noun.model_dump(mode="json", exclude_defaults=True))
    return dumped


_AS_IN_C = json.JSONEncoder(
    ensure_ascii=False, check_circular=False, allow_nan=False, sort_keys=True, separators=(",", ":")
)
_NUMBER_WRITTEN_OTHERWISE = re.compile(r"(?:^|[:,\[])-?\d(?:[\d.]*(?:\.0\b|e)|\d{15})")


def _quickly(value: Any) -> bytes | None:  # noqa: ANN401
    """The canonical JSON by the encoder in C, or None when it could differ from RFC 8785.

    It differs in numbers with an exponent, a fraction of zero or 16 digits, and in the order of
    names past U+FFFF, which RFC 8785 sorts by UTF-16 units.
    """
    try:
        text = _AS_IN_C.encode(value)
        utf8 = text.encode()
    except (TypeError, ValueError):
        return None
    past_ffff = not text.isascii() and max(text) > "\uffff"
    return None if past_ffff or _NUMBER_WRITTEN_OTHERWISE.search(text) else utf8


def content_hash(noun: Noun) -> str:
    """The SHA-256 of the noun's canonical JSON, in hexadecimal."""
    return hashlib.sha256(canonical(plain(noun))).hexdigest()


def _one_way(value: Any) -> Any:  # noqa: ANN401
    """The value in the one way we write it, where JSON and Unicode leave several."""
    if isinstance(value, str):
        return value if value.isascii() else unicodedata.normalize("NFC", value)
    if isinstance(value, dict):
        return {_one_way(key): _one_way(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_one_way(part) for part in value]
    if isinstance(value, float) and value.is_integer() and abs(value) <= _LARGEST_WHOLE:
        return int(value)
    return value


_LARGEST_WHOLE = 2**53 - 1  # RFC 7493, section 2.2
