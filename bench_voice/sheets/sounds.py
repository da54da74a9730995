"""How words sound: phones from the recogniser's own dictionary, and how far two names lie apart.

The dictionary is the CMU pronouncing dictionary that pocketsphinx ships; it is read as data, pocketsphinx is not
loaded. Distance: Levenshtein's edit distance over phones, where exchanging two phones of the same class costs a half.
Classes follow the rows of the IPA chart (plosives by voice, nasals, fricatives, liquids and glides, vowels by height).
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib.util import find_spec
from itertools import product
from pathlib import Path

from bench_voice.core.sheet import Pronunciation

Phones = tuple[str, ...]

_CLASSES = (
    "P T K", "B D G", "M N NG", "F TH", "V DH", "S SH Z ZH", "CH JH", "L R", "W Y HH",
    "IY IH", "EH EY AE", "AH ER UH", "AA AO AW OW", "UW", "AY OY",
)  # fmt: skip
CLASS_OF: dict[str, int] = {phone: index for index, row in enumerate(_CLASSES) for phone in row.split()}
# Weak forms (common practice, no source): "the" has the vowel of "this" before another word; "is", "has" and "have"
# lose their own behind one.
_WEAK: dict[str, tuple[Phones, ...]] = {
    "the": (("DH", "IH"),),
    "is": (("Z",),),
    "has": (("Z",),),
    "have": (("AH", "V"), ("V",)),
}
NEAR = 1.0  # names at most this far apart can be taken for one another


class Dictionary:
    """The lines of the dictionary, sorted; a word is looked up by bisection, so that nothing is parsed beforehand."""

    def __init__(self, text: str) -> None:
        # The file is nearly in this order; sorting it takes a few milliseconds and makes sure.
        self._lines = sorted(text.splitlines())
        self._known: dict[str, tuple[Phones, ...]] = {}

    def __bool__(self) -> bool:
        return bool(self._lines)

    def __contains__(self, word: str) -> bool:
        return bool(self[word])

    def __getitem__(self, word: str) -> tuple[Phones, ...]:
        """The word's pronunciations, at most three; empty for a word that is not there."""
        if word not in self._known:
            entries = (self._line(f"{word} "), self._line(f"{word}(2) "), self._line(f"{word}(3) "))
            self._known[word] = tuple(tuple(entry.split()) for entry in entries if entry)
        return self._known[word]

    def _line(self, start: str) -> str:
        place = bisect_left(self._lines, start)
        line = self._lines[place] if place < len(self._lines) else ""
        return line.removeprefix(start) if line.startswith(start) else ""

    def phones(self) -> set[str]:
        """Every phone that occurs."""
        return {phone for line in self._lines for phone in line.split()[1:]}


@lru_cache(maxsize=1)
def dictionary() -> Dictionary:
    """The dictionary; empty where pocketsphinx is not installed (then nothing is said about sounds)."""
    spec = find_spec("pocketsphinx")
    for folder in (spec.submodule_search_locations or ()) if spec else ():
        path = Path(folder) / "model" / "en-us" / "cmudict-en-us.dict"
        if path.is_file():
            return Dictionary(path.read_text(encoding="utf-8"))
    return Dictionary("")


def words_of(text: str) -> list[str]:
    """The words of a text, lower case, hyphens split."""
    return re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)*", text.lower())


Said = Mapping[str, Pronunciation]
_NONE: Said = {}


def is_known(word: str, said: Said = _NONE) -> bool:
    """Whether the dictionary has the word, or the sheet says how it is said (`said`)."""
    known = dictionary()
    return not known or word in known or word in said


def ways(word: str, said: Said = _NONE) -> tuple[Phones, ...]:
    """The word's pronunciations: the sheet's own before the dictionary's."""
    own = said.get(word)
    return (own.phones,) if own and own.phones else dictionary()[word]


def spoken(word: str) -> tuple[Phones, ...]:
    """The word's pronunciations, and how it is said where other words stand around it."""
    return (*ways(word), *_WEAK.get(word, ()))


def pronounced(word: str, text: str, language: str, say: str = "") -> Pronunciation | tuple[str, str]:
    """How the sheet says `word`: phones ("S P R AA NG L") or known words ("sprawl angle"); else what and mend.

    `say`: how to write it for the voice, beside phones. In another language than English there is no dictionary to
    look words up in: they are for the voice only.
    """
    if words_of(word) != [word]:
        return f'"{word}" is not one word.', "Give each word its own line."
    parts = text.split()
    if all(part in CLASS_OF for part in parts):
        return Pronunciation(word, tuple(parts), say)
    if say:
        lost = next(part for part in parts if part not in CLASS_OF)
        return f'"{lost}" is not a phone.', f"Write CMU phones, perhaps {proposal(word)}."
    like = text.lower()
    if language != "en" or not dictionary():
        return Pronunciation(word, (), like)
    unknown = [part for part in words_of(like) if part not in dictionary()]
    if unknown or not words_of(like):
        what = f'The dictionary does not have "{unknown[0] if unknown else text}".'
        return what, f"Write known words that sound like it, or phones, perhaps {proposal(word)}."
    return Pronunciation(word, sum((dictionary()[part][0] for part in words_of(like)), ()), like)


