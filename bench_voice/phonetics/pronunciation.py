"""How words are said: by the person's own file, by the sheet, by the dictionary.

The person's own file has a line a word: `spacer S P EY S ER` in phones, or `grommet grow met` in known words that sound
so. It goes before the sheet's `pronunciations`, and those before the dictionary.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import product
from typing import Protocol

from bench_voice.errors import UsageError
from bench_voice.phonetics.cmudict import Lookup, dictionary, words_of
from bench_voice.phonetics.graphemes import propose
from bench_voice.phonetics.phones import Phones, are_phones

# How a word is said, by word: phones ("S P EY S ER") or known words that sound so ("grow met").
Said = Mapping[str, str]


class Entry(Protocol):
    """What a sheet says of a word: its phones, or known words that it is like, or both."""

    @property
    def phones(self) -> Phones: ...

    @property
    def like(self) -> str: ...


Entries = Mapping[str, Entry]
_NONE: Entries = {}
_WORD = re.compile(r"[a-z]+(?:'[a-z]+)*")
_MOST_WAYS = 8  # of a text
# Weak forms (common practice, no source): "the" has the vowel of "this" before another word; "is", "has" and "have"
# lose their own behind one.
_WEAK: dict[str, tuple[Phones, ...]] = {
    "the": (("DH", "IH"),),
    "is": (("Z",),),
    "has": (("Z",),),
    "have": (("AH", "V"), ("V",)),
}


def is_known(word: str, said: Entries = _NONE) -> bool:
    """Whether the dictionary has the word, or the sheet says how it is said (`said`)."""
    known = dictionary()
    return not known or word in known or word in said


def ways(word: str, said: Entries = _NONE) -> tuple[Phones, ...]:
    """The word's pronunciations: the sheet's own before the dictionary's."""
    own = said.get(word)
    return (own.phones,) if own and own.phones else dictionary()[word]


def spoken(word: str) -> tuple[Phones, ...]:
    """The word's pronunciations, and how it is said where other words stand around it."""
    return (*ways(word), *_WEAK.get(word, ()))


def sounds(text: str, said: Entries = _NONE) -> tuple[Phones, ...]:
    """Up to eight ways to say the text; empty where a word of it is not in the dictionary."""
    known = [ways(word, said) for word in words_of(text)]
    if not known or not all(known):
        return ()
    every = product(*(one[:2] for one in known))
    return tuple(dict.fromkeys(sum(way, ()) for way, _ in zip(every, range(_MOST_WAYS), strict=False)))


def phones_of(said: str, lookup: Lookup) -> str | None:
    """Phones as they are, words by the dictionary (or as proposed) joined; None where nothing sounds like that."""
    if are_phones(said):
        return said
    found = [lookup(part) or propose(part, lookup) for part in said.split()]
    return " ".join(one for one in found if one) if found and all(found) else None


def merged(sheet: Entries, own: Said) -> dict[str, str]:
    """How words are said: the sheet's, and before it the person's own. A word that is only written for the voice (no
    phones, nothing it is like) is left out."""
    of_sheet = {word: " ".join(one.phones) or one.like for word, one in sheet.items()}
    return {word: said for word, said in {**of_sheet, **own}.items() if said}


def parse_own(text: str, where: str) -> dict[str, str]:
    """The person's own file: a word and how it is said on each line; # begins a remark; of a word that stands twice
    the last line counts. Raises UsageError `pronunciations` naming the line."""
    own: dict[str, str] = {}
    for number, line in enumerate(text.splitlines(), 1):
        word, _, said = line.partition("#")[0].strip().partition(" ")
        if not word:
            continue
        parts = said.split()
        word = word.lower()
        if not _WORD.fullmatch(word) or not parts:
            raise _fault(f"{where} line {number}", f'"{line.strip()}" is not a word and how it is said.')
        wrong = None if are_phones(said) else next((part for part in parts if not _WORD.fullmatch(part)), None)
        if wrong is not None:
            raise _fault(f"{where} line {number}", f'"{wrong}" is neither a phone nor a word in small letters.')
        own[word] = " ".join(parts)
    return own


def _fault(where: str, what: str) -> UsageError:
    return UsageError(
        what,
        mend='Write phones, "spacer S P EY S ER", or known words that sound so, "grommet grow met".',
        slug="pronunciations",
        where=where,
    )


__all__ = [
    "Entries", "Entry", "Said", "is_known", "merged", "parse_own", "phones_of", "sounds", "spoken", "ways",
]  # fmt: skip
