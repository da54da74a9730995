"""A line of the journal: its canonical bytes, its hash, its event."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, is_dataclass
from decimal import Decimal
from typing import Any

from pydantic import TypeAdapter

from bench_voice.core import events as ev
from bench_voice.core.flat import Flat, flat_of, intent_of
from bench_voice.core.intents import Intent

FORMAT = 1
NO_PREVIOUS = "0" * 64
# Years 1 to 9999: what a date can be made of.
EARLIEST_MS, LATEST_MS = -62_135_596_800_000, 253_402_300_799_999
# No number of a bench needs more: past that, arithmetic and spoken words take all time and memory.
_MOST_DIGITS, _LARGEST_EXPONENT, _LARGEST_INT = 40, 30, 10**15
_ADAPTERS: dict[str, TypeAdapter[Any]] = {name: TypeAdapter(cls) for name, cls in ev.EVENT_TYPES.items()}
# Intents are written as rows of fields, one form for all shapes.
_FLAT = TypeAdapter(Flat)
_INTENT_FIELD = {"Asked": "question", "Told": "intent"}


@dataclass(frozen=True, slots=True)
class Line:
    """One event with its place: `seq` counts from 1, `at_ms` is wall clock (ms since 1970 UTC)."""

    seq: int
    at_ms: int
    event: ev.Event


def canonical(value: dict[str, Any]) -> bytes:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def sealed(body: dict[str, Any]) -> tuple[bytes, str]:
    """The line with its hash and newline, and the hash."""
    digest = hashlib.sha256(canonical(body)).hexdigest()
    return canonical({**body, "hash": digest}) + b"\n", digest


def sheet_hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def encode(event: ev.Event) -> dict[str, Any]:
    """An event as JSON values; decimals as strings that keep their digits."""
    name = type(event).__name__
    body = {"type": name, **_ADAPTERS[name].dump_python(event, mode="json", exclude_defaults=True)}
    for key, value in vars(event).items():
        if isinstance(value, Intent):
            body[key] = _FLAT.dump_python(flat_of(value), mode="json", exclude_defaults=True)
    return body


def decode(body: dict[str, Any]) -> ev.Event:
    """Raises KeyError, TypeError or ValueError (pydantic's among them) for what this version does not write."""
    fields = dict(body)
    name = fields.pop("type")
    key = _INTENT_FIELD.get(name)
    if key is not None and fields.get(key) is not None:
        fields[key] = intent_of(_FLAT.validate_python(fields[key]))
    event: ev.Event = _ADAPTERS[name].validate_python(fields)
    if not all(map(_is_sane, vars(event).values())):
        raise ValueError("a number past every bound")
    return event


def _is_sane(value: Any) -> bool:
    """Whether numbers, however deep, can be reckoned with and spoken."""
    if value is None or isinstance(value, str | bool):
        return True
    if isinstance(value, Decimal):
        return len(value.as_tuple().digits) <= _MOST_DIGITS and abs(value.adjusted()) <= _LARGEST_EXPONENT
    if isinstance(value, int):
        return abs(value) <= _LARGEST_INT
    if isinstance(value, tuple):
        return all(map(_is_sane, value))
    return not is_dataclass(value) or all(map(_is_sane, vars(value).values()))
