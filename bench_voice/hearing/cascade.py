"""Which further look an utterance is worth, once the ears have answered. Pure. Each look costs time and processor.

The free text comes first. Where another ear means the same, that is all; where the text is plainly talk, too.
"""

from __future__ import annotations

from collections.abc import Sequence

from bench_voice.core.intents import Expected, Kind
from bench_voice.hearing.evidence import Case, same
from bench_voice.hearing.weigh import chance_of, form_of, load_model, ranking
from bench_voice.ports import Heard, Look
from bench_voice.speech.phrases import Language

# Letters' distance of limited and free text above which other speeds tell nothing either: talk.
FAR = 0.5
_LONG = 9  # words: free text without a meaning and longer than any reading is talk


def wants(expected: Expected, heard: Sequence[Heard], language: Language) -> Look | None:
    """The next look, or None when what is there decides. `heard` grows with each look."""
    case = Case.of(heard, expected, language)
    second = case.second
    if second is None:
        return Look.CLOSER if any(_lacks_fit(h) for h in heard) else None
    if second.free is None or case.others or not any(w.heard.free_words for w in case.frees):
        return None
    if not second.is_limited:
        return None if _is_plain(case, expected) else Look.CLOSER
    if case.agreed is not None:
        # Other speeds of a free ear tell nothing of the first; two free ones they bear out, unless it is asked anyway.
        is_asked = case.is_heard_by_first(case.agreed) or case.held_otherwise(case.agreed)
        return None if is_asked or _is_good(case) else Look.SPEEDS
    if second.free.kind is not Kind.UNKNOWN:
        return None if not (case.firsts or case.third) and same(second.free, second.intent) else Look.SPEEDS
    return Look.SPEEDS if second.heard.words and second.apart <= FAR else None


def _lacks_fit(first: Heard) -> bool:
    """Whether an ear alone, held to a grammar, has told no more than its words."""
    return bool(first.words) and not {"per_frame", "confidence"} & first.evidence.keys()


def _is_plain(case: Case, expected: Expected) -> bool:
    """The first ear and a free one agree with good evidence, or the free texts are longer than what is said to us."""
    if case.agreed is not None:
        # Two of one family: each is held to the step's words first.
        is_theirs = case.third is not None and not case.is_heard_by_first(case.agreed)
        return not is_theirs and _is_good(case)
    longest = max(_LONG, len(expected.hold.phrase.split()) + 2 if expected.hold else 0)
    return all(
        w.free is not None and w.free.kind is Kind.UNKNOWN and len((w.heard.free_words or "").split()) > longest
        for w in case.frees
    )


def _is_good(case: Case) -> bool:
    """Whether what two ears agree on could be recorded as it is."""
    form = form_of(case)
    if form is None or case.agreed is None:
        return True
    model = load_model()
    return chance_of(case.agreed, ranking(case, form, model)) >= model.least(form, case, case.agreed)
