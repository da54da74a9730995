"""Pronunciations for words that the dictionary lacks: by its other spelling, by its parts, else by plain rules.

Phones are ARPAbet without stress, as in the bundled dictionary. A guess only makes the word findable; what it finds is
still checked by the free ears. What a person says goes before it: the sheet's `pronunciations`, and before those their
own file, a line a word: `spacer S P EY S ER` in phones, or `grommet grow met` in known words that sound so.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path

from bench_voice.core.sheet import Pronunciation
from bench_voice.errors import UsageError
from bench_voice.own_file import read_own_file

Lookup = Callable[[str], str | None]
# How a word is said, by word: phones ("S P EY S ER") or known words that sound so ("grow met").
Said = Mapping[str, str]

# The phones of the CMU pronouncing dictionary, without stress.
_VOWELS = "AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW"
_CONSONANTS = "B CH D DH F G HH JH K L M N NG P R S SH T TH V W Y Z ZH"
PHONES = frozenset(f"{_VOWELS} {_CONSONANTS}".split())
_WORD = re.compile(r"[a-z]+(?:'[a-z]+)*")

# British spelling to the American one that the dictionary holds.
_SPELLINGS = (
    (r"metre(s?)$", r"meter\1"),
    (r"litre(s?)$", r"liter\1"),
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
_PREFIXES = {"milli": "M IH L AH", "kilo": "K IH L AH", "centi": "S EH N T AH", "micro": "M AY K R OW", "re": "R IY"}
_ENDINGS = {"s": "Z", "ed": "D", "ing": "IH NG", "er": "ER", "ers": "ER Z", "less": "L AH S", "ness": "N AH S"}
# Longest first at each place. Rough English letter-to-sound rules, own list.
_LETTERS = {
    "tion": "SH AH N", "igh": "AY", "tch": "CH", "ch": "CH", "sh": "SH", "th": "TH", "ph": "F", "ck": "K", "ng": "NG",
    "qu": "K W", "wh": "W", "kn": "N", "wr": "R", "ee": "IY", "ea": "IY", "oo": "UW", "ou": "AW", "ow": "OW",
    "oi": "OY", "oy": "OY", "ai": "EY", "ay": "EY", "au": "AO", "aw": "AO", "ar": "AA R", "er": "ER", "ir": "ER",
    "or": "AO R", "ur": "ER", "ie": "IY", "oa": "OW", "ce": "S", "ci": "S IH", "ge": "JH", "le": "AH L",
    "a": "AE", "b": "B", "c": "K", "d": "D", "e": "EH", "f": "F", "g": "G", "h": "HH", "i": "IH", "j": "JH", "k": "K",
    "l": "L", "m": "M", "n": "N", "o": "AA", "p": "P", "q": "K", "r": "R", "s": "S", "t": "T", "u": "AH", "v": "V",
    "w": "W", "x": "K S", "y": "IY", "z": "Z",
}  # fmt: skip
_LONGEST = max(map(len, _LETTERS))


def propose(word: str, lookup: Lookup) -> str | None:
    """ARPAbet for the word, or None when it has other signs than letters."""
    if not _WORD.fullmatch(word):
        return None
    return _by_spelling(word, lookup) or _by_parts(word, lookup) or _by_letters(word.replace("'", ""))


def _by_spelling(word: str, lookup: Lookup) -> str | None:
    for pattern, other in _SPELLINGS:
        changed = re.sub(pattern, other, word)
        if changed != word:
            found = lookup(changed) or _by_parts(changed, lookup)
            if found:
                return found
    return None


def _by_parts(word: str, lookup: Lookup) -> str | None:
    for prefix, phones in _PREFIXES.items():
        rest = lookup(word[len(prefix) :]) if word.startswith(prefix) and len(word) > len(prefix) + 2 else None
        if rest:
            return f"{phones} {rest}"
    for ending, phones in _ENDINGS.items():
        stem = word[: -len(ending)]
        if word.endswith(ending) and len(stem) > 2:
            found = lookup(stem) or lookup(stem + "e")
            if found:
                return f"{found} {phones}"
    # The split whose shorter part is longest: "splitpin" and not "s plitpin".
    splits = sorted(range(3, len(word) - 2), key=lambda at: -min(at, len(word) - at))
    for at in splits:
        first, second = lookup(word[:at]), lookup(word[at:])
        if first and second:
            return f"{first} {second}"
    return None


def _by_letters(word: str) -> str:
    phones: list[str] = []
    at = 0
    spoken = word[:-1] if len(word) > 3 and word.endswith("e") and not word.endswith(("ee", "le", "ce", "ge")) else word
    while at < len(spoken):
        for length in range(min(_LONGEST, len(spoken) - at), 0, -1):
            sound = _LETTERS.get(spoken[at : at + length])
            if sound:
                if not (length == 1 and phones and at and spoken[at] == spoken[at - 1]):  # "tt" is one t
                    phones.append(sound)
                at += length
                break
    return " ".join(phones)


def phones_of(said: str, lookup: Lookup) -> str | None:
    """Phones as they are, words by the dictionary (or as proposed) joined; None where nothing sounds like that."""
    parts = said.split()
    if parts and all(part in PHONES for part in parts):
        return said
    found = [lookup(part) or propose(part, lookup) for part in parts]
    return " ".join(one for one in found if one) if found and all(found) else None


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
        is_phones = all(part in PHONES for part in parts)
        wrong = None if is_phones else next((part for part in parts if not _WORD.fullmatch(part)), None)
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


def read_own(path: Path | None) -> dict[str, str]:
    """The person's own file; nothing where there is none. Raises UsageError `pronunciations`."""
    if path is None:
        return {}
    found = read_own_file(path, lambda text: parse_own(text, str(path)), what="pronunciations", slug="pronunciations")
    return found or {}


def merged(sheet: Mapping[str, Pronunciation], own: Said) -> dict[str, str]:
    """How words are said: the sheet's, and before it the person's own. A word that is only written for the voice (no
    phones, nothing it is like) is left out."""
    of_sheet = {word: " ".join(one.phones) or one.like for word, one in sheet.items()}
    return {word: said for word, said in {**of_sheet, **own}.items() if said}
