"""The one reader of the pronouncing dictionary: the CMU dictionary that pocketsphinx ships.

It is read as data; pocketsphinx itself is not loaded.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Sequence
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from bench_voice.phonetics.phones import Phones

# One way to say a word, as text; None for a word that isn't known.
Lookup = Callable[[str], str | None]
# All ways to say a word, each its phones; none for a word that isn't known.
Ways = Callable[[str], Sequence[Sequence[str]]]
_NAME = "cmudict-en-us.dict"


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

    def lookup(self, word: str) -> str | None:
        """The first pronunciation as text ("W IY L"); None for a word that is not there."""
        return next((" ".join(way) for way in self[word]), None)

    def phones(self) -> set[str]:
        """Every phone that occurs."""
        return {phone for line in self._lines for phone in line.split()[1:]}

    def lines(self) -> tuple[str, ...]:
        """The entries as they stand: a word, "(2)" behind it for its second way, and its phones."""
        return tuple(self._lines)


def model_folder() -> Path | None:
    """pocketsphinx's English model, whose dictionary this is; None where it is not installed."""
    spec = find_spec("pocketsphinx")
    for folder in (spec.submodule_search_locations or ()) if spec else ():
        model = Path(folder) / "model" / "en-us"
        if (model / _NAME).is_file():
            return model
    return None


def dictionary_file(model: Path) -> Path:
    """Of a model's folder."""
    return model / _NAME


@lru_cache(maxsize=1)
def dictionary() -> Dictionary:
    """The dictionary; empty where pocketsphinx is not installed (then nothing is said about sounds)."""
    model = model_folder()
    return Dictionary(dictionary_file(model).read_text(encoding="utf-8") if model is not None else "")


def words_of(text: str) -> list[str]:
    """The words of a text, lower case, hyphens split."""
    return re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)*", text.lower())


def no_ways(word: str) -> tuple[Phones, ...]:
    """For languages without a pronouncing dictionary."""
    return ()


__all__ = [
    "Dictionary", "Lookup", "Ways", "dictionary", "dictionary_file", "model_folder", "no_ways", "words_of",
]  # fmt: skip
