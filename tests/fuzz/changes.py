"""Good bytes made bad, in the same way each time: by a number that is drawn."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from random import Random

Change = Callable[[bytearray, Random], None]

VALUES = (
    *(b"9007199254740991", b"9007199254740992", b"-0", b"-9007199254740991", b"9" * 400),
    *(b"1.0", b"1e400", b"01", b"-", b"NaN", b"null", b"true", b"[]", b"{}", b'""', b'{"":0}'),
    *(b'"\\ud800"', b'"\\udc00\\ud800"', b'"\\ud83c\\udfaa"', b'"\\u0000"', b'"\\x41"', b'"\\/"'),
    *(b'"\xed\xa0\x80"', b'"\xc0\xaf"', b'"\xef\xbb\xbf"', b'"\x00"', b'"\x7f\xe2\x80\xa8"'),
    *(b"[" * 20 + b"]" * 20, b"[" * 40 + b"]" * 40, b'{"a":' * 40, b'"' + b"x" * 70_000 + b'"'),
)
"""What may stand for a value in JSON, or nearly."""
JSON_PIECES = (
    *(*VALUES, b'"__proto__":{},', b'"constructor":1,', b"[" * 200_000, b" " * (1 << 20), b"\xff"),
    *(b" ", b"\n", b"\x0c", b"\xc2\xa0", b"\\", b'"', b",", b":", b"{", b"}", b"[", b"]"),
)
PDF_PIECES = (
    *(
        b"stream\n",
        b"stream\r\n",
        b"endstream\n",
        b"endobj\n",
        b"1 0 obj\n",
        b"9999 0 obj <<",
        b">>",
    ),
    *(
        b"/Type /EmbeddedFile",
        b"/EmbeddedFile",
        b"/Filter /FlateDecode",
        b"/Filter [",
        b"/Filter /X",
    ),
    *(
        b"/Length 7",
        b"/Length 1 0 R",
        b"/Length 99999999999999999999",
        b"/Length -1",
        b"/Length" * 300,
    ),
    *(
        b"/Encrypt 5 0 R",
        b"xref\n0 1\n",
        b"trailer <<",
        b"startxref\n0\n",
        b"%%EOF\n",
        b"%PDF-1.7\n",
    ),
    *(
        b"\x00" * 3000,
        b" " * 3000,
        b"stream\n" * 20_000,
        b"1 0 obj <</Type/EmbeddedFile>>stream\n" * 30,
    ),
    *(b" 5" * 20_000, b"(", b"<", b"[", b"% \n", b"/Filter" + b" " * 2000),
)


def changed(content: bytes, pieces: Sequence[bytes], drawn: Random) -> bytes:
    """The same with one to three changes; `pieces` are such as a parser may trip over."""
    found = bytearray(content)
    for _ in range(drawn.choice((1, 1, 2, 3))):
        how = drawn.randrange(len(_CHANGES) + 2)
        if how < len(_CHANGES):
            _CHANGES[how](found, drawn)
        else:
            at = drawn.randrange(len(found) + 1)
            found[at : at + drawn.choice((0, 0, 1, 8))] = drawn.choice(pieces)
    return bytes(found)


_TOKEN = re.compile(rb'"(?:[^"\\\\]|\\\\.)*"|[{}\[\],:]|[^\s{}\[\],:"]+|\s+|"')


def changed_json(content: bytes, drawn: Random) -> bytes:
    """The same with one to three changes, half of them between its tokens: it may stay JSON."""
    if drawn.random() < 0.5:
        return changed(content, JSON_PIECES, drawn)
    tokens = _TOKEN.findall(content)
    for _ in range(drawn.choice((1, 1, 2, 3))):
        drawn.choice((_another_token, _another_value, _another_value, _said_twice))(tokens, drawn)
    return b"".join(tokens)


def _another_token(tokens: list[bytes], drawn: Random) -> None:
    at = drawn.randrange(len(tokens))
    tokens[at : at + drawn.randrange(2)] = [drawn.choice(JSON_PIECES)]


def _another_value(tokens: list[bytes], drawn: Random) -> None:
    """In the place of a text, a number or a word."""
    plain = [at for at, one in enumerate(tokens) if one[:1] not in b"{}[]:, \n"]
    plain = [at for at in plain if tokens[at + 1 : at + 2] != [b":"]]
    if plain:
        tokens[drawn.choice(plain)] = drawn.choice(VALUES)


def _said_twice(tokens: list[bytes], drawn: Random) -> None:
    """A name of an object stands before itself, with a value."""
    names = [at for at, one in enumerate(tokens[:-1]) if one[:1] == b'"' and tokens[at + 1] == b":"]
    if names:
        at = drawn.choice(names)
        tokens[at:at] = [tokens[at], b":", drawn.choice(VALUES), b","]


def _span(found: bytearray, drawn: Random) -> slice:
    begin = drawn.randrange(len(found) + 1)
    return slice(begin, begin + drawn.choice((1, 2, 8, 64, 1000)))


def _flip(found: bytearray, drawn: Random) -> None:
    if found:
        found[drawn.randrange(len(found))] ^= 1 << drawn.randrange(8)


def _set(found: bytearray, drawn: Random) -> None:
    if found:
        found[drawn.randrange(len(found))] = drawn.randrange(256)


def _cut_off(found: bytearray, drawn: Random) -> None:
    del found[drawn.randrange(len(found) + 1) :]


def _take_out(found: bytearray, drawn: Random) -> None:
    del found[_span(found, drawn)]


def _repeat(found: bytearray, drawn: Random) -> None:
    span = _span(found, drawn)
    found[span] = found[span] * drawn.choice((2, 2, 3, 50))


def _swap(found: bytearray, drawn: Random) -> None:
    first, second = sorted((_span(found, drawn) for _ in range(2)), key=lambda one: one.start)
    if first.stop <= second.start:
        one, other = found[first], found[second]
        found[second], found[first] = one, other


_CHANGES: tuple[Change, ...] = (_flip, _set, _cut_off, _take_out, _repeat, _swap)
