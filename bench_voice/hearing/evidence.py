"""What the ears' answers say for each meaning that any of them had: named figures, for the model to weigh. Pure.

Two looks at one utterance have figures of their own. *quick*: the first ear and the free text of the second mean the
same. *slow*: they don't, and the second ear has been held to the step's words and has heard two more speeds.
*first* and *free*: only one of the two ears is installed.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from bench_voice.core.intents import Expected, Intent, Kind
from bench_voice.hearing.likeness import distance, sound_key
from bench_voice.ports import Heard
from bench_voice.speech.phrases import Language
from bench_voice.speech.understand import understand

VALUES = frozenset({Kind.READING, Kind.CORRECTION})
HOLDS = frozenset({Kind.CONFIRM, Kind.AFFIRM, Kind.NEGATIVE})
# Their text is free, so the first ear can only hear how they begin.
FREE_TEXT = frozenset(
    {Kind.NOTE, Kind.REMINDER, Kind.DONE, Kind.FITTED, Kind.TAKEN_OFF, Kind.REMOVED, Kind.PUT_BACK, Kind.JUDGED}
)
_LONGEST_COMMAND = 4  # words
NEAR = 0.30  # letters' distance of free and limited text below which they are one utterance (a quarter of the phones)
HALF = 0.5  # weight that the alternatives of one meaning must have together
_NAME_NEAR = 0.34  # letters' distance of a free text's beginning and a name below which it is that name
_LONGEST_NAME = 4  # words
_NOTHING = Intent(Kind.UNKNOWN)
_NEGATIONS = frozenset(
    {"not", "no", "never", "don't", "isn't", "aren't", "can't", "cannot", "or", "if", "nicht", "kein", "keine", "oder"}
)

Key = tuple[object, ...]


def key_of(intent: Intent) -> Key:
    """Meaning. A unit that only one ear heard makes no difference where it is the unit that is taken anyway;
    questions are told apart by what they ask and offer."""
    options = tuple(key_of(option) for option in intent.options)
    if intent.kind in VALUES and not intent.values:
        return (intent.kind, intent.name, str(intent.value), intent.in_limit_unit or intent.unit, options)
    return (*intent.meaning(), intent.asks, options)


def same_number(a: Intent, b: Intent) -> bool:
    """The same value of readings whose names may differ."""
    if a.kind is not Kind.READING or b.kind is not Kind.READING or a.value is None:
        return False
    units = a.unit == b.unit or a.unit is None or b.unit is None
    return str(a.value) == str(b.value) and units


def same(a: Intent, b: Intent) -> bool:
    return a.kind is not Kind.UNKNOWN and key_of(a) == key_of(b)


@dataclass(frozen=True)
class Witness:
    """One answer of one ear. `meanings`: weight of each meaning among its words and alternatives."""

    heard: Heard
    intent: Intent
    free: Intent | None
    meanings: tuple[tuple[Intent, float], ...]
    tail: Intent = _NOTHING  # of a free text without a meaning: the reading at its end

    def weight_of(self, intent: Intent) -> float:
        return next((weight for one, weight in self.meanings if same(one, intent)), 0.0)

    @property
    def is_limited(self) -> bool:
        """Whether the free ear has been held to the step's words yet."""
        return "limited" in self.heard.evidence

    @property
    def apart(self) -> float:
        """How unlike the limited and the free words sound: 0 the same, 1 nothing in common."""
        return distance(self.heard.words, self.heard.free_words or "")

    @property
    def denied(self) -> bool:
        """The free text has a negation or an alternative that the limited words lack."""
        more = set((self.heard.free_words or "").split()) - set(self.heard.words.split())
        return bool(more & _NEGATIONS)


def witness(heard: Heard, expected: Expected, language: Language, is_alone: bool) -> Witness:
    """`is_alone`: no other ear is there to bear out a free text that only sounds like a command."""
    weights: dict[Key, float] = {}
    intents: dict[Key, Intent] = {}
    for words, weight in ((heard.words, heard.weight), *heard.alternatives):
        if words:
            intent = understand(words, expected, language)
            intents.setdefault(key_of(intent), intent)
            weights[key_of(intent)] = weights.get(key_of(intent), 0.0) + weight
    ranked = sorted(weights, key=lambda key: -weights[key])
    free = None
    if heard.free_words is not None:
        text = mended(heard.free_words, language)
        text = text if is_alone else respelt(text, language)
        free = understand(text, expected, language) if text else _NOTHING
        if free.kind is Kind.UNKNOWN:
            renamed = with_name(text, expected, language)
            free = understand(renamed, expected, language) if renamed else free
    best = intents[ranked[0]] if ranked else replace(_NOTHING, heard=heard.words)
    found = tuple((intents[key], weights[key]) for key in ranked if intents[key].kind is not Kind.UNKNOWN)
    tail = _NOTHING
    if free is not None and free.kind is Kind.UNKNOWN and heard.free_words:
        tail = tail_of(mended(heard.free_words, language), expected, language)
    return Witness(heard, best, free, found, tail)


