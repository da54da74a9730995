"""What would not be seen, or would change how its neighbours are seen, as an escape that is.

Controls (an ESC can clear a terminal or write its title), signs that turn the direction of text (UAX #9, "Unicode
Bidirectional Algorithm"), signs without a width, odd line ends, halves of surrogate pairs. The journal keeps what was
said; only what is shown is changed. The escapes are those of JSON (RFC 8259, section 7), so that JSON stays as it was.
"""

from __future__ import annotations

import codecs
import html
import unicodedata

# Cc: controls; Cf: direction and joiners, invisible; Cs: surrogates; Zl, Zp: line and paragraph separators.
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
_KEPT = frozenset("\n\t")
_RIGHT_TO_LEFT = frozenset({"R", "AL"})
_ISOLATE, _END = "\u2068", "\u2069"  # FIRST STRONG ISOLATE, POP DIRECTIONAL ISOLATE


def _escape(char: str) -> str:
    units = char.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at]:02x}{units[at + 1]:02x}" for at in range(0, len(units), 2))


def visible(text: str) -> str:
    """`text` with each unseen character as `\\u001b`; line ends and tabs as they are."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        _escape(char) if char not in _KEPT and unicodedata.category(char) in _UNSEEN else char for char in text
    )


def on_page(text: str) -> str:
    """For HTML and captions: visible, escaped, and isolated where it runs from right to left, so that the text around
    it stays as it is."""
    shown = html.escape(visible(text))
    if any(unicodedata.bidirectional(char) in _RIGHT_TO_LEFT for char in shown):
        return f"{_ISOLATE}{shown}{_END}"
    return shown


def _as_escapes(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_escape, error.object[error.start : error.end])), error.end


# For output in an encoding that lacks a character, ASCII the plainest: an escape instead of the end of a session.
ESCAPED = "bench-voice-escaped"
codecs.register_error(ESCAPED, _as_escapes)
