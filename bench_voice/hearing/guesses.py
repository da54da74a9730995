"""What may have been said though no ear wrote it: the hold's phrase, an item of the sheet, a command. Pure.

The phone networks are asked about these texts when all else was asked. They know no language, so "to call test bar"
doesn't sound better to them than "took off test bar" for being written by three ears.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bench_voice.core.intents import ITEM_KINDS, VALUES, Expected, Intent, Kind, id_of
from bench_voice.hearing.contraries import contraries, leads_by_sound
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.sounded import heard_by_both, is_phrase_there, mean_fit, sounding_as
from bench_voice.hearing.witness import NO_COMMAND, same
from bench_voice.phonetics import letter_distance
from bench_voice.ports import Sounding
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import Language

_NEAR_PHRASE = 0.35  # letters' distance of a free text and the hold's phrase, or of what may be a command
_NEAR_NAME = 0.5  # of the end of a free text and an item's name
_MOST_NAMES, _MOST_COMMANDS = 3, 4
_LONGEST_COMMAND, _LONGEST_LEAD = 4, 3  # words
_LIKELY = Sounding("", -2.0, -8.0)  # what an item or a command needs to be offered
_LEAD = 0.3  # over the next likely one
_NEARLY_AS_WELL = 0.6  # mean fit of a name of the sheet, less than that of what was written
_CLEARLY, _MOST_ASKED = 1.5, 24
_BOTH_FIT, _ONE_FIT = -2.5, -2.0  # mean fit of what both networks hear themselves, or one of them
_MOST_NAMED = 2


def guesses(case: Case, expected: Expected, language: Language) -> tuple[str, ...]:
    """The texts that the networks have not been asked about yet."""
    if len(case.writers) < 2:
        return ()
    by_ear = [{found.words for _, found in w.soundings} for w in case.writers if w.soundings]
    asked = set.intersection(*by_ear) if by_ear else set()
    wanted = _rivals(case, expected, language) if len(asked) <= _MOST_ASKED else []
    wanted += [w.heard.by_phones for w in case.writers if w.heard.by_phones]
    if case.agreed is None or case.agreed.kind is Kind.CONFIRM or is_unnamed(case.agreed):
        of_hold = _of_hold(case, expected, language)
        wanted += of_hold or [*_items(case, expected, language), *_commands(case, expected, language)]
    return tuple(text for text in dict.fromkeys(wanted) if text not in asked)


def phrase_by_sound(case: Case, expected: Expected, language: Language) -> Intent | None:
    """The hold's phrase where two ears mean it or two free ones wrote nearly that, and both networks find it there, and
    nothing else."""
    if expected.hold is None:
        return None
    phrase, near = expected.hold.phrase, _near_phrase(case, expected)
    is_agreed = case.agreed is not None and case.agreed.kind is Kind.CONFIRM
    if not is_agreed and sum(is_near(text, phrase) for text in _written(case)) < 2:
        return None
    written = [text for text in near if text != phrase]
    is_there = is_phrase_there(case, phrase, written) and leads_by_sound(case, phrase, language)
    return understand(phrase, expected, language) if is_there else None


def guessed(case: Case, expected: Expected, language: Language) -> Intent | None:
    """An item of the sheet or a command to be offered: it fits, and better than the others that were thought of."""
    ranked = sorted(_sounded(case, expected, language), key=lambda pair: -pair[0])
    if not ranked:
        return None
    fit, best = ranked[0]
    # Another name of the same item is no rival.
    rivals = [other for other, intent in ranked[1:] if not same(intent, best)]
    return best if not rivals or fit - rivals[0] >= _LEAD else None


def is_unnamed(intent: Intent) -> bool:
    """An item under a name that the sheet doesn't have."""
    return intent.kind in ITEM_KINDS and id_of(intent) is None


def known_item(case: Case, taken: Intent, expected: Expected, language: Language) -> Intent | None:
    """For an unnamed item the sheet's one that sounds nearly as well: "took off section filter", the suction filter."""
    written = mean_fit(case, taken.heard)
    least = _LIKELY.fit if written is None else written - _NEARLY_AS_WELL
    found: list[tuple[float, Intent]] = []
    for text in _items(case, expected, language):
        meant, fit = understand(text, expected, language), mean_fit(case, text)
        if meant.kind is taken.kind and fit is not None and fit >= least and _is_likely(sounding_as(case, text)):
            found.append((fit, meant))
    best = max(found, key=lambda pair: pair[0], default=None)
    return best[1] if best is not None else None


def _sounded(case: Case, expected: Expected, language: Language) -> Iterator[tuple[float, Intent]]:
    """The items and commands that may have been said, each with its fit."""
    for text in (*_items(case, expected, language), *_commands(case, expected, language)):
        found = sounding_as(case, text)
        if found is not None and _is_likely(found):
            yield found.fit, understand(text, expected, language)


