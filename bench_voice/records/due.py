"""When something is to be done again, out of a sheet's words: "after twelve months", "in a year", "every 100 hours".

A time of the calendar becomes a day. Distance and hours of use have none, and are named as they are.
"""

from __future__ import annotations

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache

from bench_voice.core.signs import quantity
from bench_voice.speech.queries import AGAINST
from bench_voice.words.numbers import read_number
from bench_voice.words.phrases import Language, load_language

# Words of the calendar that are no units of measure, in the languages that sheets are written in.
_CALENDAR: dict[str, dict[str, tuple[str, ...]]] = {
    "en": {"day": ("day", "days"), "week": ("week", "weeks"), "month": ("month", "months"), "year": ("year", "years")},
    "de": {
        "day": ("tag", "tage", "tagen"),
        "week": ("woche", "wochen"),
        "month": ("monat", "monate", "monaten"),
        "year": ("jahr", "jahre", "jahren"),
    },
}
# Before the number: only what says that something comes later. "Two years ago" and "the first year" are none.
_LEADS = {
    "en": ("after", "in", "within", "every", "after the first", "after another"),
    "de": ("nach", "in", "innerhalb von", "alle", "nach den ersten", "nach weiteren"),
}
_ONE = {"en": ("a", "an", "one"), "de": ("einem", "einer", "ein", "eine")}
_LONGEST = 5  # words of a number: "one hundred and twenty five"


@dataclass(frozen=True)
class Due:
    """`day`: the first one that is named; `by_use`: distances and hours, as quantities."""

    day: date | None = None
    by_use: tuple[str, ...] = ()


@lru_cache(maxsize=4)
def _language(code: str) -> Language:
    return load_language(code)


def due(text: str, from_day: date, code: str = "en") -> Due:
    """What `text` says, counted from the day of the work."""
    if code not in _CALENDAR:
        return Due()
    language = _language(code)
    words = re.findall(r"\d+(?:[.,]\d+)*|[^\W\d_]+|[.;:!?]", text.lower())
    units = {word: unit for unit, names in _CALENDAR[code].items() for word in names}
    day: date | None = None
    by_use: list[str] = []
    leads = sorted((tuple(lead.split()) for lead in _LEADS[code]), key=len, reverse=True)
    at = 0
    while at < len(words):
        lead = next((one for one in leads if tuple(words[at : at + len(one)]) == one), None)
        if lead is None:
            at += 1
            continue
        at += len(lead)
        found = _amount(words, at, language, code, units)
        if found is None:
            continue
        amount, unit, at = found
        by_use, day = _taken(amount, unit, from_day, day, by_use)
        # "after 12 months or 10,000 km": the lead stands once.
        while at < len(words) and words[at] in ("or", "oder"):
            found = _amount(words, at + 1, language, code, units)
            if found is None:
                break
            amount, unit, at = found
            by_use, day = _taken(amount, unit, from_day, day, by_use)
    return Due(day, tuple(by_use))


def _taken(
    amount: Decimal, unit: str, from_day: date, day: date | None, by_use: list[str]
) -> tuple[list[str], date | None]:
    if unit in AGAINST:
        return [*by_use, quantity(amount, unit)], day
    return by_use, day or _later(from_day, unit, int(amount))


def _amount(
    words: list[str], at: int, language: Language, code: str, units: dict[str, str]
) -> tuple[Decimal, str, int] | None:
    """Amount, unit and the place behind them."""
    for length in range(1, _LONGEST + 1):
        end = at + length
        if end >= len(words):
            return None
        number = _number(words[at:end], language, code)
        if number is None:
            continue
        if words[end] in units and number == number.to_integral_value() and 0 < number <= 1000:
            return number, units[words[end]], end + 1
        unit = language.units.get((words[end],))
        if unit in AGAINST:
            return number, unit, end + 1
    return None


def _number(words: list[str], language: Language, code: str) -> Decimal | None:
    if len(words) == 1 and words[0] in _ONE[code]:
        return Decimal(1)
    if len(words) == 1 and re.fullmatch(r"\d{1,3}(,\d{3})+", words[0]):
        return Decimal(words[0].replace(",", ""))
    found = read_number(tuple(words), language.numbers)
    return found.value if found is not None and found.is_sure and found.value > 0 else None


def _later(from_day: date, unit: str, amount: int) -> date | None:
    """The last of a month stays its last: a month after the 31st of January is the 28th or 29th of February."""
    try:
        match unit:
            case "day":
                return from_day + timedelta(days=amount)
            case "week":
                return from_day + timedelta(weeks=amount)
            case _:
                months = from_day.year * 12 + from_day.month - 1 + amount * (12 if unit == "year" else 1)
                year, month = months // 12, months % 12 + 1
                return date(year, month, min(from_day.day, monthrange(year, month)[1]))
    except (OverflowError, ValueError):
        return None
