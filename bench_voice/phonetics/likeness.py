"""How alike words sound: by their phones where the dictionary has them, by their letters where it doesn't.

Both are edit distances (`edits`). By letters it is rough, of a skeleton of the text; it only has to tell "ten" from
"the kettle".
"""

from __future__ import annotations

import re
from functools import lru_cache

from bench_voice.phonetics.edits import phone_distance, share_of_edits
from bench_voice.phonetics.phones import CLASS_OF, Phones
from bench_voice.phonetics.pronunciation import Entries, sounds
from bench_voice.phonetics.spelling import RE_AS_ER

NEAR = 1.0  # phones: names at most this far apart can be taken for one another
# Spellings of one sound, in this order. Own list for English spelling; other languages only lose sharpness.
_SAME = (
    RE_AS_ER,
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


def letter_distance(a: str, b: str) -> float:
    """0: sounds the same; 1: nothing in common. Edits of the two keys by the longer one's length."""
    return share_of_edits(sound_key(a), sound_key(b))


def apart(one: str, other: str, said: Entries | None = None) -> float | None:
    """How far two names lie apart at the closest of their pronunciations; None where one is not in the dictionary."""
    known = said or {}
    pairs = [phone_distance(a, b) for a in sounds(one, known) for b in sounds(other, known)]
    return min(pairs) if pairs else None


def keys(phones: Phones) -> set[tuple[int, ...]]:
    """The classes of the phones, whole and with each one left out.

    Two names within `NEAR` share a key (they differ by one phone, or by classes that do not show here), so that
    near names are found by looking keys up instead of comparing every pair.
    """
    classes = tuple(CLASS_OF.get(phone, -1) for phone in phones)
    return {classes} | {classes[:i] + classes[i + 1 :] for i in range(len(classes))}


__all__ = ["NEAR", "apart", "keys", "letter_distance", "sound_key"]
