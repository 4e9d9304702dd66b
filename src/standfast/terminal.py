"""What a terminal may be given: text that it shows, and nothing that it would obey."""

from __future__ import annotations

CONTROLS = {*range(0x20), *range(0x7F, 0xA0), 0x202D, 0x202E} - {ord("\n"), ord("\t")}
"""What moves the cursor, clears the screen or turns the direction of what is read."""
_SHOWN_AS = dict.fromkeys(CONTROLS, "\ufffd")
_ESCAPED = {code: f"\\u{code:04x}" for code in CONTROLS if code >= 0x7F}  # noqa: PLR2004 - above ASCII


def harmless(text: str) -> str:
    """The text without what a terminal would obey: a file that somebody sent is shown, not run."""
    return text.translate(_SHOWN_AS)


def harmless_json(text: str) -> str:
    """JSON that says the same, with what a terminal would obey as six other letters."""
    return text.translate(_ESCAPED)
