"""From what the ears heard to a decision: record, ask, say again, or nothing. Pure.

Independent ears are double entry: where two agree on the *meaning*, it is recorded and read back. Where only one has a
meaning, or they differ, it is asked about in words that name what was heard, or has to be said again. Holds, *affirm*
and *negative* are never offered: only agreement takes them. How good the evidence is, `weigh` says.

A free ear brings three witnesses that aren't independent of each other: `words` held to the step's words, the weights
of its alternatives, and `free_words`, which tell talk from commands: forced words that don't sound like the free text
are talk.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import product

from bench_voice.core.intents import VALUES, Expected, Intent, Kind, id_of, words_of
from bench_voice.hearing.decision import Act, Decision, ask_about, record
from bench_voice.hearing.doubt import in_doubt
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.last_word import last_word
from bench_voice.hearing.sounded import is_clear, is_plain, sounds_as_well
from bench_voice.hearing.weigh import HARMLESS, OFFERED, Model, chance_of, form_of, group_of, load_model, ranking
from bench_voice.hearing.witness import FREE_TEXT, HALF, HOLDS, NEAR, NEAR_HOLD, Witness, same
from bench_voice.phonetics import letter_distance
from bench_voice.ports import Heard
from bench_voice.words.phrases import Language, load_language

# Thresholds, each where it is used. Fitted by eye on synthetic clips of one neural voice; see tests/hearing.
FORCED = -1.2  # grammar against phone loop, a frame: below, any sound would have been heard so
UNSURE = 0.6  # smallest confidence of a word, where an ear gives one: a veto, high ones say nothing
GOOD = -0.8  # above, the first ear alone is good evidence
GOOD_HOLD = -0.4
LEAST_SPEECH_S = 0.25

PERHAPS = 0.15  # least chance of anything at which it is better to ask for it again than to keep silent
OTHER = 0.1  # least chance of a second value that is named beside the first


def agree(
    expected: Expected,
    heard: Sequence[Heard],
    language: Language | None = None,
    model: Model | None = None,
) -> Decision:
    """The decision for one utterance, `heard` by one or more ears. `model`: other coefficients, for measuring."""
    language = language or load_language(expected.sheet.language)
    if not any(h.words or h.free_words for h in heard):
        failed = any(h.evidence.get("timeout") or h.evidence.get("crash") for h in heard)
        return Decision(Act.AGAIN, why="an ear failed") if failed else Decision(Act.NOTHING, why="no words")
    case = Case.of(heard, expected, language)
    doubt = partial(in_doubt, case=case, expected=expected, language=language)
    decision = _by_rules(case, doubt, language)
    form = form_of(case)
    if form is not None:
        decision = _weighed(decision, case, form, model or load_model(), doubt, language)
    decision = last_word(decision, case, expected, language, doubt)
    if decision.kind is Act.NOTHING and case.speech_s >= LEAST_SPEECH_S and _is_meant(case, expected, language):
        return Decision(Act.AGAIN, why="words of the step without a meaning")
    return decision


def _weighed(
    decision: Decision, case: Case, form: str, model: Model, doubt: Callable[[Intent], bool], language: Language
) -> Decision:
    """What the rules decided, by the chance that it is right."""
    ranked = ranking(case, form, model)
    ask = model.ask[form]
    if (
        decision.kind is Act.RECORD
        and decision.intent is not None
        and _is_beyond_doubt(case, decision.intent, language)
    ):
        return decision
    if decision.kind is Act.RECORD and decision.intent is not None:
        chance, group = chance_of(decision.intent, ranked), group_of(decision.intent)
        # An answer to a question that was misheard repeats the question; its length is evidence enough.
        if chance >= model.least(form, case, decision.intent) or (
            decision.intent.kind is Kind.QUERY and form != "first"
        ):
            return replace(decision, intent=replace(decision.intent, confidence=round(chance, 3)))
        if group in OFFERED and chance >= ask[group]:
            return ask_about([decision.intent], f"weak evidence, {form}")
        return Decision(Act.AGAIN, why=f"weak evidence, {form}")
    if form.startswith("quick") or not ranked:
        return decision
    best = ranked[0]
    is_denied = any(w.denied for w in case.frees)
    if best.group in OFFERED and not is_denied:
        if best.chance >= model.least(form, case, best.intent) and case.bears_out(best.intent, doubt):
            return record(best.intent, best.chance, f"good evidence, {form}")
        if best.chance >= ask[best.group]:
            others = [r.intent for r in ranked[1:2] if best.group == r.group == "value" and r.chance >= OTHER]
            return ask_about([best.intent, *others], f"fair evidence, {form}")
    if decision.kind is Act.ASK and decision.intent is not None:
        intents = (decision.intent, *decision.options)
        if max(chance_of(intent, ranked) for intent in intents) < ask["question"]:
            decision = Decision(Act.NOTHING, why=f"poor evidence, {form}")
    if decision.kind is Act.NOTHING and best.chance >= PERHAPS:
        return Decision(Act.AGAIN, why=f"poor evidence, {form}")
    return decision


def _is_beyond_doubt(case: Case, intent: Intent, language: Language) -> bool:
    """Both networks find it there, whatever the other figures: a value; or an answer of one word, of which the others
    have little to go by ("affirm": "the firm")."""
    is_answer = intent.kind in (Kind.AFFIRM, Kind.NEGATIVE) and case.is_heard_by_first(intent)
    return is_clear(case, intent, language) or (is_answer and is_plain(case, intent))


def _by_rules(case: Case, doubt: Callable[[Intent], bool], language: Language) -> Decision:
    second, firsts = case.second, case.firsts
    if second is None:
        return _plain(firsts) if len(firsts) > 1 else _one(firsts[0])
    if len(case.writers) > 1:
        return _with_more_free(case, second, doubt, language)
    return _with_free(second, firsts, language) if firsts else _one(second)


def _with_more_free(case: Case, second: Witness, doubt: Callable[[Intent], bool], language: Language) -> Decision:
    """Several free ears, mostly beside a first one. What those of one family could both make up is asked about."""
    agreed = case.agreed
    others = case.writers[1:]
    if agreed is not None and agreed.kind in FREE_TEXT and words_of(agreed) and not case.is_heard_by_first(agreed):
        # A name that the sheet doesn't have is held against those that it has: "put back shock" is the chuck.
        named = _free_text(second, (*case.firsts, *others), language)
        if named is not None and named.intent is not None and id_of(named.intent) is not None:
            return named
        return _known_name(agreed, case) or named or Decision(Act.AGAIN, why="names differ")
    if agreed is not None and agreed.kind in VALUES:
        if doubt(agreed):
            return ask_about([agreed], "two ears, in doubt")
        is_sure = case.is_heard_by_first(agreed) or is_clear(case, agreed, language)
        if not is_sure and case.held_otherwise(agreed):
            return ask_about([agreed, *case.held_otherwise(agreed)], "held and free text differ")
    if agreed is not None:
        return record(agreed, 0.98, "two ears")
    decision = _with_free(
        second, (*case.firsts, *(replace(w, intent=w.borne_out) for w in others)), language, case.is_best_to_judge
    )
    taken = decision.intent if decision.kind is Act.RECORD else None
    if taken is not None and doubt(taken):
        return ask_about([taken], "free ears, in doubt")
    if taken is not None and taken.kind in HARMLESS and any(w.means_other(taken) for w in case.writers):
        return Decision(Act.AGAIN, why="free ears differ")
    if taken is not None and taken.kind in FREE_TEXT and id_of(taken) is None:
        return _known_name(taken, case) or decision
    return decision


def _known_name(intent: Intent, case: Case) -> Decision | None:
    """For an item that the sheet doesn't have: the one that it has and that the first ear and a free one hear when held
    to the step's words ("put back your cover": gear cover), or that fits better ("took off check": chuck)."""
    for first, free in product(case.firsts, case.frees):
        if first.intent.kind is intent.kind and id_of(first.intent) is not None and same(first.intent, free.intent):
            return ask_about([first.intent], "two ears, held to the sheet's names")
    for other, _ in case.judge.opinions if case.judge is not None else ():
        if other.kind is intent.kind and id_of(other) is not None and case.is_fitter(other, intent):
            return ask_about([other], "a name of the sheet fits better")
    for other in case.candidates:
        if other.kind is intent.kind and id_of(other) is not None and sounds_as_well(case, other, intent):
            return ask_about([other], "a name of the sheet sounds as well")
    return None


