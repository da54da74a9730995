"""An answer in figures for the screen, in words for the voice, and as JSON."""

from __future__ import annotations

from functools import cache
from typing import Any

from bench_voice.reckon.answer import MANUAL, Answer, Value
from bench_voice.reckon.measure import shown_unit
from bench_voice.reckon.words import WORDS, language
from bench_voice.speech.say import Speaker


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


def text(answer: Answer) -> str:
    """The sentence in figures, warnings and the manual after it."""
    body = answer.sentence.format(**{one.name: figures(one) for one in answer.values})
    return " ".join((body, *answer.warnings, *((MANUAL,) if answer.is_limit else ())))


def said(answer: Answer) -> str:
    """The same for the voice, numbers and units in words."""
    body = answer.sentence.format(**{one.name: in_words(one) for one in answer.values})
    return " ".join((body[:1].upper() + body[1:], *answer.warnings, *((MANUAL,) if answer.is_limit else ())))


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
