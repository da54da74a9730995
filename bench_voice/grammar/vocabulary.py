"""What to listen for at a step: phrases from the language and the sheet. Numbers are never narrowed to what would pass.

Units and names go by step, the hold phrase only stands at its hold (among decoys that a near miss can fall into),
commands are always there. Free text (notes, reminders, reasons) is a loop of common words: enough for the first ear to
hear the words that lead in; the text itself is the free ears'.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from bench_voice.core.intents import ITEM_KINDS, Expected, Kind
from bench_voice.grammar.trade import TRADE, Trade
from bench_voice.words.phrases import Language
from bench_voice.words.units import DIMENSIONS

Phrases = tuple[str, ...]

_SAYABLE = re.compile(r"[a-z]+(?:'[a-z]+)*\Z")
_VOWEL = re.compile(r"[aeiouy]")

# Words that notes and reminders of a workshop are made of. Own list, common practice, no source.
_FREE_WORDS = {
    "en": (
        "a again all also and any at back before behind below blue bolt both brake broken brush by cable change check "
        "clean clip cracked damaged day dirty down drive dry edge end feel find first fit for from get good grease has "
        "have here in inside is it job keep last left lever look loose lost marks more need needs new next nut oil old "
        "on one or order out outside over paint part pin plug put ring right rust rusty scored screw seal side signs "
        "small some spring stuck tape that the there they this tight tighten time to today tomorrow top torn turn two "
        "under up was wash wear week when wire with worn"
    ),
}

# Heard for "four" and "half a" where nobody measures in inches.
_RARE_FRACTIONS = {"en": frozenset({"fourth", "fourths", "halves"})}
_OTHER_NUMBERS = {"en": frozenset({"oh", "nought", "naught", "niner"})}


@dataclass(frozen=True)
class Vocabulary:
    """Phrases in lower case, single spaces, every word sayable. Tuples keep their order, each phrase once.

    `items`: (lead-ins, item names); `free_leads`: lead-ins of free text, with `free` the loop's words.
    `decoys` are heard and mean nothing. `has_points`: several numbers in one breath are wanted. `call`: the call word
    that stands in front of everything, empty where none is used; `is_call_needed` False: it may be left out now.
    """

    commands: Phrases
    judgements: Phrases
    names: Phrases
    looks: Phrases
    units: Phrases
    time_units: Phrases
    item_leads: Phrases
    items: Phrases
    free_leads: Phrases
    free: Phrases
    timer_leads: Phrases
    timer_for: Phrases
    corrections: Phrases
    queries: Phrases
    query_leads: Phrases
    conversion_leads: Phrases
    conversion_joins: Phrases
    fillers: Phrases
    hedges: Phrases
    hold: str
    decoys: Phrases
    digits: Phrases
    teens: Phrases
    tens: Phrases
    hundred: Phrases
    scales: Phrases
    point: Phrases
    and_: Phrases
    minus: Phrases
    articles: Phrases
    fractions: Phrases
    has_points: bool
    call: str = ""
    is_call_needed: bool = True
    trade: Trade | None = None  # questions of the trade; none of its words count for a free ear's limited search

    def words(self) -> Phrases:
        """Every word but those of free text and decoys, sorted: what the limited search of a free ear may write."""
        found: set[str] = {*self.hold.split(), *self.call.split()}
        for name, value in vars(self).items():
            if isinstance(value, tuple) and name not in ("free", "decoys"):
                found.update(word for phrase in value for word in phrase.split())
        return tuple(sorted(found))

    def all_words(self) -> Phrases:
        """Every word that the grammar holds, sorted."""
        more = {word for phrase in (*self.free, *self.decoys) for word in phrase.split()}
        return tuple(sorted(more.union(self.words(), self.trade.all_words() if self.trade else ())))


def unknown_words(vocabulary: Vocabulary, is_known: Callable[[str], bool]) -> Phrases:
    """The sheet's words that a recogniser's dictionary lacks; their pronunciations are guesses: `check` names them."""
    return tuple(word for word in replace(vocabulary, trade=None).all_words() if not is_known(word))


def is_sayable(phrase: str) -> bool:
    """Whether each word can be guessed from its letters: letters only, a vowel in each that isn't a single letter."""
    words = phrase.split()
    return bool(words) and all(_SAYABLE.match(w) and (len(w) == 1 or _VOWEL.search(w)) for w in words)


