"""What the ears' answers say for each meaning that any of them had: named figures, for the model to weigh. Pure.

Two looks at one utterance have figures of their own. *quick*: two ears mean the same by what they heard at once.
*slow*: they don't, or weakly; the free ears have been held to the step's words, and the judging ear asked.
*quick4* and *slow4* with all four ears, *first* and *free* with one ear alone.
"""

from __future__ import annotations

import itertools

from bench_voice.core.intents import VALUES, Intent, Kind, values_of
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.witness import FREE_TEXT, HOLDS, Witness, same, same_number
from bench_voice.phonetics import letter_distance


def figures(case: Case, intent: Intent) -> dict[str, float]:
    """The model's inputs for one meaning; those of a look that wasn't taken are 0."""
    found = _of_sentence(case, intent)
    for first in case.firsts[:1]:
        found |= _of_first(first, intent)
    if case.second is not None:
        found |= _of_free(case.second, intent, "")
        found["tail"] = float(case.is_heard_by_first(intent) and any(same_number(w.tail, intent) for w in case.writers))
    if case.third is not None:
        found |= _of_free(case.third, intent, "third_")
    if case.judge is not None:
        found |= _of_judge(case.judge, intent)
    votes = found.get("first", 0.0) + case.backing(intent)
    return found | {f"votes_{word}": float(votes >= least) for word, least in (("two", 2), ("three", 3), ("four", 4))}


def _of_sentence(case: Case, intent: Intent) -> dict[str, float]:
    words = intent.heard.split()
    digits = "".join(map(str, values_of(intent)))
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
        # A phrase that was forced may still sound like what was meant.
        "first_far": letter_distance(first.heard.words, intent.heard) if first.heard.words else 1.0,
    }


def _of_free(witness: Witness, intent: Intent, which: str) -> dict[str, float]:
    evidence = witness.heard.evidence
    says = witness.free is not None and same(witness.free, intent)
    found = {
        "free": float(says),
        "free_score": max(-5.0, evidence.get("free", -5.0)),
        "free_against": float(witness.means_other(intent)),
        "no_speech": evidence.get("no_speech", 0.0),
        "limited": float(witness.is_limited and same(witness.intent, intent)),
        "weight": witness.weight_of(intent) if witness.is_limited else 0.0,
        "limited_score": max(-8.0, evidence.get("limited", 0.0)),
        # The free text of a talker isn't like the limited one: only words that mean this are compared.
        "apart": witness.apart if witness.is_limited and same(witness.intent, intent) else float(not says),
        "denied": float(witness.is_limited and witness.denied),
    }
    return {f"{which}{name}": value for name, value in found.items()}


def _of_judge(judge: Witness, intent: Intent) -> dict[str, float]:
    says = judge.free is not None and same(judge.free, intent)
    found = {
        "judge_free": float(says),
        "judge_against": float(judge.means_other(intent)),
        "judge_own": judge.heard.evidence["free"],
    }
    found["judge_far"] = letter_distance(judge.heard.free_words or "", intent.heard)
    fit, lead = judge.fit_of(intent), judge.lead_of(intent)
    # Its own words in other letters ("confirmary ..."): how odd the phrase's letters are to it says nothing.
    is_respelt = says and judge.heard.evidence.get("same_sound", 0.0) > 0
    if fit is not None and not is_respelt:
        found |= {
            "judge_fit": max(-15.0, fit.score),
            "judge_tail": max(-5.0, fit.tail),
            "judge_margin": max(-4.0, fit.margin),
            "judge_point": max(-4.0, fit.point),
            "judge_lead": 0.0 if lead is None else max(-6.0, min(6.0, lead)),
            "judge_alone": float(lead is None),
        }
    return found


_SENTENCE = ("value", "question", "hold", "free_kind", "short", "words", "pace", "repeats")
_FIRST = ("first_fit", "first_worst", "first_phones")
_AGAINST = ("first_against", "first_against_fit", "first_far")
_FREE = ("free", "free_score", "free_against", "no_speech", "limited", "weight", "limited_score", "apart", "denied")
_AT_ONCE = ("first", "first_against", "free", "free_against", "free_score", "no_speech")
_THIRD_AT_ONCE = ("third_free", "third_free_against", "third_free_score", "third_no_speech")
_THIRD = tuple(f"third_{name}" for name in _FREE)
_JUDGE_AT_ONCE = ("judge_free", "judge_against", "judge_own", "judge_far")
_JUDGE = (*_JUDGE_AT_ONCE, "judge_fit", "judge_tail", "judge_margin", "judge_point", "judge_lead", "judge_alone")
QUICK = (*_SENTENCE, "free_score", "no_speech")
QUICK4 = (*_SENTENCE, *_AT_ONCE, *_THIRD_AT_ONCE, *_JUDGE_AT_ONCE)
SLOW = (*_SENTENCE, "first", *_FIRST, *_AGAINST, *_FREE, "tail", "votes_two")
SLOW4 = (*SLOW, *_THIRD, *_JUDGE, "votes_three", "votes_four")
FIRST = (*_SENTENCE, *_FIRST)
FREE = (*_SENTENCE, *_FREE)
FORMS = {"quick": QUICK, "slow": SLOW, "quick4": QUICK4, "slow4": SLOW4, "first": FIRST, "free": FREE}