def _with_free(
    second: Witness,
    others: Sequence[Witness],
    language: Language,
    is_fitting: Callable[[Intent], bool] = lambda intent: False,
) -> Decision:
    """Whisper beside at least one other ear."""
    free = second.free
    assert free is not None
    for first in others:
        if same(first.intent, free):
            return record(free, 0.98, "two ears, free text")
    for first in others:
        joined = _joined_question(first.intent, free) or _joined_question(free, first.intent)
        if joined is not None:
            return Decision(Act.ASK, joined, "one ear heard a question")
    free_text = _free_text(second, others, language)
    if free_text is not None:
        return free_text
    for first in others:
        if same(first.intent, second.intent) and first.intent.kind is not Kind.AMBIGUOUS:
            return _forced_agreement(first, second, is_fitting)
    candidates = [w.intent for w in others if _means(w) and not _forced(w)]
    if free.kind is not Kind.UNKNOWN:
        return _free_only(free, second, candidates)
    # The free text means nothing: talk, unless the forced words sound like it.
    if _means(second) and not _forced(second) and _weight(second) >= HALF and not second.denied:
        readings = [i for i in (second.intent, *candidates) if i.kind in VALUES]
        if readings and second.intent.kind in VALUES:
            return ask_about(readings, "one free ear only, held to the step's words")
        if second.intent.kind in HARMLESS:
            return record(second.intent, 0.7, "one free ear only, harmless")
        return Decision(Act.AGAIN, why="one free ear only")
    return Decision(Act.NOTHING, why="free text is talk")


