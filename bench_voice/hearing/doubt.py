"""Which values are asked about although two ears mean them: what they invent, miscount, or mishear alike. Pure."""

from __future__ import annotations

from itertools import pairwise

from bench_voice.core.intents import VALUES, Expected, Intent, Measurement, id_of
from bench_voice.hearing.evidence import CLEAR, Case
from bench_voice.hearing.number_words import (
    has_eight,
    has_ten,
    has_twin,
    is_row_of_digits,
    number_words,
    repeats_a_digit,
    runs_into,
    sound_alike,
)
from bench_voice.hearing.sounded import is_clear, is_denied, is_eight, is_row_of_both, is_sure, was_sounded
from bench_voice.hearing.witness import same
from bench_voice.words.phrases import Language
from bench_voice.words.values import is_plausible

# By the judging ear: the least lead of a number, and a fit that is odd.
_LEAST_LEAD, _UNLIKE = 0.25, -8.0


def in_doubt(intent: Intent, case: Case, expected: Expected, language: Language) -> bool:
    """Whether a value is asked about, however sure the ears are. Of those that the first did not hear two of one family
    mishear alike ("fifty" as "fifteen"): in 11 of 679 such values, against none of 511 that the first ear heard too,
    and nothing in their own evidence tells those. An ear of another family has to find that it fits."""
    if intent.kind not in VALUES:
        return False
    if _is_unusual(intent, expected, language) or _is_contested(intent, case, language):
        return True
    if is_lost_six(intent, case, language):
        return True
    is_clear_to_both = is_clear(case, intent, language)
    is_written = case.is_heard_by_first(intent) or (is_clear_to_both and case.is_written_by_all(intent))
    if not (is_written or _is_plausible(intent, expected)):
        return True
    if is_clear_to_both:
        is_twin_lent = has_twin(intent, language) and _is_lent_an_n(intent, case, language, "mn")
        is_cut = _may_go_on(intent, case, language) and not is_sure(case, intent, language)
        return is_twin_lent or is_cut
    if is_denied(case, intent, language) or (was_sounded(case, intent) and _may_go_on(intent, case, language)):
        return True
    if needs_opinion(intent, case, language):
        return True
    is_bare = len(intent.heard.split()) < 2
    if case.is_heard_by_first(intent):
        if case.judge is None or case.is_well_heard(intent):
            return False
        return is_bare or case.is_denied_by_judge(intent)
    is_unanimous = case.is_unanimous(intent)
    if case.leaves_unsaid(intent) and not (is_unanimous and case.is_borne_out_by_judge(intent)):
        return True
    if case.judge is None:
        is_alike = is_row_of_digits(intent, language) or has_twin(intent, language)
        return repeats_a_digit(intent, language) or is_alike or not case.is_nearly_heard_by_first(intent)
    if is_row_of_digits(intent, language):
        is_borne_out = case.is_surely_borne_out_by_judge if has_eight(intent, language) else case.is_borne_out_by_judge
        if not (case.is_written_by_all(intent) and is_borne_out(intent)):
            return True
    if _is_strange(intent, case, language):
        return True
    # "Slower" is "two" to both families: one word alone takes all free ears.
    is_backed = (
        case.is_borne_out_by_judge(intent) if repeats_a_digit(intent, language) else not case.is_denied_by_judge(intent)
    )
    return (is_bare and not is_unanimous) or not is_backed


def is_lost_six(intent: Intent, case: Case, language: Language) -> bool:
    """Whether its "eight" may be a "six" whose hiss was cut off, for all that is known so far."""
    return case.is_cut_off and has_eight(intent, language) and not is_eight(case, intent)


def needs_opinion(intent: Intent, case: Case, language: Language) -> bool:
    """A teen or a ten before an n that the judging ear did not write itself. "Fifty newton" is "fifteen newton" to two
    families of ears: the next word lends it its n (3 of 588 readings, report part)."""
    return intent.kind in VALUES and _is_lent_an_n(intent, case, language, "n")


def _is_lent_an_n(intent: Intent, case: Case, language: Language, nasals: str) -> bool:
    is_alike = runs_into(nasals, intent, language) and case.judge is not None and not case.judge.backs(intent)
    return is_alike and not case.is_clear_to_judge(intent)


def _is_strange(intent: Intent, case: Case, language: Language) -> bool:
    """A teen or a ten whose twin is not ruled out: "eighteen" of a robotic voice was "eighty" to three ears, "nineteen"
    at 10 dB "ninety". Or what one family of ears alone wrote and the judging one finds no likelier than another number,
    and odd besides."""
    fit = case.fit_of(intent)
    if fit is None:
        return False  # it is denied then
    if has_twin(intent, language) and not (case.is_unanimous(intent) and fit.margin >= CLEAR):
        return True
    is_alone = case.judge is not None and not case.judge.backs(intent)
    return is_alone and fit.margin < _LEAST_LEAD and (fit.score < _UNLIKE or has_ten(intent, language))


def _may_go_on(intent: Intent, case: Case, language: Language) -> bool:
    """ "One point zero", which the first ear missed: in noise an "eight" behind it may be lost to three ears and both
    networks."""
    return language.numbers.digit.get(intent.heard.split()[-1]) == 0 and not case.is_heard_by_first(intent)


def _is_contested(intent: Intent, case: Case, language: Language) -> bool:
    """Two free ears wrote another value ("seven ohm" where two ears heard "seven oh"), or one did with the same number
    words but for those that sound alike: "nineteen" to one of four was right, and "six" (3 of 2,351, report part).

    Of a row of digits that the first ear missed, with any as many: "one two six six one" to two ears and both networks
    was "one six six six one" (1 of 9 such rows of people; 8 of 356 right ones are asked about for it; report part)."""
    mine = number_words(intent, language)
    is_known = case.is_heard_by_first(intent) or is_row_of_both(case, intent, language)
    is_missed_row = is_row_of_digits(intent, language) and not is_known
    for free in (w.free for w in case.writers if w.free is not None and w.free.kind in VALUES):
        if not same(free, intent) and case.backing(free) > 1:
            return True
        theirs = number_words(free, language)
        if len(mine) != len(theirs) or mine == theirs:
            continue
        if is_missed_row or all(a == b or sound_alike(a, b, language) for a, b in zip(mine, theirs, strict=True)):
            return True
    return False


def _is_unusual(intent: Intent, expected: Expected, language: Language) -> bool:
    """What ears write and nobody says: "zero point forty one", "zero point two one oh" where ohms are measured (which
    the first ear and two free ones wrote for "ohm"; report part)."""
    numbers = language.numbers
    many = {*numbers.teen, *numbers.ten, *numbers.hundred}
    words = intent.heard.split()
    pairs = enumerate(pairwise(words), 1)
    after = [
        words[at:] for at, (word, next_one) in pairs if next_one in numbers.point and word in language.number_words
    ]
    if any(word in many for rest in after for word in rest):
        return True
    spec = expected.sheet.readings.get(id_of(intent) or "")
    said = language.unit_said.get(spec.limit.unit, ()) if spec is not None else ()
    return len(words) > 1 and words[-1] not in said and any(one.startswith(words[-1]) for one in said)


def _is_plausible(intent: Intent, expected: Expected) -> bool:
    """For the part: "knife edge five point two" as ninety five point two is not."""
    spec = expected.sheet.readings.get(id_of(intent) or "")
    return spec is None or not isinstance(intent, Measurement) or is_plausible(intent.in_limit_unit, spec)