# How a free text spells what can't be meant there: beside "point" only a number stands. Own list, from the
# development set.
_NUMBERS = {"to": "two", "too": "two", "for": "four", "fore": "four", "won": "one", "ate": "eight", "tree": "three"}
_MENDS: tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    (re.compile(r"\b(?:not|naught|nod) point\b"), "nought point"),
    (re.compile(r"(?<=\bpoint )(to|too|for|fore|won|ate|tree)\b"), lambda m: _NUMBERS[m[1]]),
    (re.compile(r"\b(to|too|for|fore|won|ate|tree)(?= point\b)"), lambda m: _NUMBERS[m[1]]),
    (re.compile(r"\bnew(?:ton|t)? (?=met(?:er|re)s?\b)"), "newton "),
)


def mended(free_words: str, language: Language) -> str:
    """Free text with numbers beside "point" spelt as numbers. English only."""
    if language.code == "en":
        for pattern, instead in _MENDS:
            free_words = pattern.sub(instead, free_words)
    return free_words


def respelt(free_words: str, language: Language) -> str:
    """ "A firm" is *affirm*: free text of a few words that sounds exactly like a command is that command. Never a hold
    phrase, and never for one ear: what it gives must still be heard by the other."""
    if len(free_words.split()) > _LONGEST_COMMAND or tuple(free_words.split()) in language.command_of:
        return free_words
    key = sound_key(free_words)
    for phrase in language.command_of:
        if len(phrase) <= _LONGEST_COMMAND and sound_key(" ".join(phrase)) == key:
            return " ".join(phrase)
    return free_words


def with_name(text: str, expected: Expected, language: Language) -> str:
    """ "Rope with eight point nine" at a step that waits for the rope width: free text whose beginning, before a
    number, sounds like the name of a reading that is wanted. Empty for other texts."""
    words = text.split()
    wanted = [expected.sheet.readings[name] for name in dict.fromkeys((*expected.waits, *expected.step.readings))]
    found: tuple[float, str] = (_NAME_NEAR, "")
    for spec in wanted:
        for name in (spec.name, *spec.aliases):
            length = len(name.split())
            for head in range(max(1, length - 1), min(length + 2, len(words))):
                if words[head] in language.number_words:
                    far = distance(" ".join(words[:head]), name)
                    found = min(found, (far, " ".join((name.lower(), *words[head:]))))
    return found[1]


def tail_of(text: str, expected: Expected, language: Language) -> Intent:
    """The reading at the end of a free text whose beginning means nothing: it bears out the number, not the name."""
    words = text.split()
    for start in range(1, min(_LONGEST_NAME, len(words)) + 1):
        intent = understand(" ".join(words[start:]), expected, language)
        if intent.kind is Kind.READING:
            return intent
    return _NOTHING


@dataclass(frozen=True)
class Case:
    """All answers to one utterance. `firsts`: ears held to a grammar; `second`: the free ear at its own speed;
    `others`: the same at other speeds."""

    firsts: tuple[Witness, ...]
    second: Witness | None
    others: tuple[Witness, ...]

    @staticmethod
    def of(heard: Sequence[Heard], expected: Expected, language: Language) -> Case:
        alone = len({h.ear for h in heard}) == 1
        found = [witness(h, expected, language, alone) for h in heard]
        free = [w for w in found if w.free is not None]
        base = next((w for w in free if w.heard.speed == 1.0), None)
        return Case(tuple(w for w in found if w.free is None), base, tuple(w for w in free if w is not base))

    @cached_property
    def agreed(self) -> Intent | None:
        """What a first ear and the free text both mean; with the unit where one of them heard it."""
        if self.second is None or self.second.free is None:
            return None
        for first in self.firsts:
            if same(first.intent, self.second.free):
                return first.intent if first.intent.unit else self.second.free
        return None

    @cached_property
    def candidates(self) -> tuple[Intent, ...]:
        """Every meaning that any witness had, each once."""
        found: dict[Key, Intent] = {}
        seconds = [w for w in (self.second, *self.others) if w is not None]
        intents: Iterable[Intent] = (
            *([self.agreed] if self.agreed is not None else []),
            *(w.free for w in seconds if w.free is not None),
            *(w.intent for w in self.firsts),
            *(intent for w in seconds for intent, _ in w.meanings),
        )
        for intent in intents:
            if intent.kind is not Kind.UNKNOWN:
                found.setdefault(key_of(intent), intent)
        return tuple(found.values())

    def bears_out(self, intent: Intent, odd: Callable[[str], bool]) -> bool:
        """Whether there is evidence enough to record without both ears' agreement, however good the figures look.

        Either a first ear has it and the second has it among what it thought of, or its number under a name that it
        didn't catch; or the second ear had the same at all three speeds, each with half of its weight, and its free
        text says so too. `odd`: numbers as nobody says them, which it invents (and equal digits in a row).
        """
        second = self.second
        if second is None:
            return bool(self.firsts)
        if _first_says(self, intent):
            return (
                second.weight_of(intent) > 0.3
                or (second.free is not None and same(second.free, intent))
                or any(same_number(w.tail, intent) for w in (second, *self.others))
            )
        if any(_is_in_other_unit(first.intent, intent) for first in self.firsts):
            return False
        if len(self.others) < 2 or any(w.weight_of(intent) < HALF for w in (second, *self.others)):
            return False
        says = second.free is not None and same(second.free, intent)
        is_near = second.free is not None and second.free.kind is Kind.UNKNOWN and second.apart <= NEAR
        return (says or is_near) and not odd(intent.heard)

    @property
    def speech_s(self) -> float:
        witnesses = (*self.firsts, *([self.second] if self.second else []))
        return max((w.heard.evidence.get("speech_s", 1.0) for w in witnesses), default=0.0)


