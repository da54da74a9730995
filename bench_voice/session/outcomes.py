"""What became of a phrase beside what was expected of it, told on the JSON of `understand` and `hear`. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Intent, Kind


class Outcome(StrEnum):
    """What became of a phrase, worst last; `SKIPPED`: nobody said it."""

    RIGHT = "right"
    ASKED = "asked"
    NOTHING = "nothing"
    WRONG = "wrong"
    SKIPPED = "skipped"


ORDER = (Outcome.RIGHT, Outcome.ASKED, Outcome.NOTHING, Outcome.WRONG)


def expected_fields(intent: Intent) -> dict[str, Any]:
    """The `expect` of a list's line."""
    row = flat_of(intent)
    fields: dict[str, Any] = {
        "kind": row.kind.value,
        "name": row.name,
        "value": None if row.value is None else str(row.value),
        "unit": row.unit,
    }
    return fields | ({"text": row.text} if row.kind is Kind.JUDGEMENT else {})


def outcome(body: Mapping[str, Any], expect: Mapping[str, Any]) -> Outcome:
    """What `body` (an object of `understand` or `hear`) is beside what was expected of it."""
    wanted = {key: value for key, value in expect.items() if key in ("kind", "name", "value", "values", "unit", "text")}
    if body["accepted"]:
        return Outcome.RIGHT if all(body.get(key) == value for key, value in wanted.items()) else Outcome.WRONG
    if wanted.get("kind") == body["kind"]:
        return Outcome.RIGHT  # a question or talk that was expected
    return Outcome.ASKED if body["kind"] == Kind.AMBIGUOUS.value else Outcome.NOTHING


def is_worse(now: Outcome, then: Outcome) -> bool:
    return ORDER.index(now) > ORDER.index(then)
