"""Questions: the limit, a reading, the step, a conversion. A question with a number in it is never a reading."""

from __future__ import annotations

from bench_voice.core.intents import Asks, Expected, Intent, Kind
from bench_voice.speech.names import SheetNames
from bench_voice.speech.phrases import Language, Phrase
from bench_voice.speech.quantities import read_quantity
from bench_voice.speech.units import same_dimension


def read_query(said: Phrase, expected: Expected, names: SheetNames, language: Language) -> Intent | None:
    """QUERY with its topic in `text`, or None for a question that is not ours.

    Conversion: `value`, `unit` as said, `detail` the unit wanted. Limit and reading: `name` the reading's id.
    """
    if said in language.query_of:
        return Intent(Kind.QUERY, text=language.query_of[said])
    for lead in language.query_leads["conversion"]:
        if said[: len(lead)] == lead:
            found = _conversion(said[len(lead) :], language)
            if found is not None:
                return found
    for topic in ("reading", "limit"):
        for lead in language.query_leads[topic]:
            if said[: len(lead)] == lead and len(said) > len(lead):
                ids = names.readings.find(said[len(lead) :])
                here = tuple(id_ for id_ in ids if id_ in expected.step.readings) or ids
                if here:
                    options = tuple(Intent(Kind.QUERY, name=id_, text=topic) for id_ in here)
                    if len(options) == 1:
                        return options[0]
                    return Intent(Kind.AMBIGUOUS, asks=Asks.WHICH_NAME, options=options)
    return None


def _conversion(rest: Phrase, language: Language) -> Intent | None:
    for at in range(len(rest) - 2, 0, -1):
        target = language.units.get(rest[at + 1 :])
        if rest[at] not in language.conversion_joins or target is None:
            continue
        for said in reversed(read_quantity(rest[:at], language)):
            if said.unit is not None and said.number.is_sure and same_dimension(said.unit, target):
                return Intent(Kind.QUERY, value=said.number.value, unit=said.unit, text="conversion", detail=target)
            units = [u for u in said.unit_options if same_dimension(u, target)]
            if len(units) == 1 and said.number.is_sure:
                return Intent(Kind.QUERY, value=said.number.value, unit=units[0], text="conversion", detail=target)
    return None
