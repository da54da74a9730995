"""Replies to words: nested parts first, then the language's template, then capitals. The only join of the two."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from bench_voice.core.replies import Quantity, Reply, Statement, UnitName
from bench_voice.words.say import Speaker


def part(speaker: Speaker, value: Any) -> Any:
    if isinstance(value, Reply):
        return sentence(speaker, value)
    if isinstance(value, Decimal):
        return speaker.number(value)
    if isinstance(value, Quantity):
        return speaker.quantity(value.value, value.unit)
    if isinstance(value, UnitName):
        return speaker.unit(value.unit)
    if isinstance(value, Statement):
        return speaker.language.statement(value.phrase)
    if isinstance(value, tuple):
        return tuple(part(speaker, one) for one in value)
    return value


def sentence(speaker: Speaker, reply: Reply) -> str:
    """One reply in words."""
    fields = {}
    for name, value in reply.fields.items():
        worded = part(speaker, value)
        # Alternatives of an option list may themselves be lists (several points).
        if isinstance(worded, tuple):
            worded = tuple(", ".join(one) if isinstance(one, tuple) else one for one in worded)
        fields[name] = worded
    return capitals(speaker.render(reply.key, **fields))


def capitals(text: str) -> str:
    """First letters of sentences in capitals; the rest as it is."""
    out, is_start = [], True
    for char in text:
        out.append(char.upper() if is_start and char.isalpha() else char)
        if char.isalnum():
            is_start = False
        elif char in ".?!":
            is_start = True
    return "".join(out)


def worded(speaker: Speaker, replies: Iterable[Reply]) -> tuple[str, ...]:
    """Each reply as one utterance."""
    return tuple(text for text in (sentence(speaker, reply) for reply in replies) if text)
