"""What one ear's answer to one utterance means, and what that ear gives its word for. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from bench_voice.core.intents import (
    ITEM_KINDS,
    VALUES,
    Expected,
    Intent,
    ItemChange,
    Kind,
    Measurement,
    Question,
    Unknown,
    options_of,
    words_of,
)
from bench_voice.hearing.mend import mended, respelt, said_once, with_name
from bench_voice.phonetics import letter_distance
from bench_voice.ports import Fit, Heard, Sounding
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import Language

HOLDS = frozenset({Kind.CONFIRM, Kind.AFFIRM, Kind.NEGATIVE})
# Their text is free, so the first ear can only hear how they begin.
FREE_TEXT = frozenset({Kind.NOTE, Kind.REMINDER, Kind.DONE, Kind.JUDGED, *ITEM_KINDS})
# A command is none of these: no value, no free text, nothing that passes a hold, and no question back.
NO_COMMAND = VALUES | HOLDS | FREE_TEXT | {Kind.UNKNOWN, Kind.AMBIGUOUS}
NEAR = 0.30  # letters' distance of free and limited text below which they are one utterance (a quarter of the phones)
NEAR_HOLD = 0.15  # the same for a hold phrase
HALF = 0.5  # weight that the alternatives of one meaning must have together
# Free ears of one family of networks mishear alike; what two families hear alike is heard twice.
_FAMILY = {"whisper-tiny": "whisper"}
_LONGEST_NAME = 4  # words
_NOTHING = Unknown()

Key = tuple[object, ...]


def key_of(intent: Intent) -> Key:
    """Meaning. A unit that only one ear heard makes no difference where it is the unit that is taken anyway;
    questions are told apart by what they ask and offer."""
    options = tuple(key_of(option) for option in options_of(intent))
    if isinstance(intent, Measurement) and not intent.values:
        return (intent.kind, intent.name, str(intent.value), intent.in_limit_unit or intent.unit, options)
    if isinstance(intent, ItemChange) and intent.kind in ITEM_KINDS and intent.name is not None:
        return (intent.kind, intent.name)  # "section filter" is the suction filter, however it was spelt
    return (*intent.meaning(), intent.asks if isinstance(intent, Question) else None, options)


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
    denials: frozenset[str] = field(kw_only=True)  # words that turn a sentence round, or leave it open
    tail: Intent = _NOTHING  # of a free text without a meaning: the reading at its end
    opinions: tuple[tuple[Intent, Fit], ...] = ()  # of a judging ear: what was heard, and how it fits
    soundings: tuple[tuple[Intent, Sounding], ...] = ()  # the same by a phone network
    by_phones: Intent = _NOTHING  # the reading that the network hears

    def weight_of(self, intent: Intent) -> float:
        return next((weight for one, weight in self.meanings if same(one, intent)), 0.0)

    def fit_of(self, intent: Intent) -> Fit | None:
        """Of the wording of that meaning that fits best; None where it wasn't asked about."""
        fits = [fit for one, fit in self.opinions if same(one, intent)]
        return max(fits, key=lambda fit: fit.score, default=None)

    def sounding_of(self, intent: Intent) -> Sounding | None:
        """Of the wording of that meaning whose phones fit best."""
        return max((found for one, found in self.soundings if same(one, intent)), key=lambda s: s.fit, default=None)

    def lead_of(self, intent: Intent, is_over_values: bool = False) -> float | None:
        """By how much that meaning fits better than any other (value) that was heard; None where nothing else was."""
        mine = self.fit_of(intent)
        rivals = [pair for pair in self.opinions if not is_over_values or pair[0].kind in VALUES]
        others = [fit.score for one, fit in rivals if not same(one, intent)]
        return mine.score - max(others) if mine is not None and others else None

    def means_other(self, intent: Intent) -> bool:
        """Its free text means something, and something else."""
        return self.free is not None and self.free.kind is not Kind.UNKNOWN and not same(self.free, intent)

    @property
    def family(self) -> str:
        return _FAMILY.get(self.heard.ear, self.heard.ear)

    @property
    def is_limited(self) -> bool:
        """Whether the free ear has been held to the step's words yet."""
        return "limited" in self.heard.evidence

    @property
    def apart(self) -> float:
        """How unlike the limited and the free words sound: 0 the same, 1 nothing in common."""
        return letter_distance(self.heard.words, self.heard.free_words or "")

    def backs(self, intent: Intent) -> bool:
        """A free ear's word for it: its free text means it, or means nothing but sounds like the held words that do."""
        if self.free is None or self.free.kind is not Kind.UNKNOWN:
            return self.free is not None and same(self.free, intent)
        near = NEAR_HOLD if intent.kind in HOLDS else NEAR
        is_like = self.apart <= near and not self.denied and (intent.kind not in HOLDS or self.begins_alike)
        return is_like and self.weight_of(intent) >= HALF and same(self.intent, intent)

    @property
    def begins_alike(self) -> bool:
        """Free and held words have the same first one: "conform" is held to "confirm", and means something else."""
        return (self.heard.free_words or "").split()[:1] == self.heard.words.split()[:1]

    @property
    def borne_out(self) -> Intent:
        """What a free ear stands for by itself: its free text, or its held words where its free text bears them out."""
        if self.free is not None and self.free.kind is not Kind.UNKNOWN:
            return self.free
        # "Conform" sounds like "confirm": what free ears alone make of a hold's words is never its phrase, nor are
        # forced words a name that the sheet doesn't have.
        is_forced = self.intent.kind in HOLDS or (self.intent.kind in FREE_TEXT and bool(words_of(self.intent)))
        return self.intent if not is_forced and self.backs(self.intent) else _NOTHING

    @property
    def denied(self) -> bool:
        """The free text has a negation or an alternative that the limited words lack."""
        return self.negates(self.heard.words)

    def negates(self, words: str) -> bool:
        """Its free text has a negation or an alternative that those words lack: "plug is not out"."""
        return bool((set((self.heard.free_words or "").split()) - set(words.split())) & self.denials)