def _forced_agreement(first: Witness, second: Witness, is_fitting: Callable[[Intent], bool]) -> Decision:
    """Both ears agree when held to the step's words, but the free text doesn't mean the same. `is_fitting`: an ear of
    another family finds it as likely as anything, however badly the first one's phrase fits."""
    free, intent = second.free, second.intent
    assert free is not None
    far = letter_distance(second.heard.words, second.heard.free_words or "")
    limit = NEAR_HOLD if intent.kind in HOLDS else NEAR
    if free.kind is Kind.UNKNOWN:
        is_like = far <= limit and (intent.kind not in HOLDS or second.begins_alike)
        is_good = not _forced(first) or is_fitting(intent)
        if is_like and _weight(second) >= HALF and not second.denied and is_good:
            return record(intent, 0.9, "two ears, held to the step's words")
        if intent.kind in VALUES and far <= 2 * NEAR and not _forced(first) and not second.denied:
            return ask_about([intent], "two ears, but the free text is unlike")
        return Decision(Act.NOTHING, why="free text is talk")
    if second.denied:
        return Decision(Act.AGAIN, why="the free text denies it")
    if intent.kind in VALUES and free.kind in VALUES:
        return ask_about([intent, free], "held and free text differ")
    return Decision(Act.AGAIN, why="held and free text differ")


def _free_only(free: Intent, second: Witness, candidates: Sequence[Intent]) -> Decision:
    """The free text means something that no other ear heard."""
    if free.kind is Kind.AMBIGUOUS:
        return Decision(Act.ASK, free, "one free ear only, a question")
    is_sure = same(free, second.intent) and _weight(second) >= HALF
    if free.kind in VALUES:
        readings = [i for i in candidates if i.kind in VALUES]
        return ask_about([free, *readings], "ears differ" if readings else "one free ear only")
    is_other_question = second.intent.kind is Kind.QUERY and not same(free, second.intent)
    if free.kind in HARMLESS and (is_sure or (free.kind is Kind.QUERY and not is_other_question)):
        return record(free, 0.8, "one free ear only, harmless")
    return Decision(Act.AGAIN, why="one free ear only")


def _free_text(second: Witness, others: Sequence[Witness], language: Language) -> Decision | None:
    """Notes, reminders and names that the sheet doesn't know: the lead-in by agreement, the text from the free ear."""
    free = second.free
    if free is None or free.kind not in FREE_TEXT or not words_of(free):
        return None
    named = [w for w in others if w.intent.kind is free.kind and id_of(w.intent) is not None and not _forced(w)]
    if named:
        # The grammar knows the sheet's names; a free name that sounds like one is that one, else it is asked for again.
        first = named[0]
        if same(first.intent, second.intent) and letter_distance(first.heard.words, free.heard) <= NEAR:
            return record(first.intent, 0.85, "two ears, held to the sheet's names")
        return Decision(Act.AGAIN, why="names differ")
    if any(
        free.kind in (w.intent.kind, w.free and w.free.kind) or _leads(_text_of(w), free.kind, language) for w in others
    ):
        return record(free, 0.9, "lead-in by two ears, text by a free one")
    # "No tank is clean" is "note" to one Whisper: where others write as well, one of them has to write it too.
    is_alone = all(w.free is None for w in others)
    if is_alone and free.kind in (Kind.NOTE, Kind.REMINDER) and _leads(second.heard.words, free.kind, language):
        return record(free, 0.75, "lead-in twice by a free ear")
    return None


def _text_of(witness: Witness) -> str:
    """Its words, or its free text where it wasn't held to the step's words."""
    return witness.heard.words or witness.heard.free_words or ""


