"""What is known of one meaning, as figures for the model: declared one by one, each with its range and direction. Pure.

A figure of a witness that was not asked is NaN. No figure names a witness: any set of them gives the same ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from bench_voice.core.intents import VALUES, Intent, Kind, Measurement, Unknown
from bench_voice.hearing.candidates import Evidence, Sentence, Text, same
from bench_voice.hearing.twins import has_eight, has_twin, number_words
from bench_voice.phonetics import letter_distance
from bench_voice.words.values import is_plausible

NAN = math.nan
CUT_OFF_DB = -40.0  # of hiss above 4.2 kHz: a telephone's band lets none through
_MISSING = Sentence(Unknown(), "", -16.0, -8.0, -60.0, -30.0)  # not among the best of a network


@dataclass(frozen=True)
class Subject:
    """One meaning of an utterance, and what each witness has of it."""

    evidence: Evidence
    intent: Intent
    sentences: tuple[Sentence, ...]  # one a network
    fars: tuple[float, ...]  # of each text, how unlike it sounds: 0 to 1
    words: str

    @staticmethod
    def of(evidence: Evidence, intent: Intent) -> Subject:
        found = [evidence.sentence_of(ear, intent) for ear in evidence.networks]
        words = _words(found, intent)
        return Subject(
            evidence,
            intent,
            tuple(one or _MISSING for one in found),
            tuple(sorted(letter_distance(text.words, words) for text in evidence.texts)),
            words,
        )

    def least(self, of: Callable[[Sentence], float]) -> float:
        """In the network where it is worse."""
        return min(map(of, self.sentences), default=NAN)

    def most(self, of: Callable[[Sentence], float]) -> float:
        return max(map(of, self.sentences), default=NAN)

    def texts(self, is_for: Callable[[Text], bool]) -> float:
        """Families of recognisers of which one's text is so; NaN where none wrote."""
        texts = self.evidence.texts
        return float(len({text.family for text in texts if is_for(text)})) if texts else NAN


def _words(found: list[Sentence | None], intent: Intent) -> str:
    return next((one.words for one in found if one), "") or intent.heard


@dataclass(frozen=True)
class Feature:
    """`low`, `high`: what it is cut off at. `sign`: 1 where more speaks for the meaning, -1 against it, 0 either."""

    name: str
    doc: str
    low: float
    high: float
    sign: int
    of: Callable[[Subject], float]

    def __call__(self, subject: Subject) -> float:
        found = self.of(subject)
        return found if math.isnan(found) else min(self.high, max(self.low, found))


def _plausible(subject: Subject) -> float:
    intent = subject.intent
    if not isinstance(intent, Measurement):
        return NAN
    spec = subject.evidence.expected.sheet.readings.get(intent.name or "")
    if spec is None:
        return NAN
    values = intent.values_in_limit_unit or (intent.in_limit_unit,)
    return float(all(is_plausible(value, spec) for value in values))


def _is_cut_off(evidence: Evidence) -> bool:
    return evidence.sound.get("hiss_db", 0.0) < CUT_OFF_DB


def _telephone(subject: Subject) -> float:
    if not _is_cut_off(subject.evidence):
        return 0.0
    return 2.0 if has_eight(subject.words, subject.evidence.language) else 1.0


def _text_score(subject: Subject) -> float:
    sure = [text.score for text in subject.evidence.texts if same(text.intent, subject.intent)]
    return max((score for score in sure if not math.isnan(score)), default=NAN)


def _talk(subject: Subject) -> float:
    """Words of the longest text that means nothing."""
    lengths = [len(text.words.split()) for text in subject.evidence.texts if text.intent.kind is Kind.UNKNOWN]
    return float(max(lengths, default=0))


def _pace(subject: Subject) -> float:
    speech_s = subject.evidence.sound.get("speech_s", NAN)
    return speech_s / max(1, len(subject.words.replace(" ", "")))


FEATURES = (
    Feature("lead_low", "lead over the best other meaning, in the network where it is smaller", -16, 12, 1,
            lambda s: s.least(lambda one: one.lead)),
    Feature("lead_high", "lead in the network where it is larger", -16, 12, 1, lambda s: s.most(lambda one: one.lead)),
    Feature("lead_first", "lead in the network that is named first", -16, 12, 1,
            lambda s: s.sentences[0].lead if s.sentences else NAN),
    Feature("fit_low", "fit of a phone against free phones, in the network where it is worse", -8, 0, 1,
            lambda s: s.least(lambda one: one.fit)),
    Feature("fit_high", "fit in the network where it is better", -8, 0, 1, lambda s: s.most(lambda one: one.fit)),
    Feature("loss_low", "fit of the whole sentence, in the network where it is worse", -60, 0, 1,
            lambda s: s.least(lambda one: one.loss)),
    Feature("worst_low", "fit of the worst quarter of a second, in the network where it is worse", -30, 0, 1,
            lambda s: s.least(lambda one: one.worst)),
    Feature("worst_high", "fit of the worst quarter of a second in the other network", -30, 0, 1,
            lambda s: s.most(lambda one: one.worst)),
    Feature("networks", "how many networks were asked", 0, 2, 0, lambda s: float(len(s.sentences))),
    Feature("texts_for", "families of recognisers whose text means it", 0, 3, 1,
            lambda s: s.texts(lambda text: same(text.intent, s.intent))),
    Feature("texts_against", "families whose text means something else", 0, 3, -1,
            lambda s: s.texts(lambda text: text.intent.kind is not Kind.UNKNOWN and not same(text.intent, s.intent))),
    Feature("text_score", "how sure the recogniser is whose text means it", -3, 0, 1, _text_score),
    Feature("texts", "families that wrote anything", 0, 4, 0, lambda s: s.texts(lambda text: True)),
    Feature("far_low", "how unlike the likest text sounds", 0, 1, -1, lambda s: s.fars[0] if s.fars else NAN),
    Feature("far_high", "how unlike the unlikest text sounds", 0, 1, -1, lambda s: s.fars[-1] if s.fars else NAN),
    Feature("talk", "words of the longest text that means nothing", 0, 12, -1, _talk),
    Feature("twin", "a number word that has a twin: fifteen, fifty", 0, 1, -1,
            lambda s: float(has_twin(s.words, s.evidence.language))),
    Feature("telephone", "1: a telephone's band; 2: and an eight, which may be a six", 0, 2, -1, _telephone),
    Feature("snr_db", "the voice over the quietest moments", 0, 50, 1, lambda s: s.evidence.sound.get("snr_db", NAN)),
    Feature("plausible", "a value that the part can have", 0, 1, 1, _plausible),
    Feature("words", "words of its sentence", 1, 10, 0, lambda s: float(len(s.words.split()))),
    Feature("numbers", "number words of its sentence", 0, 8, 0,
            lambda s: float(len(number_words(s.words, s.evidence.language)))),
    Feature("pace", "seconds of speech a letter", 0, 0.4, 0, _pace),
    Feature("value", "a value", 0, 1, 0, lambda s: float(s.intent.kind in VALUES)),
    Feature("question", "words that have to be asked about, whoever hears them", 0, 1, 0,
            lambda s: float(s.intent.kind is Kind.AMBIGUOUS)),
)  # fmt: skip


def figures(evidence: Evidence, intent: Intent) -> dict[str, float]:
    """Of one meaning, by name."""
    subject = Subject.of(evidence, intent)
    return {feature.name: feature(subject) for feature in FEATURES}
