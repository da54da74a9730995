"""What becomes of a decision that was weighed: denials, what was half heard, what the phone networks know. Pure.

Nothing here takes a value or an item that no ear wrote; the phrase of a hold only where two ears nearly did.
"""

from __future__ import annotations

from collections.abc import Callable

from bench_voice.core.intents import VALUES, Asks, Expected, Intent, Kind, Question, words_of
from bench_voice.hearing.contraries import is_turned_round, is_whole
from bench_voice.hearing.decision import Act, Decision, ask_about, record
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.guesses import guessed, is_near, is_unnamed, known_item, phrase_by_sound, values_by_sound
from bench_voice.hearing.half_heard import half_heard
from bench_voice.hearing.number_words import is_row_of_digits
from bench_voice.hearing.sounded import heard_by_both, is_plain, is_row_of_both, is_sure, is_unlike, was_sounded
from bench_voice.hearing.weigh import OFFERED, group_of
from bench_voice.hearing.witness import same
from bench_voice.words.phrases import Language


def last_word(
    decision: Decision, case: Case, expected: Expected, language: Language, doubt: Callable[[Intent], bool]
) -> Decision:
    """`doubt`: values that are asked about, however sure the ears are."""
    phrase = phrase_by_sound(case, expected, language)
    if _is_unclear(decision) and phrase is not None:
        decision = record(phrase, 0.9, "written nearly by two ears, and by its sounds")
    denial = _denial(decision, case, expected, language, is_by_sound=phrase is not None)
    if (instead := denial or _named(decision, case, expected, language)) is not None:
        return instead
    if _is_unclear(decision) and (found := half_heard(case, expected, language)) is not None:
        decision = ask_about([found], "half heard")
    is_open = decision.kind in (Act.ASK, Act.AGAIN)
    if is_open and (sounded := _sounded(decision, case, doubt, language)) is not None:
        return record(sounded, 0.9, "one ear, and both phone networks")
    if _is_open_number(decision):
        asked = [one for one in decision.options if one.kind in VALUES]
        if values := values_by_sound(case, asked, expected, language):
            return ask_about(values, "a value by its sounds")
    if _is_unclear(decision) and (guess := guessed(case, expected, language)) is not None:
        return ask_about([guess], "by its sounds")
    return decision


def _denial(
    decision: Decision, case: Case, expected: Expected, language: Language, is_by_sound: bool
) -> Decision | None:
    """Instead of what would be taken, where an ear or both networks heard something that it is not. `is_by_sound`: the
    networks find the hold's phrase by its sounds."""
    taken = decision.intent if decision.kind is Act.RECORD else None
    if taken is None:
        return None
    if expected.hold is not None:
        why = _not_its_phrase(taken, expected.hold.phrase, case, language, is_by_sound)
        if why:
            return Decision(Act.AGAIN, why=why)
    if group_of(taken) == "command" and case.is_talk_to_any(taken):
        return Decision(Act.AGAIN, why="one ear heard much more")
    is_moved = group_of(taken) in ("command", "harmless") and not case.is_heard_by_first(taken)
    if (is_moved or taken.kind is Kind.CONFIRM) and is_unlike(case, taken):
        return Decision(Act.AGAIN, why="its phones don't fit")
    other = heard_by_both(case)
    if taken.kind in VALUES and other is not None and not same(other, taken):
        return ask_about([taken, other], "both networks hear another value")
    return None


def _not_its_phrase(taken: Intent, phrase: str, case: Case, language: Language, is_by_sound: bool) -> str:
    """Why what is taken at a hold may have been something else; empty where nothing speaks against it."""
    if taken.kind in (Kind.NOTE, Kind.REMINDER):
        return "a note of nearly the hold's words" if _is_of_hold(words_of(taken), phrase) else ""
    if taken.kind is not Kind.CONFIRM:
        return ""
    if case.is_denied_by_any(taken):
        return "one ear heard a denial"
    if is_turned_round(case, taken, phrase, language):
        return "a contrary sounds nearly as well"
    if not is_whole(case, taken, phrase) and not is_by_sound and was_sounded(case, taken):
        return "fewer than two ears had the whole phrase"
    return ""


def _is_of_hold(text: str, phrase: str) -> bool:
    """ "No chuck key has been removed" is "note key has been removed" to three ears, and no note."""
    return is_near(text, " ".join(phrase.split()[1:]))


def _named(decision: Decision, case: Case, expected: Expected, language: Language) -> Decision | None:
    """Instead of an item that the sheet lacks: the one that it has is offered."""
    taken = decision.intent if decision.kind is Act.RECORD else None
    known = known_item(case, taken, expected, language) if taken is not None and is_unnamed(taken) else None
    return ask_about([known], "a name of the sheet sounds nearly as well") if known is not None else None


def _is_unclear(decision: Decision) -> bool:
    return decision.kind in (Act.NOTHING, Act.AGAIN)


def _sounded(decision: Decision, case: Case, doubt: Callable[[Intent], bool], language: Language) -> Intent | None:
    """The one value that the phone networks are sure of, whoever heard it (a row of digits: that they hear themselves);
    or what would be offered, a command or an item, and is plain to them."""
    sure = [i for i in case.candidates if is_sure(case, i, language) and not doubt(i)]
    if sure and all(same(one, sure[0]) for one in sure):
        value = sure[0]
        if is_row_of_digits(value, language):
            return value if is_row_of_both(case, value, language) else None
        return None if case.is_outvoted(value) else value
    offered = decision.intent.offered if isinstance(decision.intent, Question) else None
    is_known = offered is not None and group_of(offered) in OFFERED and offered.kind not in VALUES
    return offered if offered is not None and is_known and is_plain(case, offered) else None


def _is_open_number(decision: Decision) -> bool:
    """Nothing is taken, nor asked but for a value."""
    asks = decision.intent.asks if decision.kind is Act.ASK and isinstance(decision.intent, Question) else None
    return decision.kind is not Act.RECORD and asks in (None, Asks.CONFIRM_NUMBER, Asks.WHICH_NUMBER)
