"""Letters to sounds, for words that the dictionary lacks: by the other spelling, by the parts, else letter by letter.

Letter by letter it is the table `letters.txt`: a line for each context, from a letter alone to four letters on either
side, and what the letter stands for there. `r[c]l K`: c is K between r and l. The longest context that fits counts. It
is made from the dictionary (`python -m tests.phonetics.teach`), as a decision tree: Daelemans and van den Bosch (1997),
"Language-independent data-oriented grapheme-to-phoneme conversion".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from importlib import resources

from bench_voice.phonetics.cmudict import Lookup, dictionary
from bench_voice.phonetics.edits import edits
from bench_voice.phonetics.phones import VOWELS, Phones, with_ed, with_s
from bench_voice.phonetics.spelling import american

# Letters to the left and to the right of a context, shortest first.
WINDOWS = ((0, 0), (0, 1), (1, 1), (1, 2), (2, 2), (2, 3), (3, 3), (3, 4), (4, 4))
_REACH = 4
_WORD = re.compile(r"[a-z]+(?:'[a-z]+)*")
# Which of these do better than letters alone was told on the words that settings are chosen on: "-er" doesn't, nor do
# halves of three letters ("grom met") or halves that the letters say otherwise ("arth urian").
_PREFIXES = {"milli": "M IH L AH", "kilo": "K IH L AH", "centi": "S EH N T AH", "micro": "M AY K R OW", "re": "R IY"}
_LEAST_STEM = 3  # letters
_LEAST_REST, _LEAST_HALF = 5, 4
_MOST_APART = 2  # phones


def _plus(phones: str) -> Callable[[Phones], Phones]:
    return lambda stem: (*stem, *phones.split())


_ENDINGS: dict[str, Callable[[Phones], Phones]] = {
    "'s": with_s,
    "s": with_s,
    "es": with_s,
    "ed": with_ed,
    "ing": _plus("IH NG"),
    "less": _plus("L AH S"),
    "ness": _plus("N AH S"),
}


def propose(word: str, lookup: Lookup) -> str | None:
    """Phones for the word ("S ER K L IH P"), or None when it has other signs than letters. `lookup`: what is known."""
    if not _WORD.fullmatch(word):
        return None
    return _by_spelling(word, lookup) or _by_parts(word, lookup) or by_letters(word)


def proposal(word: str) -> str:
    """A pronunciation to try for a word that the dictionary lacks; "" where it has other signs than letters.

    It is printed for a person to judge: letters alone say little about an English word."""
    return propose(word, dictionary().lookup) or ""


def _by_spelling(word: str, lookup: Lookup) -> str | None:
    for other in american(word):
        found = lookup(other) or _by_parts(other, lookup)
        if found:
            return found
    return None


def _by_parts(word: str, lookup: Lookup) -> str | None:
    return _by_ending(word, lookup) or _by_prefix(word, lookup) or _by_halves(word, lookup)


def _by_prefix(word: str, lookup: Lookup) -> str | None:
    for prefix, phones in _PREFIXES.items():
        rest = word.removeprefix(prefix)
        if rest != word and len(rest) >= (_LEAST_REST if prefix == "re" else _LEAST_STEM):
            found = lookup(rest) or _by_ending(rest, lookup)
            if found:
                return f"{phones} {found}"
    return None


def _by_ending(word: str, lookup: Lookup) -> str | None:
    for ending, end in _ENDINGS.items():
        stem = word.removesuffix(ending)
        if stem == word or len(stem) < _LEAST_STEM:
            continue
        found = lookup(stem)
        if found is None and ending[0] in "ei":
            found = lookup(stem + "e") or (lookup(stem[:-1]) if stem[-1] == stem[-2] else None)  # "shimmed"
        if found:
            return " ".join(end(tuple(found.split())))
    return None


def _by_halves(word: str, lookup: Lookup) -> str | None:
    """Of two known words put together, the split whose shorter half is longest."""
    splits = sorted(range(_LEAST_HALF, len(word) - _LEAST_HALF + 1), key=lambda at: -min(at, len(word) - at))
    for at in splits:
        first, second = lookup(word[:at]), lookup(word[at:])
        if first and second and word[at - 1] != word[at]:
            found = _joined(first.split(), second.split())
            return " ".join(found) if edits(found, by_letters(word).split()) <= _MOST_APART else None
    return None


def _joined(first: list[str], second: list[str]) -> list[str]:
    """A consonant that ends the one and begins the other is said once: "crankcase"."""
    return first + (second[1:] if first[-1] == second[0] and first[-1] not in VOWELS else second)


def by_letters(word: str) -> str:
    """By the table alone."""
    return say(word.replace("'", ""), _letters())


def say(word: str, table: Mapping[str, str]) -> str:
    """Each letter by the longest context of it that the table has."""
    phones: list[str] = []
    for at in range(len(word)):
        said = next(said for window in reversed(WINDOWS) if (said := table.get(context(word, at, window))) is not None)
        # Each letter is told by itself: where the vowel has its own sound before an r ("or"), the r is no second one.
        phones += ["R"] if said == "ER" and phones[-1:] in (["AO"], ["AA"]) else said.split()
    return " ".join(phones)


def context(word: str, at: int, window: tuple[int, int]) -> str:
    """ "r[c]li" of the last c of "circlip" and a window of one to the left and two to the right; # is beyond an end."""
    edge = "#" * _REACH
    padded, place, (left, right) = f"{edge}{word}{edge}", at + _REACH, window
    return f"{padded[place - left : place]}[{padded[place]}]{padded[place + 1 : place + 1 + right]}"


@lru_cache(maxsize=1)
def _letters() -> dict[str, str]:
    text = resources.files("bench_voice.phonetics").joinpath("letters.txt").read_text(encoding="utf-8")
    lines = (line.partition(" ") for line in text.splitlines())
    return {where: said for where, _, said in lines if where}


__all__ = ["WINDOWS", "by_letters", "context", "proposal", "propose", "say"]
