"""Canonical JSON as in RFC 8785 (Rundgren, Jordan & Erdtman, 2020).

Four documents of its authors' test data (Apache-2.0), with the bytes they must give; the number
table of appendix B, typed from memory (a slip of memory would fail).
"""

from __future__ import annotations

import json
import struct

import pytest
import rfc8785

from standfast.model.canonical import canonical

DOCUMENTS = [
    pytest.param(
        '[ 56, { "d": true, "10": null, "1": [ ] } ]',
        "5b35362c7b2231223a5b5d2c223130223a6e756c6c2c2264223a747275657d5d",
        id="arrays",
    ),
    pytest.param(
        '{"peach": "This sorting order", "p\\u00e9ch\\u00e9": "is wrong according to French",'
        ' "p\\u00eache": "but canonicalization MUST", "sin": "ignore locale"}',
        "7b227065616368223a225468697320736f7274696e67206f72646572222c2270c3a96368c3a9223a2269732077"
        "726f6e67206163636f7264696e6720746f204672656e6368222c2270c3aa636865223a226275742063616e6f6e"
        "6963616c697a6174696f6e204d555354222c2273696e223a2269676e6f7265206c6f63616c65227d",
        id="french",
    ),
    pytest.param(
        '{"1": {"f": {"f": "hi", "F": 5}, "\\n": 56.0}, "10": {}, "": "empty", "a": {},'
        ' "111": [{"e": "yes", "E": "no"}], "A": {}}',
        "7b22223a22656d707479222c2231223a7b225c6e223a35362c2266223a7b2246223a352c2266223a226869227d"
        "7d2c223130223a7b7d2c22313131223a5b7b2245223a226e6f222c2265223a22796573227d5d2c2241223a7b7d"
        "2c2261223a7b7d7d",
        id="structures",
    ),
    pytest.param(
        '{"Unnormalized Unicode": "A\\u030a"}',
        "7b22556e6e6f726d616c697a656420556e69636f6465223a2241cc8a227d",
        id="unicode is left as it is",
    ),
]

# IEEE 754 bits: the text.
NUMBERS = {
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}


@pytest.mark.parametrize(("text", "utf8"), DOCUMENTS)
def test_a_document_becomes_the_published_bytes(text: str, utf8: str) -> None:
    assert canonical(json.loads(text)).hex() == utf8


@pytest.mark.parametrize("bits", NUMBERS)
@pytest.mark.parametrize("around", ["{}", "[{}]", '{{"a":{}}}', "[1,{},2]"])
def test_a_number_becomes_the_published_text(bits: str, around: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    places = {
        "{}": number,
        "[{}]": [number],
        '{{"a":{}}}': {"a": number},
        "[1,{},2]": [1, number, 2],
    }

    assert canonical(places[around]).decode() == around.format(NUMBERS[bits])


@pytest.mark.parametrize(
    "value",
    [float("nan"), float("inf"), -float("inf"), 2**53, -(2**53), "\ud800"],
    ids=["nan", "inf", "-inf", "2**53", "-2**53", "lone surrogate"],
)
def test_what_has_no_canonical_form_is_refused(value: object) -> None:
    for inside in (value, [value], {"a": value}):
        with pytest.raises(rfc8785.CanonicalizationError):
            canonical(inside)


def test_the_largest_whole_numbers_are_kept() -> None:
    assert canonical([2**53 - 1, 1 - 2**53]) == b"[9007199254740991,-9007199254740991]"


def test_names_are_sorted_by_utf16_units_and_not_by_code_point() -> None:
    # U+1F600 is D83D DE00 in UTF-16 and so stands before U+FB33 (RFC 8785, section 3.2.3).
    assert canonical({"\ufb33": 1, "\U0001f600": 2}).decode() == '{"\U0001f600":2,"\ufb33":1}'
