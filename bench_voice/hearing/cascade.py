"""Which further look an utterance is worth, once the ears have answered. Pure. Each look costs time and processor.

The free text comes first. Where another ear means the same, that is all; where the text is plainly talk, too.
"""

from __future__ import annotations

from collections.abc import Sequence

from bench_voice.core.intents import VALUES, Expected, Kind, words_of
from bench_voice.hearing.doubt import is_lost_six, needs_opinion
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.guesses import guesses, is_unnamed
from bench_voice.hearing.number_words import has_twin, is_row_of_digits
from bench_voice.hearing.weigh import chance_of, form_of, lacks_fit, load_model, ranking
from bench_voice.hearing.witness import FREE_TEXT, HOLDS
from bench_voice.ports import Heard, Pass
from bench_voice.words.phrases import Language

_LONG = 9  # words: free text without a meaning and longer than any reading is talk


def wants(expected: Expected, heard: Sequence[Heard], language: Language) -> Pass | None:
    """The next look, or None when what is there decides. `heard` grows with each look."""
    case = Case.of(heard, expected, language)
    if case.second is None:
        return Pass.CLOSER if any(lacks_fit(h) for h in heard) else None
    if case.second.free is None or not any(w.heard.free_words for w in case.writers):
        return None
    if _is_settled(case, language):
        return None
    if not any(w.is_limited for w in case.frees):
        return None if _is_talk(case, expected) else Pass.CLOSER
    if case.is_judge_wanted:
        return Pass.OPINION
    networks = [w for w in case.writers if w.heard.has_phones]
    if len(networks) < 2:
        return None
    is_unasked = all(w.heard.by_phones is None for w in networks)
    return Pass.SOUNDS if (expected.waits and is_unasked) or guesses(case, expected, language) else None


def is_plain_to_all(expected: Expected, heard: Sequence[Heard], language: Language) -> bool:
    """Whether one more free ear would change nothing: the first ear, a free one and the judging one of another family
    mean the same, it is settled, and nothing that ears mishear alike or that must not be missed (a denial in a hold).
    Measured: docs/hearing.md, Time."""
    case = Case.of(heard, expected, language) if heard else None
    agreed = case.agreed if case is not None else None
    if case is None or agreed is None or case.judge is None or len(case.writers) < 2 or not case.firsts:
        return False
    if not case.is_heard_by_first(agreed) or not case.is_written_by_all(agreed):
        return False
    if agreed.kind in HOLDS or agreed.kind is Kind.AMBIGUOUS or (agreed.kind in FREE_TEXT and words_of(agreed)):
        return False
    if agreed.kind in VALUES and (has_twin(agreed, language) or is_row_of_digits(agreed, language)):
        return False
    return _is_settled(case, language)


def texts_for(which: Pass, expected: Expected, heard: Sequence[Heard], language: Language) -> tuple[str, ...]:
    """What the look asks about: each text with a meaning that any ear heard, or what none did."""
    case = Case.of(heard, expected, language)
    return guesses(case, expected, language) if which is Pass.SOUNDS else case.wordings


def _is_settled(case: Case, language: Language) -> bool:
    """The first ear and free ones agree, and the figures are good: no judge is needed."""
    agreed = case.agreed
    if agreed is None or is_unnamed(agreed):
        return False
    if len(case.writers) > 1 and (not case.is_well_heard(agreed) or needs_opinion(agreed, case, language)):
        return False
    if agreed.kind in VALUES and is_lost_six(agreed, case, language):
        return False  # its vowel may tell
    is_alike = agreed.kind in VALUES and has_twin(agreed, language)
    if case.judge is not None and is_alike and not case.judge.backs(agreed):
        return False  # "fifteen" may be "fifty" to every ear; its phones tell
    return _is_good(case)


def _is_talk(case: Case, expected: Expected) -> bool:
    """The free texts mean nothing and are longer than what is said to us."""
    longest = max(_LONG, len(expected.hold.phrase.split()) + 2 if expected.hold else 0)
    return all(
        w.free is not None and w.free.kind is Kind.UNKNOWN and len((w.heard.free_words or "").split()) > longest
        for w in case.writers
    )


def _is_good(case: Case) -> bool:
    """Whether what two ears agree on could be recorded as it is."""
    form = form_of(case)
    if form is None or case.agreed is None:
        return True
    model = load_model()
    return chance_of(case.agreed, ranking(case, form, model)) >= model.least(form, case, case.agreed)
