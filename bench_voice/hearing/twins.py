"""What is special about the number words of a sentence: which sound alike, which a telephone changes. Pure."""

from __future__ import annotations

from itertools import pairwise

from bench_voice.words.phrases import Language

_TWINS = 13, 30  # the first teen and the first ten that differ in their end alone


def number_words(text: str, language: Language) -> list[str]:
    return [word for word in text.split() if word in language.number_words]


def has_eight(text: str, language: Language) -> bool:
    """Of a "six" whose hiss a telephone has lost, "eight" is left to every witness."""
    return any(language.numbers.digit.get(word) == 8 for word in text.split())


def has_twin(text: str, language: Language) -> bool:
    """ "Seventeen" and "seventy" sound so alike that any witness may take one for the other (common practice, no
    source: over a radio such numbers are said digit by digit). "Seventy two" has no such twin."""
    numbers = language.numbers
    teen, ten = _TWINS
    return any(
        numbers.teen.get(word, 0) >= teen or (numbers.ten.get(word, 0) >= ten and not numbers.digit.get(after))
        for word, after in pairwise([*text.split(), ""])
    )
