"""An answer in figures for the screen, in words for the voice, and as JSON."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache
from typing import Any

from bench_voice.core.signs import shown_unit
from bench_voice.errors import BenchError
from bench_voice.reckon.answer import MANUAL, PRACTICE, Answer, Value
from bench_voice.reckon.measure import all_units
from bench_voice.reckon.words import WORDS, language
from bench_voice.words.say import Speaker


@cache
def _speaker() -> Speaker:
    return Speaker(language())


def figures(one: Value) -> str:
    """ "88.1 N·m"; a count is only its number."""
    number = format(one.shown, "f")
    if one.unit == "deg":
        return f"{number}°"
    return number if one.unit == "count" else f"{number} {shown_unit(one.unit)}"


def in_words(one: Value) -> str:
    """ "eighty eight point one newton metres"."""
    if one.unit not in WORDS:
        return _speaker().quantity(one.shown, one.unit)
    single, many, _ = WORDS[one.unit]
    return f"{_speaker().number(one.shown)} {single if one.shown == 1 else many}"


def unit_words(unit: str) -> str:
    """ "kilometres"."""
    return WORDS[unit][1] if unit in WORDS else _speaker().unit(unit)


def text(answer: Answer) -> str:
    """The sentence in figures, warnings and the manual after it."""
    body = answer.sentence.format(**{one.name: figures(one) for one in answer.values})
    return " ".join((body, *answer.warnings, *((MANUAL,) if answer.is_limit else ())))


def said(answer: Answer) -> str:
    """The same for the voice, numbers and units in words."""
    body = answer.sentence.format(**{one.name: in_words(one) for one in answer.values})
    return " ".join((body[:1].upper() + body[1:], *answer.warnings, *((MANUAL,) if answer.is_limit else ())))


def source_said(source: str) -> str:
    """The source as it is named aloud: the first one, without remarks in brackets and without the formula."""
    first = re.sub(r"\s*\([^)]*\)", "", source.split(";")[0])
    named = [part.strip() for part in first.split(",") if "=" not in part]
    return ", ".join(part for part in named if part)


def aloud(answer: Answer) -> str:
    """What a session answers: the sentence, where it comes from, warnings, the manual."""
    body = answer.sentence.format(**{one.name: in_words(one) for one in answer.values})
    source = "Common practice" if answer.source == PRACTICE else f"From: {source_said(answer.source)}"
    said_ = (body[:1].upper() + body[1:], *answer.warnings, f"{source}.", *((MANUAL,) if answer.is_limit else ()))
    return " ".join(said_)


@cache
def _printed_units() -> tuple[re.Pattern[str], dict[str, str]]:
    printed = {shown_unit(unit): unit for unit in all_units()}
    names = "|".join(re.escape(name) for name in sorted(printed, key=len, reverse=True))
    return re.compile(rf"(?:(-?\d+(?:\.\d+)?) )?(?<![\w·])({names})(?![\w·])"), printed


def asked(error: BenchError) -> str:
    """Why a question is asked back and how to ask it, for the voice: quantities and units in words."""
    pattern, printed = _printed_units()

    def words(match: re.Match[str]) -> str:
        unit = printed[match[2]]
        if match[1] is not None:
            value = Decimal(match[1])
            return in_words(Value("", value, unit, value))
        # A word of the sentence ("in", "a") is no unit where no number stands before it.
        return in_words(Value("", Decimal(2), unit, Decimal(2))).partition(" ")[2] if "·" in match[2] else match[0]

    return pattern.sub(words, f"{error.what} {error.mend}")


def as_json(answer: Answer) -> dict[str, Any]:
    return {
        "accepted": True,
        "kind": answer.kind,
        "values": [
            {"name": one.name, "value": format(one.value, "f"), "unit": one.unit, "shown": format(one.shown, "f")}
            for one in answer.values
        ],
        "text": text(answer),
        "said": said(answer),
        "formula": answer.formula,
        "source": answer.source,
        "check_manual": answer.is_limit,
        "warnings": list(answer.warnings),
        "question": None,
    }