def vocabulary(expected: Expected, language: Language, *, call: str = "", is_call_needed: bool = True) -> Vocabulary:
    """What to listen for now. Pure; a few milliseconds."""
    sheet, step, numbers = expected.sheet, expected.step, language.numbers
    readings = list(dict.fromkeys((*expected.waits, *step.readings, *expected.correctable)))
    known = [sheet.readings[name] for name in readings if name in sheet.readings]
    looks = [sheet.looks[name] for name in dict.fromkeys((*expected.looks, *step.looks)) if name in sheet.looks]
    here = [
        sheet.readings[name] for name in readings if name in (*expected.waits, *step.readings, expected.last_reading)
    ]
    wanted = {unit for reading in here if reading.id in sheet.readings for unit in (reading.unit, reading.read_in)}
    lead = language.lead_ins
    hold = expected.hold.phrase if expected.hold else ""
    is_inch = bool(wanted & {"in", "thou"})
    return Vocabulary(
        commands=_phrases(phrase for phrases in language.commands.values() for phrase in phrases),
        judgements=_phrases(phrase for phrases in language.judgements.values() for phrase in phrases),
        names=_phrases(name for reading in known for name in (reading.name, *reading.aliases)),
        looks=_phrases(name for look in looks for name in (look.name, *look.aliases)),
        units=_units(wanted, language),
        time_units=_units({"s", "min", "h"}, language),
        item_leads=_leads(language, *ITEM_KINDS),
        items=_phrases(name for item in sheet.items.values() for name in (item.name, *item.aliases)),
        free_leads=_leads(language, Kind.NOTE, Kind.REMINDER, Kind.DONE, Kind.FITTED, Kind.TAKEN_OFF, Kind.JUDGED),
        free=_free(expected, language),
        timer_leads=_phrases(lead.get(Kind.TIMER, ())),
        timer_for=_phrases(" ".join(phrase) for phrase in sorted(language.timer_for)),
        corrections=_phrases(lead.get(Kind.CORRECTION, ())),
        queries=_phrases(" ".join(phrase) for phrase in language.query_of),
        query_leads=_phrases(
            " ".join(phrase) for topic in ("limit", "reading") for phrase in language.query_leads.get(topic, ())
        ),
        conversion_leads=_phrases(" ".join(phrase) for phrase in language.query_leads.get("conversion", ())),
        conversion_joins=_phrases(sorted(language.conversion_joins)),
        fillers=_long(language.fillers),
        hedges=_long(language.hedges),
        hold=hold,
        decoys=_decoys(hold, language) if hold else (),
        digits=_said(numbers.digit, language),
        teens=_said(numbers.teen, language),
        tens=_said(numbers.ten, language),
        hundred=_phrases(sorted(numbers.hundred)),
        scales=_said({word: value for word, value in numbers.scale.items() if value <= 1000}, language),
        point=_phrases(sorted(numbers.point)),
        and_=_phrases(sorted(numbers.and_)),
        minus=_phrases(sorted(numbers.minus)),
        articles=_phrases(sorted(numbers.articles)),
        fractions=_phrases(
            " ".join(phrase)
            for phrase, value in numbers.fraction.items()
            if is_inch or (value in (2, 4) and " ".join(phrase) not in _RARE_FRACTIONS.get(language.code, ()))
        ),
        has_points=expected.points_left > 1 or len(expected.waits) > 1,
        call=call,
        is_call_needed=is_call_needed,
        trade=TRADE.get(language.code),
    )


_MOST_HINTS = 20
# Where no sheet is open only questions of the trade are asked: their nouns. Own list, common practice, no source.
_TRADE_HINTS = {
    "en": (
        "newton metres", "foot pounds", "p s i", "bar", "thou", "millimetres", "degrees celsius", "fahrenheit",
        "litres", "wrench", "extension", "drag", "m eight", "class eight point eight", "drill", "tyre date",
        "load index", "battery", "volts", "voltage drop", "square millimetre cable", "mix fifty to one",
    )
}  # fmt: skip


