"""What is special about the number words of a meaning: which sound alike, and which are easily miscounted. Pure."""

from __future__ import annotations

from itertools import pairwise

from bench_voice.core.intents import Intent
from bench_voice.words.phrases import Language


def number_words(intent: Intent, language: Language) -> list[str]:
    return [word for word in intent.heard.split() if word in language.number_words]


def sound_alike(a: str, b: str, language: Language) -> bool:
    """ "Nineteen" and "ninety", "six" and "eight"."""
    numbers = language.numbers
    teens = {numbers.teen.get(a, 0), numbers.teen.get(b, 0)} - {0}
    tens = {numbers.ten.get(a, 0), numbers.ten.get(b, 0)} - {0}
    if teens and tens:
        return {(teen - 10) * 10 for teen in teens} == tens
    return {numbers.digit.get(a), numbers.digit.get(b)} == {6, 8}


def runs_into(sounds: str, intent: Intent, language: Language) -> bool:
    """A teen or a ten before a unit with one of these first letters: "ninety microns" lends it an n as well."""
    numbers = language.numbers
    return any(
        (word in numbers.teen or word in numbers.ten) and unit[0] in sounds and unit not in language.number_words
        for word, unit in pairwise(intent.heard.split())
    )


def repeats_a_digit(intent: Intent, language: Language) -> bool:
    """Equal digits in a row, which are easily miscounted: "three zero zero"."""
    return any(a == b and a in language.numbers.digit for a, b in pairwise(intent.heard.split()))


def is_row_of_digits(intent: Intent, language: Language) -> bool:
    """Three digits or more one by one, with nothing to tell how many: "six nine eight"."""
    words = number_words(intent, language)
    return len(words) > 2 and all(word in language.numbers.digit for word in words)


def has_eight(intent: Intent, language: Language) -> bool:
    """Of a "six" whose hiss a telephone or a short recording has lost, "eight" is left: all four ears may hear that
    (four of 60 rows of people's digits, report part)."""
    return any(language.numbers.digit.get(word) == 8 for word in intent.heard.split())


def has_twin(intent: Intent, language: Language) -> bool:
    """ "Seventeen" and "seventy" sound so alike that any ear may take one for the other (common practice, no
    source: over a radio such numbers are said digit by digit). "Seventy two" has no such twin: of those that the first
    ear missed, 14 of 336 with a twin were wrong to two ears, of teens and tens without one 2 of 640 (report part)."""
    numbers = language.numbers
    words = [*intent.heard.split(), ""]
    return any(
        numbers.teen.get(word, 0) >= 13 or (numbers.ten.get(word, 0) >= 30 and not numbers.digit.get(after))
        for word, after in pairwise(words)
    )


def has_ten(intent: Intent, language: Language) -> bool:
    """ "Thirty" is "twenty" in noise."""
    numbers = language.numbers
    return any(word in numbers.teen or word in numbers.ten for word in intent.heard.split())