def witness(heard: Heard, expected: Expected, language: Language, is_alone: bool) -> Witness:
    """`is_alone`: no other ear is there to bear out a free text that only sounds like a command."""
    weights: dict[Key, float] = {}
    intents: dict[Key, Intent] = {}
    is_free = heard.free_words is not None
    if heard.free_words is not None:
        heard = replace(
            heard,
            words=said_once(heard.words, language),
            free_words=said_once(heard.free_words, language),
            alternatives=tuple((said_once(words, language), weight) for words, weight in heard.alternatives),
        )
    for words, weight in ((heard.words, heard.weight), *heard.alternatives):
        if words:
            intent = understand(mended(words, language) if is_free else words, expected, language)
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
    tail: Intent = _NOTHING
    if free is not None and free.kind is Kind.UNKNOWN and heard.free_words:
        tail = tail_of(mended(heard.free_words, language), expected, language)
    asked = {fit.words for fit in heard.fits} | {sounding.words for sounding in heard.soundings}
    meant = {words: understand(words, expected, language) for words in asked}
    opinions = tuple((meant[fit.words], fit) for fit in heard.fits)
    soundings = tuple((meant[one.words], one) for one in heard.soundings)
    by_phones = understand(heard.by_phones, expected, language) if heard.by_phones else _NOTHING
    return Witness(heard, best, free, found, tail, opinions, soundings, by_phones, denials=language.denials)


def tail_of(text: str, expected: Expected, language: Language) -> Intent:
    """The reading at the end of a free text whose beginning means nothing: it bears out the number, not the name."""
    words = text.split()
    for start in range(1, min(_LONGEST_NAME, len(words)) + 1):
        intent = understand(" ".join(words[start:]), expected, language)
        if intent.kind is Kind.READING:
            return intent
    return _NOTHING