def hints(expected: Expected, language: Language) -> Phrases:
    """What a free ear is told may be said here: names of the step's readings and looks, of items, and units as they are
    said. Never a hold's words or a number: what it is told it hears more easily."""
    sheet = expected.sheet
    if not (sheet.readings or sheet.items or sheet.looks):
        return _TRADE_HINTS.get(language.code, ())
    known = dict.fromkeys((*expected.waits, *expected.step.readings))
    specs = [sheet.readings[name] for name in known if name in sheet.readings]
    looks = [sheet.looks[name].name for name in dict.fromkeys((*expected.looks, *expected.step.looks))]
    units = [language.unit_said[spec.unit][1] for spec in specs if spec.unit in language.unit_said]
    names = [spec.name for spec in specs[:8]]
    items = [item.name for item in sheet.items.values()]
    return _phrases((*names, *looks, *units, *items))[:_MOST_HINTS]


def said_unit(expected: Expected, language: Language) -> str:
    """The unit of the reading that is wanted first, as it is said ("newton metres"); empty without one."""
    known = dict.fromkeys((*expected.waits, *expected.step.readings))
    units = [expected.sheet.readings[name].unit for name in known if name in expected.sheet.readings]
    return next((language.unit_said[unit][1] for unit in units if unit in language.unit_said), "")


def _phrases(raw: Iterable[str]) -> Phrases:
    """Each once, lower case, hyphens to spaces; what can't be said from its letters is left out."""
    plain = (" ".join(re.sub(r"[-/,.]", " ", phrase.lower()).split()) for phrase in raw)
    return tuple(dict.fromkeys(phrase for phrase in plain if is_sayable(phrase)))


def _leads(language: Language, *kinds: Kind) -> Phrases:
    return _phrases(phrase for kind in kinds for phrase in language.lead_ins.get(kind, ()))


def _units(wanted: set[str], language: Language) -> Phrases:
    """The wanted units in all their forms, others of their dimensions as they are usually said: every form more makes
    the grammar slower. Short written forms ("in", "ma", "c") would be heard everywhere and are left out."""
    dimensions = {DIMENSIONS.get(unit) for unit in wanted}
    found: list[str] = []
    for unit, phrases in language.unit_words.items():
        if DIMENSIONS.get(unit) in dimensions:
            found += phrases[:2]
        if unit in wanted:
            found += [p for p in phrases[2:] if all(len(w) > 2 for w in p.split()) or _is_spelled(p)]
    for phrase, (units, _) in language.ambiguous_units.items():
        if {DIMENSIONS.get(unit) for unit in units} & dimensions:
            found.append(" ".join(phrase))
    return _phrases(found)


def _long(phrases: Iterable[tuple[str, ...]]) -> Phrases:
    """Short words ("is", "at", "so") would be heard in any sound."""
    return _phrases(" ".join(phrase) for phrase in sorted(phrases) if len(phrase) > 1 or len(phrase[0]) > 4)


def _said(words: Mapping[str, int], language: Language) -> Phrases:
    """Number words as they are said, and the usual others; spellings that only sound the same are left out, or the
    recogniser's choice between them would be chance."""
    others = _OTHER_NUMBERS.get(language.code, frozenset(words))
    return _phrases(word for word, value in words.items() if word == language.numbers.said.get(value) or word in others)


def _is_spelled(phrase: str) -> bool:
    words = phrase.split()
    return len(words) > 1 and all(len(word) == 1 for word in words)


def _free(expected: Expected, language: Language) -> Phrases:
    """Common words and those of the sheet's names and the step."""
    sheet = expected.sheet
    texts = [item.name for item in sheet.items.values()]
    texts += [reading.name for reading in sheet.readings.values()]
    texts += [expected.step.say, expected.step.detail, *sheet.parts]
    words = re.findall(r"[a-z']+", " ".join(texts).lower())
    return _phrases((*_FREE_WORDS.get(language.code, "").split(), *words))


def _decoys(hold: str, language: Language) -> Phrases:
    """Near misses of the hold phrase, so that a negation, a question or a part of it has a path of its own."""
    words = hold.split()
    rest = words[1:]
    found = [" ".join((*words[:at], "not", *words[at:])) for at in range(1, len(words) + 1)]
    found += [" ".join((*words[:at], "are", "not", *words[at:])) for at in range(2, len(words))]
    found += [" ".join((*words[:at], "is", "not", *words[at:])) for at in range(2, len(words))]
    found += [f"{start} {' '.join(rest)}" for start in ("is the", "are the", "is", "are", "not", "no", "the")]
    found += [" ".join(words[:-1]), " ".join(rest), f"{hold} question", f"do not {hold}", f"cannot {hold}"]
    return tuple(phrase for phrase in _phrases(found) if phrase != hold and language.code == "en")
