"""Bytes as text: multibase, base64url, and JSON that can be read in one way only."""

from __future__ import annotations

import base64
import binascii
import json
import re
from typing import Any

MOST_BYTES = 1 << 20
DEEPEST = 32
LARGEST = 2**53 - 1
"""Beyond it two readers may see two numbers (RFC 7493, I-JSON)."""


class Unreadable(ValueError):  # noqa: N818 - names what it is
    """Bytes that are not what they should be; the text says why."""


def base58btc(content: bytes) -> str:
    """Multibase with the prefix z.

    Source: W3C Controlled Identifiers 1.0, section 2.4; base58 of the Bitcoin alphabet.
    """
    import base58

    return "z" + base58.b58encode(content).decode()


def from_base58btc(text: str) -> bytes:
    """What `base58btc` was given.

    Raises:
        Unreadable: another prefix, or a letter that base58 has not.
    """
    import base58

    if not text.startswith("z") or len(text) > MOST_BYTES:
        raise Unreadable("no base58btc: it begins with z")
    if text[-1].isspace():  # the library passes over it
        raise Unreadable("a letter that base58 does not have")
    try:
        return bytes(base58.b58decode(text[1:]))
    except ValueError:
        raise Unreadable("a letter that base58 does not have") from None


def base64url(content: bytes) -> str:
    """Without padding; RFC 4648, section 5."""
    return base64.urlsafe_b64encode(content).decode().rstrip("=")


def from_base64url(text: str) -> bytes:
    """What `base64url` was given, in the one form that it gives.

    Raises:
        Unreadable: padding, another letter, or bits that say nothing.
    """
    try:
        content = base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (binascii.Error, ValueError):
        raise Unreadable("no base64url") from None
    if base64url(content) != text:
        raise Unreadable("base64url in a form of its own")
    return content


def read_json(content: bytes, most: int = MOST_BYTES) -> Any:  # noqa: ANN401 - any JSON value
    """A JSON value of at most so many bytes that every reader understands alike.

    Source: RFC 7493 (Bray, 2015), I-JSON.

    Raises:
        Unreadable: not UTF-8, a name twice in one object, a number that is not whole or too
            large, nested too deep, too long.
    """
    if len(content) > most:
        raise Unreadable(f"more than {most} bytes")
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        raise Unreadable("not UTF-8") from None
    try:
        found = json.loads(
            text,
            object_pairs_hook=_once,
            parse_int=_whole,
            parse_float=_no_fraction,
            parse_constant=_no_fraction,
        )
    except json.JSONDecodeError as error:
        raise Unreadable(f"no JSON: {error.msg}, line {error.lineno}") from None
    except RecursionError:
        raise Unreadable(f"nested deeper than {DEEPEST} levels") from None
    if _deeper_than(DEEPEST, found):
        raise Unreadable(f"nested deeper than {DEEPEST} levels")
    if _HALF_LETTER.search(text):
        _no_half_letters(found)
    return found


_HALF_LETTER = re.compile(r"\\u[dD][89a-fA-F]")
"""Only so can half a letter come into text that is UTF-8; but two halves make a whole."""


def _deeper_than(levels: int, value: Any) -> bool:  # noqa: ANN401 - any JSON value
    """Whether objects and lists stand in each other in more levels than that."""
    whole = [value] if isinstance(value, (dict, list)) else []
    for _ in range(levels):
        parts = (one.values() if isinstance(one, dict) else one for one in whole)
        whole = [part for some in parts for part in some if isinstance(part, (dict, list))]
    return bool(whole)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise Unreadable("a name stands twice in one object")
    return found


def _whole(text: str) -> int:
    if len(text) > len(str(LARGEST)) + 1 or abs(int(text)) > LARGEST:
        raise Unreadable("a number that is too large")
    return int(text)


def _no_fraction(text: str) -> None:
    raise Unreadable(f"{text[:20]}: only whole numbers stand here")


def _no_half_letters(value: Any) -> None:  # noqa: ANN401 - any JSON value
    if isinstance(value, str) and any("\ud800" <= letter <= "\udfff" for letter in value):
        raise Unreadable("half a letter (a lone surrogate)")
    if isinstance(value, dict):
        for name, part in value.items():
            _no_half_letters(name)
            _no_half_letters(part)
    elif isinstance(value, list):
        for part in value:
            _no_half_letters(part)
