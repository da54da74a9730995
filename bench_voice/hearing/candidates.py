"""Every meaning that a witness has for one utterance. Pure.

Witnesses are phone networks, each with its best sentences of the step's graph, and recognisers that write texts. What
they have is put into meanings by one parser, which is asked at most `MOST_ASKED` times.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bench_voice.core.intents import Expected, Intent, Kind, Unknown
from bench_voice.hearing.graph import Graph
from bench_voice.hearing.search import Result, search
from bench_voice.hearing.witness import Key, key_of, same
from bench_voice.ports import Heard
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import Language

MOST_ASKED = 12  # calls of the parser for one utterance
_MOST_MEANINGS = 4  # of one network
_MOST_FRAMES = 600  # of 20 ms: what is longer is talk, and would take too long to search
# Recognisers of one family of networks mishear alike; what two families hear alike is heard twice.
_FAMILY = {"whisper-tiny": "whisper"}


class Parser:
    """`understand` for one utterance: each text once, so many calls at most; beyond them nothing is understood."""

    def __init__(self, expected: Expected, language: Language) -> None:
        self._expected, self._language = expected, language
        self._known: dict[str, Intent] = {}

    @property
    def calls(self) -> int:
        return len(self._known)

    def __call__(self, text: str) -> Intent:
        if text not in self._known:
            if not text or len(self._known) >= MOST_ASKED:
                return Unknown(heard=text)
            self._known[text] = understand(text, self._expected, self._language)
        return self._known[text]


@dataclass(frozen=True)
class Text:
    """What a recogniser wrote, and what it means."""

    ear: str
    words: str
    intent: Intent
    is_free: bool = True  # nothing held it to the step's words
    score: float = math.nan  # natural logarithm of its chance, a word

    @property
    def family(self) -> str:
        return _FAMILY.get(self.ear, self.ear)


@dataclass(frozen=True)
class Sentence:
    """One of a network's best: `lead` over the best other meaning, negative where it is not the best; `fit`: of a
    phone, less the likeliest phones' (0 is best); `loss`: the same of the whole; `worst`: of a quarter of a second."""

    intent: Intent
    words: str
    lead: float
    fit: float
    loss: float = 0.0
    worst: float = 0.0


@dataclass(frozen=True)
class Evidence:
    """`networks`: by ear, its best sentences; `sound`: figures of the utterance; `has_failed`: one hung or died."""

    expected: Expected
    language: Language
    networks: Mapping[str, tuple[Sentence, ...]]
    texts: tuple[Text, ...]
    sound: Mapping[str, float]
    has_failed: bool
    calls: int  # of the parser

    @property
    def candidates(self) -> tuple[Intent, ...]:
        """Each meaning once: the networks' best ones first."""
        ranked = sorted((one for found in self.networks.values() for one in found), key=lambda one: -one.lead)
        found: dict[Key, Intent] = {}
        for intent in (*(one.intent for one in ranked), *(text.intent for text in self.texts)):
            if intent.kind is not Kind.UNKNOWN:
                found.setdefault(key_of(intent), intent)
        return tuple(found.values())

    def sentence_of(self, ear: str, intent: Intent) -> Sentence | None:
        return next((one for one in self.networks[ear] if same(one.intent, intent)), None)


def evidence_of(expected: Expected, heard: Sequence[Heard], language: Language, graph: Graph | None = None) -> Evidence:
    """`graph`: of what may be said now; without it no network is asked."""
    parser = Parser(expected, language)
    texts = []
    for one in heard:
        words = one.words if one.free_words is None else one.free_words
        if words:
            score = one.evidence.get("free", math.nan)
            texts.append(Text(one.ear, words, parser(words), one.free_words is not None, score))
    networks: dict[str, tuple[Sentence, ...]] = {}
    asked = [one for one in heard if one.phones is not None and len(one.phones) <= _MOST_FRAMES] if graph else []
    for place, one in enumerate(asked):
        left = (MOST_ASKED - parser.calls) // (len(asked) - place)
        before = parser.calls

        def meaning(text: str, least: int = before + left) -> Key | None:
            return None if parser.calls >= least and text not in parser._known else _key_or_text(parser(text), text)

        assert graph is not None
        networks[one.ear] = sentences(search(graph, one.phones, meaning, _MOST_MEANINGS), parser)
    sound: dict[str, float] = {}
    for one in heard:
        sound |= {name: value for name, value in one.evidence.items() if name in ("speech_s", "snr_db", "hiss_db")}
    failed = any(one.evidence.get("timeout") or one.evidence.get("crash") for one in heard)
    return Evidence(expected, language, networks, tuple(texts), sound, failed, parser.calls)


def _key_or_text(intent: Intent, text: str) -> Key:
    """What means nothing to us is another meaning all the same: "the switch is not locked"."""
    return ("", text) if intent.kind is Kind.UNKNOWN else key_of(intent)


def sentences(result: Result, parser: Parser) -> tuple[Sentence, ...]:
    found = []
    for place, one in enumerate(result.found):
        rivals = [other.score for at, other in enumerate(result.found) if at != place]
        lead = one.score - max(rivals) if rivals else ALONE
        loss = one.score - result.free
        fit = loss / max(1, one.phones)
        found.append(Sentence(parser(one.words), one.words, lead, fit, loss, one.worst))
    return tuple(found)


ALONE = 16.0  # lead of the only meaning that was found

__all__ = ["Evidence", "Key", "Parser", "Sentence", "Text", "evidence_of", "key_of", "same", "sentences"]