def values_by_sound(case: Case, asked: Sequence[Intent], expected: Expected, language: Language) -> tuple[Intent, ...]:
    """The values to be asked about, the likeliest first, where the networks know better than what is `asked` about.

    What both hear themselves; else what one of them hears and is asked about anyhow, or both where nothing is. Else, of
    all that were thought of, the one that no other number leads over."""
    own = _likely_own(case)
    known = [one for one in own if any(same(one, other) for other in asked)]
    if own:
        # What an ear wrote and is the likeliest as well fills both places: it is offered alone.
        knows_better = len(own) == 1 or not asked or known
        return (*known, *own, *asked)[:_MOST_NAMED] if knows_better else ()
    led: list[tuple[float, Intent]] = []
    for text in dict.fromkeys(one.words for w in case.writers for _, one in w.soundings):
        meant, one = understand(text, expected, language), sounding_as(case, text)
        if meant.kind in VALUES and one is not None and one.lead is not None and one.lead >= 0 and _is_likely(one):
            led.append((one.lead, meant))
    best = max(led, key=lambda pair: pair[0], default=None)
    return (best[1], *asked)[:_MOST_NAMED] if best is not None else ()


def _likely_own(case: Case) -> list[Intent]:
    """What the networks hear themselves, one value where they hear the same; as far as it fits both, on average."""
    hearing = [w for w in case.writers if w.heard.by_phones]
    if len(hearing) < 2:
        return []
    least = _BOTH_FIT if heard_by_both(case) is not None else _ONE_FIT
    ranked: list[tuple[float, Intent]] = []
    for w in hearing:
        text = w.heard.by_phones or ""
        fit = mean_fit(case, text)
        if w.by_phones.kind in VALUES and fit is not None and fit >= least:
            ranked.append((fit * len(text), w.by_phones))  # the whole text's: a longer one has more to miss
    found: list[Intent] = []
    for _, one in sorted(ranked, key=lambda pair: -pair[0]):
        if not any(same(one, other) for other in found):
            found.append(one)
    return found


def _is_likely(found: Sounding | None) -> bool:
    return found is not None and found.fit >= _LIKELY.fit and found.worst >= _LIKELY.worst


def _rivals(case: Case, expected: Expected, language: Language) -> list[str]:
    """The number that comes nearest to one that was asked about, where that one doesn't lead clearly."""
    found = [one.rival for w in case.writers for _, one in w.soundings if one.lead is not None and one.lead < _CLEARLY]
    return [text for text in found if text and understand(text, expected, language).kind in VALUES]


def _written(case: Case) -> list[str]:
    return [w.heard.free_words for w in case.writers if w.heard.free_words]


def is_near(text: str, phrase: str) -> bool:
    """What was written is like the phrase of a hold, or like what is left of one."""
    return letter_distance(text, phrase) <= _NEAR_PHRASE


def _near_phrase(case: Case, expected: Expected) -> list[str]:
    """What was written that is like the hold's phrase."""
    return [text for text in _written(case) if expected.hold is not None and is_near(text, expected.hold.phrase)]


def _of_hold(case: Case, expected: Expected, language: Language) -> list[str]:
    """The phrase, what was written that is like it, and what turns it round; nothing where nothing is like it."""
    near = _near_phrase(case, expected)
    if expected.hold is None or not near:
        return []
    phrase = expected.hold.phrase
    return [phrase, *near, *contraries(phrase, language)]


def _items(case: Case, expected: Expected, language: Language) -> list[str]:
    """Each way of saying that one of the items is off or on whose name is most like the end of a free text."""
    written = [text.split() for text in _written(case)]
    found: list[tuple[float, str]] = []
    for item in expected.sheet.items.values():
        for name in (item.name.lower(), *(alias.lower() for alias in item.aliases)):
            length = len(name.split())
            ends = [words[-size:] for words in written for size in (length, length + 1) if len(words) > size]
            far = min((letter_distance(" ".join(end), name) for end in ends), default=1.0)
            is_short = any(len(words) <= length + _LONGEST_LEAD for words in written)
            if far <= _NEAR_NAME and is_short:
                found.append((far, name))
    names = [name for _, name in sorted(found)[:_MOST_NAMES]]
    leads = [language.lead_ins[kind][0] for kind in ITEM_KINDS if language.lead_ins.get(kind)]
    return [f"{lead} {name}" for name in names for lead in leads]


def _commands(case: Case, expected: Expected, language: Language) -> list[str]:
    written = [text for text in _written(case) if len(text.split()) <= _LONGEST_COMMAND]
    found: list[tuple[float, str]] = []
    for phrase in language.command_of:
        text = " ".join(phrase)
        far = min((letter_distance(one, text) for one in written), default=1.0)
        if far <= _NEAR_PHRASE and understand(text, expected, language).kind not in NO_COMMAND:
            found.append((far, text))
    return [text for _, text in sorted(found)[:_MOST_COMMANDS]]