def _leads(words: str, kind: Kind, language: Language) -> bool:
    """Whether the words begin as an intent of this kind does."""
    return any(f"{words} ".startswith(f"{lead} ") for lead in language.lead_ins.get(kind, ()))


def _joined_question(question: Intent, other: Intent) -> Intent | None:
    """A question of one ear that holds what the other heard (a hedge, a missing unit) stays a question."""
    if question.kind is Kind.AMBIGUOUS and (
        any(same(option, other) for option in question.options)
        or (other.kind is Kind.AMBIGUOUS and other.asks == question.asks and other.name == question.name)
    ):
        return question
    return None


def _means(witness: Witness) -> bool:
    return witness.intent.kind is not Kind.UNKNOWN


def _weight(witness: Witness) -> float:
    return witness.weight_of(witness.intent)


def _forced(witness: Witness) -> bool:
    """The grammar's phrase fits much worse than any phones would, or the words are unlike the free text."""
    if witness.heard.free_words is not None:
        return witness.apart > NEAR
    evidence = witness.heard.evidence
    return evidence.get("per_frame", 0.0) < FORCED or evidence.get("confidence", 1.0) < UNSURE


def _plain(witnesses: Sequence[Witness]) -> Decision:
    """Several ears that are all held to the step's words: agreement, else a question or nothing."""
    first, *rest = sorted(witnesses, key=lambda w: _forced(w))
    for other in rest:
        if same(first.intent, other.intent):
            if _forced(first) and _forced(other):
                return Decision(Act.NOTHING, why="all ears were forced")
            return record(first.intent, 0.9, "two ears")
    readings = [w.intent for w in witnesses if w.intent.kind in VALUES and not _forced(w)]
    if readings:
        return ask_about(readings, "ears differ" if len(readings) > 1 else "one ear only")
    if any(_means(w) and not _forced(w) for w in witnesses):
        return Decision(Act.AGAIN, why="ears differ")
    return Decision(Act.NOTHING, why="nothing understood")


def _one(witness: Witness) -> Decision:
    """One ear installed: readings are offered, moves need good evidence, a hold phrase the best."""
    intent = witness.intent
    if witness.free is not None:
        if witness.free.kind is not Kind.UNKNOWN and not same(witness.free, intent):
            both = [i for i in (witness.free, intent) if i.kind in VALUES]
            if witness.free.kind in FREE_TEXT:
                return record(witness.free, 0.6, "one ear, free text")
            return ask_about(both, "one ear, unsure") if both else Decision(Act.AGAIN, why="one ear, unsure")
        is_good = same(witness.free, intent) and _weight(witness) >= HALF
        is_best = is_good and _weight(witness) >= 0.8
    else:
        per_frame = witness.heard.evidence.get("per_frame", FORCED)
        is_good = per_frame >= GOOD
        is_best = per_frame >= GOOD_HOLD
    if not _means(witness) or _forced(witness):
        return Decision(Act.NOTHING, why="nothing understood" if not _means(witness) else "forced")
    if intent.kind is Kind.AMBIGUOUS:
        return Decision(Act.ASK, intent, "one ear, a question")
    if intent.kind in VALUES:
        return ask_about(
            [intent, *[o for o in [intent for intent, _ in witness.meanings[1:]] if o.kind in VALUES][:1]], "one ear"
        )
    if is_best if intent.kind in HOLDS else is_good:
        return record(intent, 0.6, "one ear, good evidence")
    return Decision(Act.AGAIN, why="one ear, weak evidence")


def _is_meant(case: Case, expected: Expected, language: Language) -> bool:
    """Whether a short utterance that meant nothing was meant for us: it begins as its hold's phrase does, or most of
    its words are numbers, units or names of the step. The first ear's words don't count where a second wrote freely:
    it can hear nothing else."""
    witnesses = (*case.firsts, *case.writers)
    free = [w.heard.free_words for w in witnesses if w.heard.free_words]
    text = free[0] if free else " ".join(w.heard.words for w in witnesses if not _forced(w))
    words = text.split()
    if not words or len(words) > 10:
        return False
    if expected.hold is not None and words[0] == expected.hold.phrase.split()[0]:
        return True  # "confirm …" at a hold is for us, however it goes on: a wrong phrase gets an answer
    names = [r.name for r in expected.sheet.readings.values() if r.id in expected.waits]
    known = {word for name in names for word in name.lower().split()} | set(language.number_words)
    if expected.hold is not None:
        known |= set(expected.hold.phrase.split())
    known -= {"a", "an", "the", "of", "and", "one", "to", "in", "o"}
    return sum(word in known for word in words) * 2 > len(words)


__all__ = ["Act", "Decision", "agree"]
