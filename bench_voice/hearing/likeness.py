"""How alike two texts sound, from their letters alone. Pure, and rough: it only has to tell "ten" from "the kettle"."""

from __future__ import annotations

import re
from functools import lru_cache

# Spellings of one sound, in this order. Own list for English spelling; other languages only lose sharpness.
_SAME = (
    (r"([a-z]{2})re(s?)\b", r"\1er\2"),  # metre, litre
    (r"ph", "f"),
    (r"[cs]h", "j"),
    (r"gh", ""),
    (r"ck|q", "k"),
    (r"c(?=[eiy])", "s"),
    (r"c", "k"),
    (r"x", "ks"),
    (r"z", "s"),
    (r"wh", "w"),
    (r"\bkn", "n"),
    (r"\bwr", "r"),
    (r"d\b", "t"),
    (r"v", "f"),
    (r"e\b", ""),
    (r"[aeiouy]+", "a"),
    (r"(.)\1+", r"\1"),
)


@lru_cache(maxsize=2048)
def sound_key(text: str) -> str:
    """A skeleton of the text: consonant groups, all vowels alike, no spaces."""
    key = " ".join(text.lower().split())
    for pattern, same in _SAME:
        key = re.sub(pattern, same, key)
    return re.sub(r"[^a-z]", "", key)


def distance(a: str, b: str) -> float:
    """0: sounds the same; 1: nothing in common. Edits of the two keys by the longer one's length."""
    x, y = sound_key(a), sound_key(b)
    if not x or not y:
        return 0.0 if x == y else 1.0
    row = list(range(len(y) + 1))
    for i, left in enumerate(x, 1):
        before, row[0] = row[0], i
        for j, right in enumerate(y, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (left != right))
    return row[-1] / max(len(x), len(y))
