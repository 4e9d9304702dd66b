"""The quick way to canonical JSON gives what the library for RFC 8785 gives."""

from __future__ import annotations

import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from standfast.model.canonical import canonical, content_hash, plain
from standfast.model.decision import Figure
from standfast.model.school import School

NUMBERS = st.integers(1 - 2**53, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
TEXTS = st.text(st.characters(exclude_categories=["Cs"])) | st.text(':,[]{}"\\0123456789.e-')
VALUES = st.recursive(
    st.none() | st.booleans() | NUMBERS | TEXTS,
    lambda inner: st.lists(inner) | st.dictionaries(TEXTS, inner),
)


@given(VALUES)
def test_both_ways_give_the_same_bytes(value: object) -> None:
    assert canonical(value) == rfc8785.dumps(value)  # type: ignore[arg-type]


def test_a_name_has_one_form_however_its_accents_were_typed() -> None:
    composed, combined = School(id="x", name="Zo\u00eb"), School(id="x", name="Zoe\u0308")

    assert content_hash(composed) == content_hash(combined)


def test_a_share_of_one_is_written_as_one() -> None:
    assert canonical(plain(Figure(value=1.0, low=0.5))) == b'{"low":0.5,"value":1}'
