"""Texts that are the same sounds: what everybody runs together when speaking, and where a word ends. Pure.

"Sleeves are tied back" and "leaves are tied back" after "confirm(s)" can't be told apart by anybody. Nothing here is a
likeness: every sound has to be the same, by the pronouncing dictionary.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby

from bench_voice.phonetics.cmudict import Ways
from bench_voice.phonetics.phones import VOWELS, Phones

# An s at the end of one word is a z, and an s at the beginning of the next: one sound here, since it may be either.
_SAME = {"Z": "S"}
_WEAKEST = "AH"  # beside another vowel nobody hears it: "area around"
_HISS = {"s", "z"}  # of an "is" that a free ear wrote with the next word
_ENDINGS = {"'s": "Z", "y": "IY"}
_MOST_WAYS = 512


@lru_cache(maxsize=512)
def every_way(text: str, ways: Ways) -> frozenset[Phones]:
    """Every way of saying the text, its words run together; none where a word's isn't known, or for too many."""
    found: set[Phones] = {()}
    for word in text.split():
        said = ways(word) or _by_parts(word, ways)
        found = {(*before, *way) for before in found for way in said}
        if not found or len(found) > _MOST_WAYS:
            return frozenset()
    return frozenset(tuple(_SAME.get(phone, phone) for phone in _run_together(way)) for way in found)


def sound_the_same(one: str, other: str, ways: Ways) -> bool:
    """Whether some way of saying the one is a way of saying the other."""
    return not every_way(one, ways).isdisjoint(every_way(other, ways))


def _by_parts(word: str, ways: Ways) -> tuple[Phones, ...]:
    """Of a word that there isn't: free ears write two as one ("confirmary", "zempty", "sprayer's", "chucky")."""
    found: list[Phones] = []
    for ending, sound in _ENDINGS.items():
        found += [(*one, sound) for one in ways(word.removesuffix(ending))] if word.endswith(ending) else []
    for at in range(1, len(word) - 2):
        head, rest = word[:at], word[at:]
        heads = [("Z",)] if head in _HISS else ways(head) if at > 2 else ()
        found += [(*one, *other) for one in heads for other in ways(rest)]
    return tuple(found)


def _run_together(way: Sequence[str]) -> list[str]:
    """Without the weak vowels that touch another one; a sound that ends a word and begins the next is one."""
    strong = [
        phone
        for at, phone in enumerate(way)
        if phone != _WEAKEST or VOWELS.isdisjoint((*way[max(0, at - 1) : at], *way[at + 1 : at + 2]))
    ]
    # Never two vowels: "the mixer or ..." is not "the mixer".
    return [phone for phone, alike in groupby(strong) for _ in range(len([*alike]) if phone in VOWELS else 1)]


__all__ = ["every_way", "sound_the_same"]
