"""Names of the sheet as people say them -> ids. The only user of rapidfuzz.

Exact words first. Otherwise the nearest name, if it is near enough and leads the second best; side and place words
and numbers must then be the same on both sides, never "nearly". Hold phrases never come here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rapidfuzz import fuzz, process

from bench_voice.core.sheet import JobSheet
from bench_voice.words.numbers import split_compounds
from bench_voice.words.phrases import Language, Phrase
from bench_voice.words.text import words

NEAR = 84  # rapidfuzz ratio, 0 to 100: one or two letters of a word of ten
LEAD = 6
MIN_LETTERS = 5


@dataclass(frozen=True)
class NameTable:
    """Names of one kind of thing. `exact`: words -> ids. `sideless`: the same without side words -> ids."""

    exact: Mapping[Phrase, tuple[str, ...]]
    sideless: Mapping[Phrase, tuple[str, ...]]
    choices: Mapping[str, Phrase] = field(default_factory=dict)
    longest: int = 0
    side_words: frozenset[str] = frozenset()
    fixed_words: frozenset[str] = frozenset()

    def find(self, said: Phrase) -> tuple[str, ...]:
        """Ids whose name these words are; more than one: which one has to be asked."""
        return self.exact.get(said) or self.sideless.get(said) or ()

    def nearest(self, said: Phrase) -> tuple[str, ...]:
        """Ids by likeness, empty when nothing is near. Two names too close to each other: both."""
        text = " ".join(said)
        if len(text) < MIN_LETTERS or len(said) > self.longest + 2:
            return ()
        fixed = self._fixed(said)
        near = process.extract(text, self.choices.keys(), scorer=fuzz.ratio, score_cutoff=NEAR, limit=6)
        fitting = [
            (score, self.choices[choice]) for choice, score, _ in near if self._fixed(self.choices[choice]) == fixed
        ]
        if not fitting:
            return ()
        best = fitting[0][0]
        ids: dict[str, None] = {}
        for score, phrase in fitting:
            if best - score < LEAD:
                ids.update(dict.fromkeys(self.exact[phrase]))
        return tuple(ids)

    def _fixed(self, phrase: Phrase) -> tuple[str, ...]:
        return tuple(word for word in phrase if word in self.side_words or word in self.fixed_words or word.isdigit())


def table(named: Iterable[tuple[str, tuple[str, ...]]], language: Language) -> NameTable:
    """From (id, its names)."""
    exact: dict[Phrase, list[str]] = {}
    sideless: dict[Phrase, list[str]] = {}
    for id_, names in named:
        for name in names:
            phrase = split_compounds(words(name), language.numbers)
            if not phrase:
                continue
            if id_ not in exact.setdefault(phrase, []):
                exact[phrase].append(id_)
            short = tuple(word for word in phrase if word not in language.side_words)
            if short and short != phrase and id_ not in sideless.setdefault(short, []):
                sideless[short].append(id_)
    return NameTable(
        exact={k: tuple(v) for k, v in exact.items()},
        sideless={k: tuple(v) for k, v in sideless.items()},
        choices={" ".join(phrase): phrase for phrase in exact},
        longest=max(map(len, exact), default=0),
        side_words=language.side_words,
        fixed_words=frozenset(language.number_words),
    )


@dataclass(frozen=True)
class SheetNames:
    """The name tables of a sheet, and its hold phrases as words."""

    readings: NameTable
    looks: NameTable
    items: NameTable


_kept: dict[tuple[int, str], tuple[JobSheet, Language, SheetNames]] = {}


def sheet_names(sheet: JobSheet, language: Language) -> SheetNames:
    """Built once for a sheet object; a few are kept."""
    key = (id(sheet), language.code)
    kept = _kept.get(key)
    if kept is not None and kept[0] is sheet and kept[1] is language:
        return kept[2]
    names = SheetNames(
        readings=table(((r.id, (r.name, *r.aliases)) for r in sheet.readings.values()), language),
        looks=table(((k.id, (k.name, *k.aliases)) for k in sheet.looks.values()), language),
        items=table(((i.id, (i.name, *i.aliases)) for i in sheet.items.values()), language),
    )
    while len(_kept) >= 8:
        _kept.pop(next(iter(_kept)), None)
    _kept[key] = (sheet, language, names)
    return names
