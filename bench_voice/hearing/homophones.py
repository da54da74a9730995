"""A hold's phrase that a free ear cut into other words: the same sounds are the same utterance. Pure.

"Confirm sleeves are tied back" and "confirms leaves are tied back" can't be told apart by anybody. Nothing here is a
likeness: every sound has to be the same, by the pronouncing dictionary, but for what everybody runs together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from bench_voice.hearing.mend import repeated
from bench_voice.phonetics import Ways, every_way, sound_the_same
from bench_voice.ports import Heard


def as_phrase(heard: Sequence[Heard], phrase: str, ways: Ways) -> tuple[Heard, ...]:
    """The answers of free ears, with the phrase wherever they wrote its very sounds. The figure `same_sound` tells of
    it."""
    if not every_way(phrase, ways):
        return tuple(heard)

    def spelt(text: str) -> str:
        once = repeated(text)
        is_near = text != phrase and abs(len(once) - len(phrase)) <= len(phrase) // 4
        is_same = is_near and sound_the_same(once, phrase, ways)
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
            if word not in pair and sound_the_same(word, " ".join(pair), ways):
                words[at : at + 2] = [word]
                break
    return " ".join(words)


__all__ = ["as_phrase"]