def _is_in_other_unit(a: Intent, b: Intent) -> bool:
    """The same digits in another unit: one of the two ears dropped or made up a word that matters."""
    return a.kind is b.kind is Kind.READING and str(a.value) == str(b.value) and a.in_limit_unit != b.in_limit_unit


def _first_says(case: Case, intent: Intent) -> bool:
    return any(same(first.intent, intent) for first in case.firsts)


def figures(case: Case, intent: Intent) -> dict[str, float]:
    """The model's inputs for one meaning; those of a look that wasn't taken are 0."""
    found = _of_sentence(case, intent)
    for first in case.firsts[:1]:
        found |= _of_first(first, intent)
    if case.second is not None:
        found |= _of_second(case, case.second, intent)
    return found


def _of_sentence(case: Case, intent: Intent) -> dict[str, float]:
    words = intent.heard.split()
    digits = "".join(str(v) for v in (intent.value, *intent.values) if v is not None)
    return {
        "value": float(intent.kind in VALUES),
        "question": float(intent.kind is Kind.AMBIGUOUS),
        "hold": float(intent.kind in HOLDS),
        "free_kind": float(intent.kind in FREE_TEXT),
        "short": float(len(words) <= 1),
        "words": min(len(words), 8) / 8,
        "pace": min(case.speech_s / max(1, len(intent.heard)), 0.3),
        "repeats": float(any(a == b for a, b in itertools.pairwise(digits))),
    }


def _of_first(first: Witness, intent: Intent) -> dict[str, float]:
    evidence = first.heard.evidence
    says = same(first.intent, intent)
    sign = 1.0 if says else 0.0
    fit = max(-4.0, evidence.get("per_frame", -4.0))
    worst = max(-8.0, evidence.get("worst", -8.0))
    other = first.intent.kind is not Kind.UNKNOWN and not says
    return {
        "first": sign,
        "first_fit": sign * fit,
        "first_worst": sign * worst,
        "first_phones": sign * min(2.0, evidence.get("phones", 2.0)),
        "first_against": float(other),
        "first_against_fit": float(other) * (4.0 + fit),
    }


def _of_second(case: Case, second: Witness, intent: Intent) -> dict[str, float]:
    says_free = second.free is not None and same(second.free, intent)
    says = same(second.intent, intent)
    others_free = [w.free is not None and same(w.free, intent) for w in case.others]
    others = [same(w.intent, intent) for w in case.others]
    evidence = second.heard.evidence
    against = second.free is not None and second.free.kind is not Kind.UNKNOWN and not says_free
    # The free text of a talker isn't like the limited one: only words that mean this are compared.
    apart = min(
        (w.apart for w in (second, *case.others) if w.is_limited and same(w.intent, intent)),
        default=float(not says_free),
    )
    return {
        "free": float(says_free),
        "free_score": max(-5.0, evidence.get("free", -5.0)),
        "free_against": float(against),
        "no_speech": evidence.get("no_speech", 0.0),
        "limited": float(says),
        "weight": second.weight_of(intent),
        "limited_score": max(-8.0, evidence.get("limited", 0.0)),
        "apart": apart,
        "denied": float(second.is_limited and second.denied),
        "others_free": float(sum(others_free)),
        "tail": float(_first_says(case, intent) and any(same_number(w.tail, intent) for w in (second, *case.others))),
        "others": float(sum(others)),
        "others_weight": sum(w.weight_of(intent) for w in case.others),
        "all": float(says_free and len(others) > 0 and all(others_free)),
        "all_limited": float(says and len(others) > 0 and all(others)),
    }


_SENTENCE = ("value", "question", "hold", "free_kind", "short", "words", "pace", "repeats")
_FIRST = ("first_fit", "first_worst", "first_phones")
_SECOND = ("free", "free_score", "free_against", "no_speech", "limited", "weight", "limited_score", "apart", "denied",
           "tail", "others_free", "others", "others_weight", "all", "all_limited")  # fmt: skip
QUICK = (*_SENTENCE, *_FIRST, "free_score", "no_speech")
SLOW = (*_SENTENCE, "first", *_FIRST, "first_against", "first_against_fit", *_SECOND)
FIRST = (*_SENTENCE, *_FIRST)
FREE = (*_SENTENCE, *_SECOND)
