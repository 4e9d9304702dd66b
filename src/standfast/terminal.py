"""What a terminal may be given: text that it shows, and nothing that it would obey."""

from __future__ import annotations

TURNING = {*range(0x202A, 0x202F), *range(0x2066, 0x206A)}
"""What turns all that follows in the line: embeddings, overrides, isolates, and their ends."""
CONTROLS = {*range(0x20), *range(0x7F, 0xA0), *TURNING} - {ord("\n"), ord("\t")}
"""What moves the cursor, clears the screen or turns the direction of what is read."""
_SHOWN_AS = dict.fromkeys(CONTROLS, "\ufffd")
_ESCAPED = {code: f"\\u{code:04x}" for code in CONTROLS if code >= 0x7F}  # noqa: PLR2004 - above ASCII


def harmless(text: str) -> str:
    """The text without what a terminal would obey: a file that somebody sent is shown, not run.

    Of what Unicode has for direction, whatever reaches to the end of the line is taken out: a name
    needs none of it, and one that is not closed turns round what is said of her.  Marks (U+061C,
    U+200E, U+200F) stay: a name written from the right may need one beside a bracket or a number,
    and each does no more than a letter of that direction.

    Source: Unicode Standard Annex #9, 2.1 to 2.6, and Technical Report #36, 2.5; from memory.
    """
    return text.translate(_SHOWN_AS)


def harmless_json(text: str) -> str:
    """JSON that says the same, with what a terminal would obey as six other letters."""
    return text.translate(_ESCAPED)
