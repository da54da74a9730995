"""British spelling to the American one that the dictionary holds and American recognisers write. Own list."""

from __future__ import annotations

import re
from collections.abc import Iterator

# Of units alone: what a recogniser taught with American texts writes instead.
_UNITS = ((r"metre(s?)$", r"meter\1"), (r"litre(s?)$", r"liter\1"))
# The letters of any word where the sound alone counts, whatever they spell: "metre", but "square" as well.
RE_AS_ER = (r"([a-z]{2})re(s?)\b", r"\1er\2")
_AMERICAN = (
    *_UNITS,
    (r"([bt])re(s?)$", r"\1er\2"),
    (r"tyre", "tire"),
    (r"our(s?)$", r"or\1"),
    (r"is(e|ed|es|ing)$", r"iz\1"),
    (r"^nought(s?)$", r"naught\1"),
    (r"gauge", "gage"),
    (r"grey", "gray"),
    (r"alumin?ium", "aluminum"),
    (r"lled$", "led"),
    (r"lling$", "ling"),
)


def american(word: str) -> Iterator[str]:
    """Other spellings of the word; whether there is such a word is for the dictionary."""
    for pattern, other in _AMERICAN:
        changed = re.sub(pattern, other, word)
        if changed != word:
            yield changed


def american_unit(word: str) -> str:
    """ "Meters" for "metres"; any other word as it is. Prefixes stay: "millimeter"."""
    for pattern, other in _UNITS:
        word = re.sub(pattern, other, word)
    return word


__all__ = ["RE_AS_ER", "american", "american_unit"]
