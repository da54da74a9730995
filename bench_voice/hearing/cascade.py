"""Which further look an utterance is worth, once the ears have answered. Pure. Each look costs time and processor.

The free text comes first. Where another ear means the same, that is all; where the text is plainly talk, too.
"""

from __future__ import annotations

from collections.abc import Sequence

from bench_voice.core.intents import Expected, Kind
from bench_voice.hearing.evidence import Case, same
from bench_voice.hearing.weigh import group_of, load_model, ranking
from bench_voice.ports import Heard, Look
from bench_voice.speech.phrases import Language

# Letters' distance of limited and free text above which other speeds tell nothing either: talk.
FAR = 0.5
_LONG = 9  # words: free text without a meaning and longer than any reading is talk


def wants(expected: Expected, heard: Sequence[Heard], language: Language) -> Look | None:
    """The next look, or None when what is there decides. `heard` grows with each look."""
    case = Case.of(heard, expected, language)
    second = case.second
    if second is None or second.free is None or case.others or not second.heard.free_words:
        return None
    if not second.is_limited:
        return None if _is_plain(case, expected) else Look.LIMITED
    if case.agreed is not None:
        return None  # weak evidence of both; other speeds of one tell nothing of the other
    if second.free.kind is not Kind.UNKNOWN:
        return None if not case.firsts and same(second.free, second.intent) else Look.SPEEDS
    return Look.SPEEDS if second.heard.words and second.apart <= FAR else None


def _is_plain(case: Case, expected: Expected) -> bool:
    """Both ears agree with good evidence, or the free text is longer than anything that is said to us."""
    second = case.second
    assert second is not None
    if case.agreed is not None:
        model = load_model()
        best = ranking(case, "quick", model)[0]
        return best.chance >= model.record["quick"][group_of(best.intent)]
    is_talk = second.free is not None and second.free.kind is Kind.UNKNOWN
    longest = max(_LONG, len(expected.hold.phrase.split()) + 2 if expected.hold else 0)
    return is_talk and len((second.heard.free_words or "").split()) > longest
