"""Rehearsing a sheet: what to say once, and what the answers tell of its words. Pure.

`prompts` lists what is said at the bench with this sheet: hold phrases, each reading with a number, looks, items with
their lead-ins, the usual commands. Each has its meaning by the same parser as in a session. `mistaken` lays what each
ear heard beside what was said, word by word.

What counts is what would have been decided: in a session two ears that agree are taken, whatever a third one heard. So
a slip of one ear is told only where it mattered.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from difflib import SequenceMatcher

from bench_voice.core.flat import Flat, flat_of
from bench_voice.core.intents import (
    Confirmation,
    Expected,
    Intent,
    ItemChange,
    Judgement,
    Kind,
    Measurement,
    bare,
    id_of,
)
from bench_voice.core.register import CLOSED_BY
from bench_voice.core.sheet import Item, JobSheet, ReadingSpec, Step
from bench_voice.session.outcomes import Outcome
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import Language
from bench_voice.words.say import Speaker
from bench_voice.words.text import words as words_of

ENOUGH_EARS = 2  # that agree
# "Fit new" and "judged" count only after a reading out of limits, so they cannot be heard from a list.
_COMMANDS = (
    Kind.NEXT, Kind.AFFIRM, Kind.NEGATIVE, Kind.REPEAT, Kind.BACK, Kind.WHERE, Kind.LEFT,
    Kind.STAND_BY, Kind.CARRY_ON, Kind.HELP, Kind.STOP,
)  # fmt: skip
_WITH_READINGS = (Kind.UNDO, Kind.REDO)


@dataclass(frozen=True)
class Prompt:
    """One phrase to say. `name`: the sheet's name in it, "" in commands; `step`: id of the step at which it is said."""

    number: int
    words: str
    step: str
    wanted: Intent
    name: str = ""

    @property
    def is_hold(self) -> bool:
        return self.wanted.kind is Kind.CONFIRM


@dataclass(frozen=True)
class Rehearsal:
    """`left_out`: names for which no phrase could be made that means them."""

    prompts: tuple[Prompt, ...]
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class EarHeard:
    """What one ear wrote; `is_right`: by itself it means what was said, read as a session reads it."""

    ear: str
    words: str
    is_right: bool


@dataclass(frozen=True)
class Take:
    """A phrase that was said. `instead`: the words of another meaning that was taken or offered; `other`: the id it
    has on the sheet. `question`: what was asked back."""

    prompt: Prompt
    outcome: Outcome
    ears: tuple[EarHeard, ...] = ()
    instead: str = ""
    other: str | None = None
    question: str = ""

    @property
    def is_plain(self) -> bool:
        """Heard right, and by ears enough that what another one wrote made no difference."""
        enough = min(ENOUGH_EARS, len(self.ears))
        return self.outcome is Outcome.RIGHT and sum(ear.is_right for ear in self.ears) >= enough


@dataclass(frozen=True)
class Mistaken:
    """`said` was heard as `heard` ("": not heard), by these ears, so often."""

    said: str
    heard: str
    ears: tuple[str, ...]
    times: int


def prompts(sheet: JobSheet, language: Language) -> Rehearsal:
    """What to say, in the order of the steps, the commands at the end. Each name once."""
    gathered = _Gathered(sheet, language)
    judgements = tuple(language.judgements)
    for step in sheet.steps:
        if step.hold:
            gathered.add(step, "hold", step.hold.phrase, step.hold.phrase, (Confirmation(step.hold.id),))
        for id_ in step.readings:
            spec = sheet.readings[id_]
            gathered.add(step, "reading", id_, spec.name, _readings(spec, gathered.turn))
        for id_ in step.looks:
            look = Judgement(id_, judgements[gathered.turn % len(judgements)])
            gathered.add(step, "look", id_, sheet.looks[id_].name, (look,))
        for id_ in step.closes:
            gathered.add(step, "item", id_, sheet.items[id_].name, (_closing(sheet.items[id_]),))
    at = next((step for step in sheet.steps if step.readings), sheet.steps[0])
    for kind in (*_COMMANDS, *(_WITH_READINGS if sheet.readings else ())):
        gathered.add(at, kind.value, "", "", (bare(kind),))
    return Rehearsal(tuple(gathered.prompts), tuple(gathered.left_out))


class _Gathered:
    """The prompts while they are gathered, and what no phrase was found for."""

    def __init__(self, sheet: JobSheet, language: Language) -> None:
        self._sheet, self._language, self._speaker = sheet, language, Speaker(language)
        self._done: set[tuple[str, str]] = set()
        self.prompts: list[Prompt] = []
        self.left_out: list[str] = []

    @property
    def turn(self) -> int:
        """How many there are; figures and judgements go by it, so that they differ from one to the next."""
        return len(self.prompts)

    def add(self, step: Step, kind: str, id_: str, name: str, ways: Iterable[Intent]) -> None:
        """The first of the ways that, said at the step, means itself; nothing where `kind` and `id_` were there."""
        if (kind, id_) in self._done:
            return
        self._done.add((kind, id_))
        expected = Expected.at(self._sheet, step)
        for way in ways:
            text = _plain(self._speaker.intent_words(way, expected))
            meant = understand(text, expected, self._language)
            if text and _is_alike(flat_of(meant), flat_of(way)):
                self.prompts.append(Prompt(len(self.prompts) + 1, text, step.id, meant, name))
                return
        self.left_out.append(name or kind)


