"""Patterns of questions: whole match or none, every way that the words can be cut.

Pattern text: plain words; `(a|b c|)` one of these phrases, an empty one may be absent; `[…]` all of it may be absent;
`{name:type}` a slot. Types: q quantity, n number, unit, thread, digits, chain (three digits), finish (of a
thread), letter.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from bench_voice.core.signs import shown_unit
from bench_voice.reckon.answer import ReckonError
from bench_voice.reckon.measure import dimension
from bench_voice.reckon.threads import Thread, thread
from bench_voice.reckon.words import language
from bench_voice.words.numbers import read_number
from bench_voice.words.quantities import SpokenQuantity, read_quantity
from bench_voice.words.text import BREAK

MAX_TOKENS = 40
_MAX_SLOT = 14
_PART = re.compile(r"\(([^)]*)\)|\{(\w+):(\w+)\}|(\S+)")
Words = tuple[str, ...]
FINISHES: dict[Words, str] = {("dry",): "dry", ("oiled",): "oiled", ("anti", "seize"): "anti-seize"}


@dataclass(frozen=True)
class Slot:
    name: str
    type: str


Element = tuple[Words, ...] | Slot
Captures = dict[str, Words]


@cache
def compiled(pattern: str) -> tuple[tuple[Element, ...], ...]:
    """The pattern's variants, with and without each part in square brackets."""
    match = re.search(r"\[([^\]]*)\]", pattern)
    if match:
        head, tail = pattern[: match.start()], pattern[match.end() :]
        return compiled(f"{head}{match[1]}{tail}") + compiled(head + tail)
    elements: list[Element] = []
    for part in _PART.finditer(pattern):
        group, name, kind, word = part.groups()
        if name:
            elements.append(Slot(name, kind))
        else:
            text = word if word is not None else group
            elements.append(tuple(tuple(phrase.split()) for phrase in text.split("|")))
    return (tuple(elements),)


def matches(pattern: str, tokens: Words) -> Iterator[Captures]:
    """All ways in which the whole of `tokens` fits."""
    for elements in compiled(pattern):
        yield from _walk(elements, tokens, 0, {})


def pattern_words(pattern: str) -> set[str]:
    """Its fixed words."""
    parts = (element for variant in compiled(pattern) for element in variant if not isinstance(element, Slot))
    return {word for phrases in parts for phrase in phrases for word in phrase}


def _walk(elements: tuple[Element, ...], tokens: Words, at: int, found: Captures) -> Iterator[Captures]:
    while at < len(tokens) and tokens[at] == BREAK:
        at += 1
    if not elements:
        if at == len(tokens):
            yield found
        return
    first, rest = elements[0], elements[1:]
    if isinstance(first, Slot):
        for words in _filling(first, tokens, at):
            yield from _walk(rest, tokens, at + len(words), found | {first.name: words})
        return
    for phrase in first:
        if tokens[at : at + len(phrase)] == phrase:
            yield from _walk(rest, tokens, at + len(phrase), found)


def _filling(slot: Slot, tokens: Words, at: int) -> Iterator[Words]:
    """What can stand in the slot from `at` on, the shortest first; nothing reaches over a pause."""
    if at < len(tokens) and _is_inside_number(tokens, at):
        return
    for end in range(at + 1, min(len(tokens), at + _MAX_SLOT) + 1):
        words = tokens[at:end]
        if words[-1] == BREAK:
            return
        if _fits(slot.type, words):
            yield words


def _is_inside_number(tokens: Words, at: int) -> bool:
    """ "four point five" is never cut before its point."""
    numbers = language().numbers
    return at > 0 and tokens[at] in numbers.point and read_number(tokens[at - 1 : at], numbers) is not None


@cache
def _fits(kind: str, words: Words) -> bool:
    speech = language()
    if kind == "q":
        return bool(read_quantity(words, speech))
    if kind == "n":
        return read_number(words, speech.numbers) is not None
    if kind == "unit":
        return words in speech.units or words in speech.ambiguous_units
    if kind == "thread":
        return _thread_parts(words) is not None
    if kind == "digits":
        return digits(words) is not None
    if kind == "chain":
        return len(digits(words) or "") == 3
    if kind == "finish":
        return words in FINISHES
    if kind == "letter":
        return len("".join(words)) <= 2 and "".join(words).isalpha()
    raise ValueError(kind)


def number_of(words: Words, name: str) -> Decimal:
    """The one number, or ReckonError [reckon-which] where it could be several."""
    spoken = read_number(words, language().numbers)
    if spoken is None:
        raise ReckonError(f"The {name} is no number.", mend="Say it again.", slug="reckon-question")
    if len(spoken.candidates) > 1:
        raise _which(name, [str(one) for one in spoken.candidates])
    return spoken.value


