"""Meaning -> words, in a form that `understand` takes for the same meaning again. One value at a time, short."""

from __future__ import annotations

import string
from collections.abc import Iterable
from decimal import Decimal
from typing import assert_never

from bench_voice.core.intents import (
    CONVERSION,
    Calculation,
    Command,
    Confirmation,
    Conversion,
    Expected,
    Intent,
    ItemChange,
    Judgement,
    Kind,
    Measurement,
    Query,
    Question,
    Remark,
    Replacement,
    Setting,
    Timer,
    Unknown,
)
from bench_voice.errors import BenchError
from bench_voice.words.numbers import MAX_INTEGER_DIGITS
from bench_voice.words.phrases import Language


class WordingError(BenchError, KeyError):
    """A sentence, or a field of one, is missing from wording.yaml."""

    def __str__(self) -> str:
        return BenchError.__str__(self)


class Speaker:
    """Speaks one language. Pure: the same fields give the same sentence."""

    def __init__(self, language: Language) -> None:
        self.language = language

    def number(self, value: Decimal) -> str:
        """ "four point six zero": digits kept, decimals one by one, cardinals before the point."""
        numbers = self.language.numbers
        text = format(value, "f")
        sign = f"{numbers.said_minus} " if text.startswith("-") else ""
        whole, _, decimals = text.lstrip("-").partition(".")
        spoken = self._integer(whole)
        if decimals:
            spoken += f" {numbers.said_point} {' '.join(numbers.said[int(digit)] for digit in decimals)}"
        return sign + spoken

    def _integer(self, digits: str) -> str:
        numbers = self.language.numbers
        if len(digits) > MAX_INTEGER_DIGITS:
            return " ".join(numbers.said[int(digit)] for digit in digits)
        value = int(digits)
        if value < 1000:
            return self._below_thousand(value)
        parts: list[str] = []
        for scale in sorted((size for size in numbers.said if size >= 1000), reverse=True):
            count, value = divmod(value, scale)
            if count:
                joined = numbers.is_compound and scale == 1000
                head = self._below_thousand(count, is_head=True)
                parts.append(head + ("" if joined else " ") + numbers.said[scale])
        if value:
            needs_and = numbers.says_and and value < 100
            parts.append((f"{numbers.said_and} " if needs_and else "") + self._below_thousand(value))
        if numbers.is_compound and parts and parts[0].endswith(numbers.said[1000]) and len(parts) == 2:
            return "".join(parts)
        return " ".join(parts)

    def _below_thousand(self, value: int, is_head: bool = False) -> str:
        numbers = self.language.numbers
        hundreds, rest = divmod(value, 100)
        if not hundreds:
            return self._below_hundred(rest, is_head)
        head = numbers.joiner if hundreds == 1 and numbers.joiner else numbers.said[hundreds]
        if numbers.is_compound:
            return head + numbers.said[100] + (self._below_hundred(rest, is_head) if rest else "")
        joint = f" {numbers.said_and} " if numbers.says_and else " "
        return f"{head} {numbers.said[100]}" + (joint + self._below_hundred(rest, is_head) if rest else "")

    def _below_hundred(self, value: int, is_head: bool = False) -> str:
        numbers = self.language.numbers
        if value == 1 and is_head and numbers.joiner:
            return numbers.joiner
        if value in numbers.said and value != 100:
            return numbers.said[value]
        tens, units = value - value % 10, value % 10
        if numbers.is_inverted:
            first = numbers.joiner if units == 1 and numbers.joiner else numbers.said[units]
            joint = numbers.said_and if numbers.is_compound else f" {numbers.said_and} "
            return f"{first}{joint}{numbers.said[tens]}"
        return f"{numbers.said[tens]} {numbers.said[units]}"

    def unit(self, unit: str, value: Decimal | None = None) -> str:
        """The unit's word: singular for exactly one said without decimals."""
        one, many = self.language.unit_said.get(unit) or (self.language.unit_words[unit] * 2)[:2]
        is_one = value is not None and format(value, "f").lstrip("-") == "1"
        return one if is_one else many

    def quantity(self, value: Decimal, unit: str) -> str:
        """ "four point six millimetres"; a count is only its number."""
        if unit == "count":
            return self.number(value)
        return f"{self.number(value)} {self.unit(unit, value)}"

    def listed(self, parts: Iterable[str], is_choice: bool = False) -> str:
        """ "a, b and c"; of a choice "a, b or c"."""
        items = [str(part) for part in parts]
        if len(items) < 2:
            return "".join(items)
        joint = self.language.list_or if is_choice else self.language.list_and
        return f"{self.language.list_comma.join(items[:-1])} {joint} {items[-1]}"

    def has(self, key: str) -> bool:
        return key in self.language.wording

    def render(self, key: str, **fields: object) -> str:
        """The sentence `key` of wording.yaml with its fields spoken; `{names:or}` is a choice. Raises WordingError (a
        BenchError, a KeyError)."""
        template = self.language.wording.get(key)
        where = str(self.language.folder / "wording.yaml")
        if template is None:
            raise WordingError(
                f'There is no sentence "{key}".', mend=f'Add the key "{key}".', slug="wording-missing", where=where
            )
        out: list[str] = []
        for text, name, joint, _ in string.Formatter().parse(template):
            out.append(text)
            if name is None:
                continue
            if name not in fields:
                raise WordingError(
                    f'The sentence "{key}" wants a field "{name}" that it does not get.',
                    mend=f"Use one of: {', '.join(sorted(fields)) or 'none'}.",
                    slug="wording-field",
                    where=where,
                )
            out.append(self._field(fields[name], is_choice=joint == "or"))
        return "".join(out)

    def _field(self, value: object, is_choice: bool = False) -> str:
        if isinstance(value, Decimal):
            return self.number(value)
        if isinstance(value, int) and not isinstance(value, bool):
            return self.number(Decimal(value))
        amount, unit = getattr(value, "value", None), getattr(value, "unit", None)
        if isinstance(amount, Decimal) and isinstance(unit, str):
            return self.quantity(amount, unit)
        if isinstance(value, tuple | list):
            return self.listed((self._field(part) for part in value), is_choice)
        return str(value)

    def intent_words(self, intent: Intent, expected: Expected) -> str:
        """What a person would say to mean this. Empty for Unknown; what was heard for a Question."""
        match intent:
            case Command() | Setting() | Replacement():
                return self.language.commands[intent.kind][0]
            case Confirmation():
                return _hold_phrase(intent, expected)
            case Measurement():
                return self._value(intent, expected)
            case Timer():
                return self._timer(intent)
            case Judgement():
                return self._judgement(intent, expected)
            case ItemChange() | Remark():
                return self._led_in(intent, expected)
            case Query() | Calculation() | Conversion():
                return self._query(intent, expected)
            case Question():
                return intent.heard
            case Unknown():
                return ""
            case _:
                assert_never(intent)

    def _value(self, reading: Measurement, expected: Expected) -> str:
        language, readings = self.language, expected.sheet.readings
        is_correction = reading.kind is Kind.CORRECTION
        values = reading.values or ((reading.value,) if reading.value is not None else ())
        if not values:
            return language.commands[reading.kind][0] if is_correction else ""
        name = readings[reading.name].name if reading.name and reading.name in readings else ""
        start = [language.lead_ins[Kind.CORRECTION][0] + ","] if is_correction else []
        amount = ", ".join(self.quantity(value, reading.unit or "count") for value in values)
        return " ".join((*start, *([name] if name else []), amount))

    def _timer(self, timer: Timer) -> str:
        what = f" {self._timer_join()} {timer.text}" if timer.text else ""
        return f"{self.language.lead_ins[timer.kind][0]} {self.quantity(timer.value, timer.unit)}{what}"

    def _timer_join(self) -> str:
        return min((" ".join(phrase) for phrase in self.language.timer_for), key=lambda text: (len(text), text))

    def _judgement(self, judgement: Judgement, expected: Expected) -> str:
        if judgement.finding is None:
            return ""
        looks = expected.sheet.looks
        look = looks[judgement.name].name + " " if judgement.name and judgement.name in looks else ""
        note = f", {judgement.note}" if judgement.note else ""
        return f"{look}{self.language.judgements[judgement.finding][0]}{note}"

    def _led_in(self, intent: ItemChange | Remark, expected: Expected) -> str:
        """ "Took off" and the item's name, or the words of a reminder or note."""
        items = expected.sheet.items
        name = intent.name if isinstance(intent, ItemChange) else None
        what = items[name].name if name and name in items else intent.text
        return f"{self.language.lead_ins[intent.kind][0]} {what}" if name or what else ""

    def _query(self, query: Query | Calculation | Conversion, expected: Expected) -> str:
        language = self.language
        if isinstance(query, Conversion):
            lead = " ".join(language.query_leads[CONVERSION][-1])
            join = sorted(language.conversion_joins)[0]
            return f"{lead} {self.quantity(query.value, query.unit)} {join} {self.unit(query.target)}"
        if query.name and query.name in expected.sheet.readings and query.topic in language.query_leads:
            lead = " ".join(language.query_leads[query.topic][-1])
            return f"{lead} {expected.sheet.readings[query.name].name}"
        return next((" ".join(p) for p, topic in language.query_of.items() if topic == query.topic), "")


def _hold_phrase(confirmation: Confirmation, expected: Expected) -> str:
    holds = [step.hold for step in expected.sheet.steps if step.hold] + ([expected.hold] if expected.hold else [])
    return next((hold.phrase for hold in holds if hold.id == confirmation.hold), "")