def _is_alike(a: Flat, b: Flat) -> bool:
    return (a.kind, a.name, a.value) == (b.kind, b.name, b.value)


def _plain(text: str) -> str:
    return " ".join(words_of(text))


def _closing(item: Item) -> Intent:
    return ItemChange(CLOSED_BY[item.kind], item.id)


def _readings(spec: ReadingSpec, turn: int) -> Iterator[Intent]:
    """The reading with a likely figure, every second time without its unit, and others where that cannot be said."""
    for value in _figures(spec, turn):
        for unit in (None, spec.read_in) if turn % 2 and spec.read_in != "count" else (spec.read_in,):
            yield Measurement(Kind.READING, name=spec.id, value=value, unit=unit)


def _figures(spec: ReadingSpec, turn: int) -> Iterator[Decimal]:
    limit = spec.limit
    known = [limit.new, limit.high, limit.low, *(spec.plausible or ()), *(row.high for row in limit.rows)]
    base = next((value for value in known if value), Decimal("4.6"))
    places = int(base.as_tuple().exponent)
    step = Decimal(1).scaleb(places) if places < 0 else Decimal(base >= 20)
    # Other digits each time, on the side where the part can be.
    yield from (base + step * (turn % 7 + 1), base - step * (turn % 7 + 1))
    yield from (value for value in known if value is not None)
    yield from (Decimal("4.6"), Decimal(2))


# -- what the takes tell


def swaps(said: str, heard: str) -> list[tuple[str, str]]:
    """Words that were said and the other words that stand in their place ("" for none)."""
    a, b = said.split(), heard.split()
    blocks = SequenceMatcher(None, a, b, autojunk=False).get_opcodes()
    return [(" ".join(a[i:j]), " ".join(b[k:m])) for what, i, j, k, m in blocks if what in ("replace", "delete")]


def mistaken(takes: Sequence[Take]) -> tuple[Mistaken, ...]:
    """Words heard as others, the most frequent first; what an ear understood all the same is none, and what two
    others outvoted is none."""
    found: dict[tuple[str, str], list[str]] = {}
    for take in takes:
        for ear in () if take.is_plain else take.ears:
            if not ear.is_right and ear.words:
                for pair in swaps(take.prompt.words, ear.words):
                    found.setdefault(pair, []).append(ear.ear)
    rows = [Mistaken(*pair, tuple(dict.fromkeys(ears)), len(ears)) for pair, ears in found.items()]
    return tuple(sorted(rows, key=lambda row: (-row.times, row.said, row.heard)))


def weak_names(takes: Sequence[Take]) -> tuple[str, ...]:
    """Names (of readings, looks, items) to say otherwise: missed or taken for another of the sheet, in the order said.

    A phrase counts that was not heard right and in which the name, not the number, was lost: fewer than two ears wrote
    it, or it was not written by the only one that wrote anything.
    """
    found = []
    for take in takes:
        name = take.prompt.name
        if take.outcome in (Outcome.RIGHT, Outcome.SKIPPED) or not name or take.prompt.is_hold:
            continue
        is_other = take.other is not None and take.other != id_of(take.prompt.wanted)
        if is_other or is_lost(name, take):
            found.append(name)
    return tuple(dict.fromkeys(found))


def name_words(name: str) -> set[str]:
    return set(words_of(name))


def is_lost(name: str, take: Take) -> bool:
    """Whether too few ears kept all words of the name to agree on it, of those that wrote anything."""
    wrote = [ear for ear in take.ears if ear.words]
    kept = [ear for ear in wrote if ear.is_right or not name_words(name) & _lost(take.prompt.words, ear.words)]
    return len(kept) < max(1, min(ENOUGH_EARS, len(wrote)))


def _lost(said: str, heard: str) -> set[str]:
    return {word for lost, _ in swaps(said, heard) for word in lost.split()}


def never_heard(takes: Sequence[Take], ear: str) -> dict[str, str]:
    """Words of the sheet's names that this ear never wrote, by word: what the other ears wrote instead, where they did
    so more often than they wrote the word; else ""."""
    said: dict[str, list[bool]] = {}
    written: dict[str, Counter[str]] = {}
    for take in takes:
        if not any(one.ear == ear for one in take.ears):
            continue
        for one in take.ears:
            pairs = dict(swaps(take.prompt.words, one.words))
            for word in name_words(take.prompt.name):
                if one.ear == ear:
                    said.setdefault(word, []).append(word in one.words.split())
                else:
                    wrote = word if word in one.words.split() else pairs.get(word, "")
                    written.setdefault(word, Counter())[wrote] += bool(wrote)

    def instead(word: str) -> str:
        others = written.get(word, Counter())
        most = max((other for other in others if other != word), key=lambda other: others[other], default="")
        return most if others[most] > others[word] else ""

    return {word: instead(word) for word, heard in said.items() if not any(heard)}


def other_forms(take: Take, language: Language) -> tuple[str, ...]:
    """Other words for the command of a take that was not heard right."""
    forms = language.commands.get(take.prompt.wanted.kind, ()) if not take.prompt.name else ()
    return tuple(form for form in forms if _plain(form) != take.prompt.words)


def counted(takes: Iterable[Take]) -> dict[str, int]:
    takes = tuple(takes)
    return {one.value: sum(take.outcome is one for take in takes) for one in Outcome}
