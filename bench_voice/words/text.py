"""Words out of a line of text: lower case, punctuation dropped, nothing guessed.

What is not a word, a typed number or harmless punctuation becomes a token of its own ("½", "~", "-" between digits),
which no phrase contains: such text is then not understood, instead of understood with a piece missing.
"""

from __future__ import annotations

import re
import unicodedata

MAX_WORDS = 80  # of anything but a note; the longest sensible reading of 12 points has about 75
BREAK = ","

_TOKEN = re.compile(
    r"[0-9]+(?:[.,/][0-9]+)*|(?<![0-9])\.[0-9]+|[^\W\d_]+(?:'[^\W\d_]+)*|[^\s]",
)
_PLAIN = re.compile(r"[a-z ]*\Z")
_INNER_HYPHEN = re.compile(r"(?<=[^\W\d_])[-‐‑](?=[^\W\d_])")
_SIGN = re.compile(r"(?<![\w.,/-])[-−](?=[0-9.])")
_INCH_MARK = re.compile(r"(?<=[0-9])\s*[\"″”]")
_FOOT_MARK = re.compile(r"(?<=[0-9])\s*['′’]")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_BREAKS = frozenset(",;.:!…")
_DROPPED = frozenset("?\"“”'‘’()«»„¿¡")


def tokens(heard: str) -> tuple[list[str], bool]:
    """Lower-case tokens with "," for every break between clauses, and whether a question mark was there."""
    text = heard.lower()
    if _PLAIN.match(text):
        return text.split(), False
    text = unicodedata.normalize("NFC", text).replace("\u00ad", "").replace("’", "'").replace("μ", "u")
    text = text.replace("µ", "u").replace("°", " degrees ").replace("%", " percent ")
    text = _CONTROL.sub(" ", text)
    text = _INCH_MARK.sub(" inches ", text)
    text = _FOOT_MARK.sub(" ′ ", text)  # feet are not in the list: not understood, never dropped
    text = _INNER_HYPHEN.sub(" ", text)
    text = _SIGN.sub(" minus ", text)
    text = text.replace("n·m", "n m").replace("n*m", "n m")
    out: list[str] = []
    for token in _TOKEN.findall(text):
        if token in _BREAKS:
            if out and out[-1] != BREAK:
                out.append(BREAK)
        elif token not in _DROPPED:
            out.append(token)
    while out and out[-1] == BREAK:
        out.pop()
    return out, "?" in text


def words(heard: str) -> tuple[str, ...]:
    """The tokens without breaks: what names, phrases and hold phrases are compared by."""
    return tuple(token for token in tokens(heard)[0] if token != BREAK)
