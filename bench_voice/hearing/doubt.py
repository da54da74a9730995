"""Which values are asked about although two ears mean them: what they invent, miscount, or mishear alike. Pure."""

from __future__ import annotations

from itertools import pairwise

from bench_voice.core.intents import Expected, Intent
from bench_voice.hearing.evidence import CLEAR, VALUES, Case, same
from bench_voice.speech.phrases import Language
from bench_voice.speech.values import is_plausible

# By the judging ear: the least lead of a number, and a fit that is odd.
_LEAST_LEAD, _UNLIKE = 0.25, -8.0


def in_doubt(intent: Intent, case: Case, expected: Expected, language: Language) -> bool:
    """Whether a value is asked about, however sure the ears are. Of those that the first did not hear two of one family
    mishear alike ("fifty" as "fifteen"): in 11 of 679 such values, against none of 511 that the first ear heard too,
    and nothing in their own evidence tells those. An ear of another family has to find that it fits."""
    if intent.kind not in VALUES:
        return False
    if needs_opinion(intent, case, language) and not case.is_clear_to_judge(intent):
        return True
    if _is_contested(intent, case, language):
        return True
    if case.is_cut_off and _has_eight(intent, language):
        return True
    is_bare = len(intent.heard.split()) < 2
    if case.is_heard_by_first(intent):
        if case.judge is None or case.is_well_heard(intent):
            return False
        return is_bare or case.is_denied_by_judge(intent)
    if _is_odd(intent, expected, language):
        return True
    is_unanimous = case.is_unanimous(intent)
    if case.leaves_unsaid(intent) and not (is_unanimous and case.is_borne_out_by_judge(intent)):
        return True
    if case.judge is None:
        is_alike = _is_spelled(intent, language) or _is_teen_or_ty(intent, language)
        return _has_twins(intent, language) or is_alike or not case.is_nearly_heard_by_first(intent)
    if _is_spelled(intent, language):
        is_borne_out = case.is_surely_borne_out_by_judge if _has_eight(intent, language) else case.is_borne_out_by_judge
        if not (case.is_written_by_all(intent) and is_borne_out(intent)):
            return True
    if _is_strange(intent, case, language):
        return True
    # "Slower" is "two" to both families: one word alone takes all free ears.
    is_sure = (
        case.is_borne_out_by_judge(intent) if _has_twins(intent, language) else not case.is_denied_by_judge(intent)
    )
    return (is_bare and not is_unanimous) or not is_sure


def needs_opinion(intent: Intent, case: Case, language: Language) -> bool:
    """A teen or a ten before an n that the judging ear did not write itself. "Fifty newton" is "fifteen newton" to two
    families of ears: the next word lends it its n (3 of 588 readings, report part)."""
    is_alike = intent.kind in VALUES and _runs_into_n(intent, language)
    return is_alike and case.judge is not None and not case.judge.backs(intent)


def _is_strange(intent: Intent, case: Case, language: Language) -> bool:
    """A teen or a ten whose twin is not ruled out: "eighteen" of a robotic voice was "eighty" to three ears, "nineteen"
    at 10 dB "ninety". Or what one family of ears alone wrote and the judging one finds no likelier than another number,
    and odd besides."""
    fit = case.fit_of(intent)
    if fit is None:
        return False  # it is denied then
    if _is_teen_or_ty(intent, language) and not (case.is_unanimous(intent) and fit.margin >= CLEAR):
        return True
    is_alone = case.judge is not None and not case.judge.backs(intent)
    return is_alone and fit.margin < _LEAST_LEAD and (fit.score < _UNLIKE or _has_ten(intent, language))


def _is_contested(intent: Intent, case: Case, language: Language) -> bool:
    """Two free ears wrote another value ("seven ohm" where two ears heard "seven oh"), or one did with the same number
    words but for those that sound alike: "nineteen" to one of four was right, and "six" (3 of 2,351, report part)."""
    mine = _number_words(intent, language)
    for free in (w.free for w in case.writers if w.free is not None and w.free.kind in VALUES):
        if not same(free, intent) and case.backing(free) > 1:
            return True
        theirs = _number_words(free, language)
        if len(mine) != len(theirs) or mine == theirs:
            continue
        if all(a == b or _sound_alike(a, b, language) for a, b in zip(mine, theirs, strict=True)):
            return True
    return False


def _number_words(intent: Intent, language: Language) -> list[str]:
    return [word for word in intent.heard.split() if word in language.number_words]


def _sound_alike(a: str, b: str, language: Language) -> bool:
    """ "Nineteen" and "ninety", "six" and "eight"."""
    numbers = language.numbers
    teens = {numbers.teen.get(a, 0), numbers.teen.get(b, 0)} - {0}
    tens = {numbers.ten.get(a, 0), numbers.ten.get(b, 0)} - {0}
    if teens and tens:
        return {(teen - 10) * 10 for teen in teens} == tens
    return {numbers.digit.get(a), numbers.digit.get(b)} == {6, 8}


def _runs_into_n(intent: Intent, language: Language) -> bool:
    numbers = language.numbers
    return any(
        (word in numbers.teen or word in numbers.ten) and unit.startswith("n") and unit not in language.number_words
        for word, unit in pairwise(intent.heard.split())
    )


def _has_twins(intent: Intent, language: Language) -> bool:
    """Equal digits in a row, which are easily miscounted: "three zero zero"."""
    return any(a == b and a in language.numbers.digit for a, b in pairwise(intent.heard.split()))


def _is_spelled(intent: Intent, language: Language) -> bool:
    """Three digits or more one by one, with nothing to tell how many: "six nine eight"."""
    words = [word for word in intent.heard.split() if word in language.number_words]
    return len(words) > 2 and all(word in language.numbers.digit for word in words)


def _has_eight(intent: Intent, language: Language) -> bool:
    """Of a "six" whose hiss a telephone or a short recording has lost, "eight" is left: all four ears may hear that
    (four of 60 rows of people's digits, report part)."""
    return any(language.numbers.digit.get(word) == 8 for word in intent.heard.split())


def _is_teen_or_ty(intent: Intent, language: Language) -> bool:
    """ "Seventeen" and "seventy" sound so alike that any ear may take one for the other (common practice, no
    source: over a radio such numbers are said digit by digit). "Seventy two" has no such twin: of those that the first
    ear missed, 14 of 336 with a twin were wrong to two ears, of teens and tens without one 2 of 640 (report part)."""
    numbers = language.numbers
    words = [*intent.heard.split(), ""]
    return any(
        numbers.teen.get(word, 0) >= 13 or (numbers.ten.get(word, 0) >= 30 and not numbers.digit.get(after))
        for word, after in pairwise(words)
    )


def _has_ten(intent: Intent, language: Language) -> bool:
    """ "Thirty" is "twenty" in noise."""
    numbers = language.numbers
    return any(word in numbers.teen or word in numbers.ten for word in intent.heard.split())


def _is_odd(intent: Intent, expected: Expected, language: Language) -> bool:
    """Values that free ears invent: "zero point forty one", and what is not plausible for the part ("knife edge five
    point two" as ninety five point two)."""
    numbers = language.numbers
    many = {*numbers.teen, *numbers.ten, *numbers.hundred}
    if any(a in numbers.point and b in many for a, b in pairwise(intent.heard.split())):
        return True
    spec = expected.sheet.readings.get(intent.name or "")
    return spec is not None and not is_plausible(intent.in_limit_unit, spec)
