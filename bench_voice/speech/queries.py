"""Questions: the limit, a reading, the step, a conversion, the arithmetic of the trade. None of them records anything.

What `reckon` answers in English is answered here too: the one place in this package that knows `bench_voice.reckon`,
which itself rests on the number and unit words of this package and never on the questions.
"""

from __future__ import annotations

from decimal import Decimal

from bench_voice.core.intents import (
    CONVERSION,
    WEAR,
    Asks,
    Calculation,
    Conversion,
    Expected,
    Query,
    Question,
    Topic,
)
from bench_voice.errors import BenchError
from bench_voice.speech.earlier import read_earlier
from bench_voice.speech.names import SheetNames
from bench_voice.words.phrases import Language, Phrase
from bench_voice.words.quantities import read_quantity
from bench_voice.words.units import DIMENSIONS, same_dimension

Answerable = Query | Conversion | Calculation | Question
AGAINST = ("km", "mile", "h")  # what wear is counted against


def read_query(
    said: Phrase, expected: Expected, names: SheetNames, language: Language, typed: str
) -> Answerable | None:
    """The question and what it is about, or None for a question that is not ours.

    `typed`: the same words with their breaks between clauses, as `reckon` takes them.
    """
    if said in language.query_of:
        topic = language.query_of[said]
        return worn(None, expected, language) if topic == WEAR else Query(Topic(topic))
    for lead in language.query_leads[WEAR]:
        if said[: len(lead)] == lead and said[-1] in language.wear_ends and len(said) > len(lead) + 1:
            ids = names.readings.find(said[len(lead) : -1])
            if ids:
                options = tuple(worn(id_, expected, language) for id_ in ids)
                return options[0] if len(ids) == 1 else Question(Asks.WHICH_NAME, options=options)
    if language.code == "en" and (earlier := read_earlier(" ".join(said), expected, names)):
        return earlier
    found = _foreseen(said, expected, names, language)
    if found is not None:
        return found
    for topic in (Topic.READING, Topic.LIMIT):
        for lead in language.query_leads[topic]:
            if said[: len(lead)] == lead and len(said) > len(lead):
                ids = names.readings.find(said[len(lead) :])
                here = tuple(id_ for id_ in ids if id_ in expected.step.readings) or ids
                if here:
                    asked = tuple(Query(topic, id_) for id_ in here)
                    return asked[0] if len(asked) == 1 else Question(Asks.WHICH_NAME, options=asked)
    if language.code == "en":
        return reckoned(typed)
    for lead in language.query_leads[CONVERSION]:
        if said[: len(lead)] == lead:
            found = _conversion(said[len(lead) :], language)
            if found is not None:
                return found
    return None


def _foreseen(said: Phrase, expected: Expected, names: SheetNames, language: Language) -> Answerable | None:
    """ "What will the lining be at twenty thousand kilometres?" """
    for lead in language.query_leads["wear-at"]:
        rest = said[len(lead) :] if said[: len(lead)] == lead else ()
        for join in language.wear_at_joins:
            at = next((at for at in range(len(rest)) if rest[at : at + len(join)] == join), None)
            if at is None:
                continue
            ids: tuple[str | None, ...] = tuple(names.readings.find(rest[:at])) if at else (None,)
            there = [
                (one.number.value, one.unit)
                for one in read_quantity(rest[at + len(join) :], language)
                if one.number.is_sure and one.unit in AGAINST
            ]
            if ids and there:
                options = tuple(worn(id_, expected, language, there[0]) for id_ in ids)
                return options[0] if len(ids) == 1 else Question(Asks.WHICH_NAME, options=options)
    return None


def worn(
    name: str | None, expected: Expected, language: Language, at: tuple[Decimal, str | None] | None = None
) -> Calculation | Question:
    """ "How long will it last?", for the reading `name`, else for the one that the step is about; `at`: what it will be
    at that distance or hour. `sentence` "": nothing is known of it yet.
    """
    from bench_voice.reckon.history import lasting
    from bench_voice.reckon.measure import convert
    from bench_voice.reckon.spoken import asked

    value, unit = at or (None, None)
    id_ = name or next(iter((*expected.waits, *expected.step.readings)), None) or expected.last_reading
    series = [one for one in expected.wear if one.reading == id_]
    sentence = ""
    if series and id_ is not None and language.code == "en":
        spec = expected.sheet.readings[id_]
        try:
            there = None if value is None or unit is None else convert(value, unit, series[0].against_unit)
        except BenchError as error:
            return Question(Asks.QUESTION, detail=asked(error))
        answer = lasting(series, spec.unit, at=there)
        sentence = f"{spec.name}: {answer}" if answer else ""
    return Calculation(WEAR, sentence, id_, value, unit)


def reckoned(words: str) -> Calculation | Conversion | Question | None:
    """A question of `bench_voice.reckon` in English, breaks between clauses kept as commas; asked back with the reason
    where it is doubtful or cannot be; None for words that are no such question.
    """
    from bench_voice.reckon.answer import ReckonError
    from bench_voice.reckon.questions import reckon
    from bench_voice.reckon.spoken import aloud, asked

    try:
        answer = reckon(words)
    except ReckonError as error:
        if error.slug == "reckon-question":
            return None
        return Question(Asks.QUESTION, detail=asked(error))
    first = answer.values[0]
    if answer.kind == CONVERSION and first.unit in DIMENSIONS:
        said = answer.get("said")
        if said.unit in DIMENSIONS and not answer.sentence.startswith("A difference"):
            return _converted(said.value, said.unit, first.unit)
    # A conversion that readings have no units for is answered by its sentence like all others.
    topic = "units" if answer.kind == CONVERSION else answer.kind
    return Calculation(topic, aloud(answer), value=first.shown, unit=first.unit)


def _converted(value: Decimal, unit: str, target: str) -> Conversion | Question:
    """The answer as `reckon` shows it; what cannot be (a length below nothing) is asked."""
    from bench_voice.reckon.measure import conversion
    from bench_voice.reckon.spoken import asked

    try:
        answer = conversion(value, unit, target)
    except BenchError as error:
        return Question(Asks.QUESTION, detail=asked(error))
    shown = answer.values[0].shown
    return Conversion(value, unit, target, shown)


def _conversion(rest: Phrase, language: Language) -> Conversion | Question | None:
    for at in range(len(rest) - 2, 0, -1):
        target = language.units.get(rest[at + 1 :])
        if rest[at] not in language.conversion_joins or target is None:
            continue
        for said in reversed(read_quantity(rest[:at], language)):
            if said.unit is not None and said.number.is_sure and same_dimension(said.unit, target):
                return _converted(said.number.value, said.unit, target)
            units = [u for u in said.unit_options if same_dimension(u, target)]
            if len(units) == 1 and said.number.is_sure:
                return _converted(said.number.value, units[0], target)
    return None
