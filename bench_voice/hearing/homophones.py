"""A hold's phrase that a free ear cut into other words: the same sounds are the same utterance. Pure.

"Confirm sleeves are tied back" and "confirms leaves are tied back" can't be told apart by anybody. Nothing here is a
likeness: every sound has to be the same, by the pronouncing dictionary, but for what everybody runs together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import groupby

from bench_voice.hearing.mend import repeated
from bench_voice.ports import Heard

Ways = Callable[[str], Sequence[Sequence[str]]]  # of saying a word, each its phones; none where that isn't known

# An s at the end of one word is a z, and an s at the beginning of the next: one sound here, since it may be either.
_SAME = {"Z": "S"}
_VOWELS = frozenset(("AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"))
_WEAKEST = "AH"  # beside another vowel nobody hears it: "area around"
_HISS = {"s", "z"}  # of an "is" that a free ear wrote with the next word
_ENDINGS = {"'s": "Z", "y": "IY"}
_MOST_WAYS = 512


def no_ways(word: str) -> tuple[tuple[str, ...], ...]:
    """For languages without a pronouncing dictionary."""
    return ()


def as_phrase(heard: Sequence[Heard], phrase: str, ways: Ways) -> tuple[Heard, ...]:
    """The answers of free ears, with the phrase wherever they wrote its very sounds. The figure `same_sound` tells of
    it."""
    if not (wanted := _sounds(phrase, ways)):
        return tuple(heard)

    def spelt(text: str) -> str:
        once = repeated(text)
        is_near = text != phrase and abs(len(once) - len(phrase)) <= len(phrase) // 4
        is_same = is_near and not wanted.isdisjoint(_sounds(once, ways))
        return phrase if is_same else _joined(text, phrase, ways)

    found = []
    for one in heard:
        if one.free_words is not None:
            alternatives = tuple((spelt(words), weight) for words, weight in one.alternatives)
            new = replace(one, words=spelt(one.words), free_words=spelt(one.free_words), alternatives=alternatives)
            one = new if new == one else replace(new, evidence={**new.evidence, "same_sound": 1.0})
        found.append(one)
    return tuple(found)


@lru_cache(maxsize=256)
def _joined(text: str, phrase: str, ways: Ways) -> str:
    """With a word of the phrase where two others were written that sound like it: the "or" of "spray or" denies
    nothing where the phrase has a sprayer."""
    words = text.split()
    for word in phrase.split():
        for at in range(len(words) - 1):
            pair = words[at : at + 2]
            if word not in pair and not _sounds(word, ways).isdisjoint(_sounds(" ".join(pair), ways)):
                words[at : at + 2] = [word]
                break
    return " ".join(words)


@lru_cache(maxsize=256)
def _sounds(text: str, ways: Ways) -> frozenset[tuple[str, ...]]:
    """Every way of saying the text, its words run together; none where a word's isn't known, or for too many."""
    found: set[tuple[str, ...]] = {()}
    for word in text.split():
        said = ways(word) or _by_parts(word, ways)
        found = {(*before, *way) for before in found for way in said}
        if not found or len(found) > _MOST_WAYS:
            return frozenset()
    return frozenset(tuple(_SAME.get(phone, phone) for phone in _run_together(way)) for way in found)


def _by_parts(word: str, ways: Ways) -> tuple[tuple[str, ...], ...]:
    """Of a word that there isn't: free ears write two as one ("confirmary", "zempty", "sprayer's", "chucky")."""
    found: list[tuple[str, ...]] = []
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
        if phone != _WEAKEST or _VOWELS.isdisjoint((*way[max(0, at - 1) : at], *way[at + 1 : at + 2]))
    ]
    # Never two vowels: "the mixer or ..." is not "the mixer".
    return [phone for phone, alike in groupby(strong) for _ in range(len([*alike]) if phone in _VOWELS else 1)]


__all__ = ["Ways", "as_phrase", "no_ways"]
