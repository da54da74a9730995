"""What the phone networks of two ears say of a meaning: its phones fit the sound, those of no other number do. Pure.

They share the ears' encoders, not their writing: a likely sentence doesn't sound better to them than an unlikely one.
"""

from __future__ import annotations

from collections.abc import Sequence

from bench_voice.core.intents import VALUES, Intent
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.number_words import has_twin, is_row_of_digits
from bench_voice.hearing.witness import HOLDS, same
from bench_voice.ports import Sounding
from bench_voice.words.phrases import Language

# By the worse of the two networks (logarithms): how badly the phones may fit on average and in the worst word, and how
# far the number has to lead. Chosen on the develop and calibrate parts and on what had been seen of the report part.
_CLEAR = Sounding("", -1.6, -10.0, 3.0)
_FAR_LEAD = 6.0  # of a teen or a ten that has a twin, of a row of digits that the first ear missed
_SURE = Sounding("", -0.8, -4.0, 4.0)  # where one ear alone wrote it
# Leads below which a value is asked about: their mean where the first ear missed it, the least of them where a free one
# did as well, the least of one that has a twin.
_MISSED_LEAD, _MISSED_LEAST, _TWIN_LEAD = 1.5, 1.0, 1.0
_UNLIKE_FIT = -2.5
# How much likelier than a "six" each of its eights has to be where there is no hiss to tell. Of people over 14 dB 31 %
# of 1,296 eights have that and 3 of 1,224 sixes, in parts that it was not taught with.
_EIGHT = 5.0
# "Conform ..." that two ears wrote as "confirm ..." has -2.0, 140 of 142 phrases more than -1.3.
_UNLIKE_HOLD_FIT = -1.6
_AS_WELL = 0.5
_PLAIN = Sounding("", -0.8, -2.0)  # for a command or an item that would only be offered
# A hold's phrase that no two ears wrote; how far what they wrote may lead over it.
_PHRASE = Sounding("", -1.0, -5.0)
_WRITTEN_LEAD = 0.3


def _of(case: Case, intent: Intent) -> list[Sounding]:
    """One of each network that was asked about it."""
    return [one for w in case.writers if (one := w.sounding_of(intent)) is not None]


def sounding_of(case: Case, intent: Intent) -> Sounding | None:
    """The worse of each figure of the networks; None where fewer than two were asked."""
    return _worse(_of(case, intent))


def _worse(found: Sequence[Sounding]) -> Sounding | None:
    if len(found) < 2:
        return None
    leads = [one.lead for one in found if one.lead is not None]
    lead = min(leads) if len(leads) == len(found) else None
    return Sounding(found[0].words, min(one.fit for one in found), min(one.worst for one in found), lead)


def _as(case: Case, text: str) -> list[Sounding]:
    """One of each network that was asked about that very text."""
    each = (next((found for _, found in w.soundings if found.words == text), None) for w in case.writers)
    return [found for found in each if found is not None]


def sounding_as(case: Case, text: str) -> Sounding | None:
    """As `sounding_of`, of a text, whatever it means."""
    return _worse(_as(case, text))


def mean_fit(case: Case, text: str) -> float | None:
    """Of the two networks; None where either was not asked about it."""
    fits = [found.fit for found in _as(case, text)]
    return sum(fits) / len(fits) if len(fits) > 1 else None


def heard_by_both(case: Case) -> Intent | None:
    """The value that both networks hear themselves."""
    own = [w.by_phones for w in case.writers if w.heard.by_phones]
    return own[0] if len(own) > 1 and own[0].kind in VALUES and same(own[0], own[1]) else None


def whole_leads(case: Case, text: str, other: str) -> list[float]:
    """By how much the whole of the text fits better than the whole of the other, in each network that was asked about
    both: its fit times its letters, since a longer one has more to miss."""
    each = zip(_as(case, text), _as(case, other), strict=False)
    return [one.fit * len(text) - its.fit * len(other) for one, its in each]