def sounds(text: str, said: Said = _NONE) -> tuple[Phones, ...]:
    """Up to eight ways to say the text; empty where a word of it is not in the dictionary."""
    known = [ways(word, said) for word in words_of(text)]
    if not known or not all(known):
        return ()
    every = product(*(one[:2] for one in known))
    return tuple(dict.fromkeys(sum(way, ()) for way, _ in zip(every, range(8), strict=False)))


def distance(a: Sequence[str], b: Sequence[str]) -> float:
    """Edit distance over phones: 1 for a phone more or less or another, a half for one of the same class."""
    row = [float(i) for i in range(len(b) + 1)]
    for i, phone in enumerate(a, 1):
        left, row[0] = row[0], float(i)
        for j, other in enumerate(b, 1):
            is_kin = phone in CLASS_OF and CLASS_OF[phone] == CLASS_OF.get(other)
            swap = 0.0 if phone == other else (0.5 if is_kin else 1.0)
            left, row[j] = row[j], min(left + swap, row[j] + 1, row[j - 1] + 1)
    return row[-1]


def apart(one: str, other: str, said: Said = _NONE) -> float | None:
    """How far two names lie apart at the closest of their pronunciations; None where one is not in the dictionary."""
    pairs = [distance(a, b) for a in sounds(one, said) for b in sounds(other, said)]
    return min(pairs) if pairs else None


def keys(phones: Phones) -> set[tuple[int, ...]]:
    """The classes of the phones, whole and with each one left out.

    Two names within `NEAR` share a key (they differ by one phone, or by classes that do not show here), so that
    near names are found by looking keys up instead of comparing every pair.
    """
    classes = tuple(CLASS_OF.get(phone, -1) for phone in phones)
    return {classes} | {classes[:i] + classes[i + 1 :] for i in range(len(classes))}


_LETTERS: tuple[tuple[str, str], ...] = (
    ("tch", "CH"), ("igh", "AY"), ("sch", "SH"), ("ough", "AO"), ("tion", "SH AH N"), ("sion", "ZH AH N"),
    ("ch", "CH"), ("sh", "SH"), ("th", "TH"), ("ph", "F"), ("wh", "W"), ("ck", "K"), ("ng", "NG"), ("qu", "K W"),
    ("kn", "N"), ("wr", "R"), ("ee", "IY"), ("ea", "IY"), ("oo", "UW"), ("ou", "AW"), ("ow", "OW"), ("oi", "OY"),
    ("oy", "OY"), ("ai", "EY"), ("ay", "EY"), ("au", "AO"), ("aw", "AO"), ("oa", "OW"), ("ie", "IY"), ("ue", "UW"),
    ("ar", "AA R"), ("er", "ER"), ("ir", "ER"), ("ur", "ER"), ("or", "AO R"), ("yre", "AY R"), ("a", "AE"), ("b", "B"),
    ("c", "K"), ("d", "D"), ("e", "EH"), ("f", "F"), ("g", "G"), ("h", "HH"), ("i", "IH"), ("j", "JH"), ("k", "K"),
    ("l", "L"), ("m", "M"), ("n", "N"), ("o", "AA"), ("p", "P"), ("q", "K"), ("r", "R"), ("s", "S"), ("t", "T"),
    ("u", "AH"), ("v", "V"), ("w", "W"), ("x", "K S"), ("y", "IY"), ("z", "Z"),
)  # fmt: skip


def proposal(word: str) -> str:
    """A pronunciation to try for a word that the dictionary lacks: from its parts if they are known, else by letters.

    A proposal only: letters say little about English. It is printed for a person to judge, never used by itself.
    """
    known = dictionary()
    for ending, phones in (("'s", "Z"), ("s", "Z"), ("ed", "D"), ("ing", "IH NG"), ("er", "ER")):
        stem = word.removesuffix(ending)
        if stem != word and stem in known:
            return " ".join((*known[stem][0], phones))
    for cut in range(3, len(word) - 2):
        if word[:cut] in known and word[cut:] in known:
            return " ".join((*known[word[:cut]][0], *known[word[cut:]][0]))
    out: list[str] = []
    rest = re.sub(r"(.)\1", r"\1", word.replace("'", "")) if "ee" not in word and "oo" not in word else word
    if len(rest) > 3 and rest.endswith("e"):
        rest = rest[:-1]
    while rest:
        letters, phones = next((pair for pair in _LETTERS if rest.startswith(pair[0])), (rest[0], ""))
        out += phones.split()
        rest = rest[len(letters) :]
    return " ".join(out)