def whole(words: Words, name: str) -> int:
    value = number_of(words, name)
    if value != value.to_integral_value() or value < 0:
        raise ReckonError(f"The {name} is a whole number.", mend=f"Say the {name} again.", slug="reckon-range")
    return int(value)


def amount(words: Words, kinds: tuple[str, ...], name: str, fallback: str | None = None) -> tuple[Decimal, str]:
    """(value, unit) of the one meaning with a dimension among `kinds` (empty: any). A number without a unit takes
    `fallback`. Raises ReckonError: which of several, a unit of the wrong kind, or none.
    """
    said_all = read_quantity(words, language())
    found: dict[tuple[str, str], tuple[Decimal, str]] = {}
    other_kinds: list[str] = []
    for said in said_all:
        for unit in _units(said, fallback):
            if kinds and dimension(unit) not in kinds:
                other_kinds.append(unit)
                continue
            for value in said.number.candidates:
                found[(str(value), unit)] = (value, unit)
    if len(found) == 1:
        return next(iter(found.values()))
    if found:
        raise _which(name, [f"{value} {shown_unit(unit)}" for value, unit in found.values()])
    if other_kinds:
        unit = other_kinds[0]
        raise ReckonError(
            f"The {name} is a {' or '.join(kinds)}, and {shown_unit(unit)} is a unit of {dimension(unit)}.",
            mend=f"Say the {name} with a unit of {kinds[0]}.",
            slug="reckon-unit",
        )
    raise ReckonError(f"The {name} has no unit.", mend=f"Say the {name} with its unit.", slug="reckon-unit")


def _units(said: SpokenQuantity, fallback: str | None) -> tuple[str, ...]:
    if said.unit is not None:
        return (said.unit,)
    if said.unit_options:
        return said.unit_options
    # "two tenths" of what? A machinist's is not a layman's: never guessed.
    return (fallback,) if fallback is not None and not said.number.is_tenths else ()


def _which(name: str, options: list[str]) -> ReckonError:
    return ReckonError(f"The {name} could be {' or '.join(options)}.", mend="Say which.", slug="reckon-which")


def unit_of(words: Words, kind: str | None = None, not_unit: str | None = None) -> str:
    """The unit asked for; of several, the one of dimension `kind`. Raises ReckonError [reckon-which]."""
    speech = language()
    if words in speech.units:
        return speech.units[words]
    options = [unit for unit in speech.ambiguous_units[words][0] if kind is None or dimension(unit) == kind]
    options = [unit for unit in options if unit != not_unit] or options
    if len(options) == 1:
        return options[0]
    raise _which("unit", [shown_unit(unit) for unit in options or speech.ambiguous_units[words][0]])


def _thread_parts(words: Words) -> tuple[Words, Words | None] | None:
    if len(words) < 2 or words[0] not in ("m", "em"):
        return None
    numbers = language().numbers
    rest = words[1:]

    def is_sure(part: Words) -> bool:
        number = read_number(part, numbers)
        return number is not None and number.is_sure

    if is_sure(rest):
        return rest, None
    for at in range(1, len(rest) - 1):
        if rest[at] in ("by", "x", "times", "×"):
            left, right = rest[:at], rest[at + 1 :]
            if is_sure(left) and is_sure(right):
                return left, right
    return None


def thread_of(words: Words) -> Thread:
    """ "m ten by one point two five". Raises ReckonError."""
    parts = _thread_parts(words)
    if parts is None:
        raise ReckonError("That is no metric thread.", mend="Say size by pitch.", slug="reckon-unknown")
    size, pitch = parts
    return thread(number_of(size, "thread"), None if pitch is None else number_of(pitch, "pitch"))


def digits(words: Words) -> str | None:
    """Digits one by one or in pairs ("twenty three oh six"), joined as they were said; None for other words."""
    numbers, out, at = language().numbers, "", 0
    while at < len(words):
        word = words[at]
        if word.isascii() and word.isdigit():
            out += word
        elif word in numbers.digit:
            out += str(numbers.digit[word])
        elif word in numbers.teen:
            out += str(numbers.teen[word])
        elif word in numbers.ten:
            value = numbers.ten[word]
            if at + 1 < len(words) and numbers.digit.get(words[at + 1]):
                at, value = at + 1, value + numbers.digit[words[at + 1]]
            out += str(value)
        else:
            return None
        at += 1
    return out or None