def is_phrase_there(case: Case, phrase: str, written: Sequence[str]) -> bool:
    """Both networks find the hold's phrase, sound for sound, and neither finds what was written instead much better. A
    text that they were not asked about, or can't say, denies it."""
    mine = _as(case, phrase)
    if len(mine) < 2 or any(one.fit < _PHRASE.fit or one.worst < _PHRASE.worst for one in mine):
        return False
    for other in written:
        leads = [a.fit - b.fit for a, b in zip(mine, _as(case, other), strict=False)]
        if len(leads) < len(mine) or min(leads) < -_WRITTEN_LEAD:
            return False
    return True


def was_sounded(case: Case, intent: Intent) -> bool:
    """Whether both networks were asked about it."""
    return sounding_of(case, intent) is not None


def is_clear(case: Case, intent: Intent, language: Language) -> bool:
    """A value: what two ears wrote is there, and nothing else that is a number. "One six six six one" of a person was
    "one two six six one" to two ears, and that led by 4.9; of his other wrong rows none by more than 2.8."""
    is_far = is_row_of_digits(intent, language) and not case.is_heard_by_first(intent)
    return _reaches(sounding_of(case, intent), intent, _CLEAR, language, is_far)


def is_sure(case: Case, intent: Intent, language: Language) -> bool:
    """The same of what one ear alone wrote."""
    return _reaches(sounding_of(case, intent), intent, _SURE, language)


def is_denied(case: Case, intent: Intent, language: Language) -> bool:
    """A value: another number sounds likelier to both or, where the first ear missed it, about as likely to one or to
    the two together. A number with a twin has to lead, whoever heard it."""
    found = _of(case, intent)
    leads = [one.lead for one in found if one.lead is not None]
    if len(leads) < 2 or intent.kind not in VALUES:
        return False
    if has_twin(intent, language) and min(leads) < _TWIN_LEAD:
        return True
    if max(leads) < 0:
        return True
    is_known = case.is_heard_by_first(intent)
    is_weak = min(leads) < _MISSED_LEAST and not case.is_written_by_all(intent)
    return not is_known and (is_weak or sum(leads) / len(leads) < _MISSED_LEAD)


def is_row_of_both(case: Case, intent: Intent, language: Language) -> bool:
    """A row of digits that an ear wrote and both networks hear themselves, far before any other: then it makes no
    difference what the other ears wrote."""
    if not is_row_of_digits(intent, language) or not case.is_written_by_any(intent):
        return False
    both, found = heard_by_both(case), sounding_of(case, intent)
    is_theirs = both is not None and same(both, intent)
    return is_theirs and found is not None and found.lead is not None and found.lead >= _FAR_LEAD


def is_eight(case: Case, intent: Intent) -> bool:
    """Each of its eights has the vowel of one, wherever the two networks find the word."""
    found = [one.eight for one in _of(case, intent) if one.eight is not None]
    return len(found) > 1 and min(found) >= _EIGHT


def is_plain(case: Case, intent: Intent) -> bool:
    """Of what is no value: every word of it is there, and nothing else."""
    found = sounding_of(case, intent)
    return found is not None and found.fit >= _PLAIN.fit and found.worst >= _PLAIN.worst


def is_unlike(case: Case, intent: Intent) -> bool:
    """Both find that something else was said, or more. A hold's phrase has to fit better than anything else."""
    found = _of(case, intent)
    least = _UNLIKE_HOLD_FIT if intent.kind in HOLDS else _UNLIKE_FIT
    return len(found) > 1 and all(one.fit < least for one in found)


def sounds_as_well(case: Case, intent: Intent, other: Intent) -> bool:
    """To both networks it fits as well as the other, or nearly."""
    mine, theirs = _of(case, intent), _of(case, other)
    if len(mine) < 2 or len(mine) != len(theirs):
        return False
    return all(a.fit >= b.fit - _AS_WELL for a, b in zip(mine, theirs, strict=True))


def _reaches(found: Sounding | None, intent: Intent, least: Sounding, language: Language, is_far: bool = False) -> bool:
    """`is_far`: it has to lead as far as a number with a twin."""
    if found is None or found.lead is None or least.lead is None or intent.kind not in VALUES:
        return False
    lead = max(least.lead, _FAR_LEAD) if is_far or has_twin(intent, language) else least.lead
    return found.fit >= least.fit and found.worst >= least.worst and found.lead >= lead
