"""Questions about earlier sessions: "what was it last time?", "when was the fluid changed?". In English."""

from __future__ import annotations

import re
from datetime import UTC, datetime

from bench_voice.core.history import DoneBefore
from bench_voice.core.intents import Calculation, Expected
from bench_voice.core.signs import quantity
from bench_voice.speech.names import SheetNames

LAST, DONE = "last", "done"
_LAST = re.compile(r"(?:what was|what did i measure for|how much was) (.+?) (?:the )?last time|what was it before")
_DONE = re.compile(r"when (?:was|were|did we|did i)(?: last)? (.+?)(?: last)?(?: time)?")
_IT = ("it", "this", "that")
_SMALL = frozenset(["the", "a", "an", "it", "this", "that", "last", "was", "were", "we", "i", "my", "of", "on", "in"])
# What is said of a part that was taken for a new one: a sheet says "change", a person "replaced".
_CHANGED = frozenset(("chang", "renew", "replac", "new"))


def read_earlier(words: str, expected: Expected, names: SheetNames) -> Calculation | None:
    """The question with the sentence that answers it; None for words that are no such question."""
    said = words.strip().rstrip("?").strip()
    if found := _LAST.fullmatch(said):
        return _last(found[1] or "it", expected, names)
    if found := _DONE.fullmatch(said):
        return _done(found[1], expected)
    return None


def _last(name: str, expected: Expected, names: SheetNames) -> Calculation | None:
    if name in _IT:
        here = next(iter((*expected.waits, *expected.step.readings)), None) or expected.last_reading
    else:
        ids = names.readings.find(tuple(name.removeprefix("the ").split()))
        here = next((id_ for id_ in ids if id_ in expected.step.readings), None) or next(iter(ids), None)
    if here is None:
        return None
    spec = expected.sheet.readings[here]
    values = sorted((one for one in expected.earlier.values if one.reading == here), key=lambda one: one.point)
    if not values:
        answer = f"{_upper(spec.name)}: nothing is known of it from earlier sessions."
    else:
        shown = ", ".join(quantity(one.value, one.unit) for one in values)
        answer = f"{_upper(spec.name)}, on {_day(values[-1].at_ms)}: {shown}."
    return Calculation(LAST, answer, here)


def _done(words: str, expected: Expected) -> Calculation:
    wanted = {_stem(word) for word in words.split() if word not in _SMALL}
    hits = [one for one in expected.earlier.done if _is_told(wanted, one)]
    if not hits or not wanted:
        return Calculation(DONE, "Nothing is known of that from earlier sessions.")
    newest = max(hits, key=lambda one: one.at_ms)
    at = "" if newest.at is None else f", at {quantity(newest.at, newest.at_unit)}"
    return Calculation(DONE, f"On {_day(newest.at_ms)}{at}: {newest.text.rstrip('.')}.")


def _is_told(wanted: set[str], one: DoneBefore) -> bool:
    there = {_stem(word) for word in re.findall(r"[^\W_]+", one.text.lower())}
    return all(word in there or (word in _CHANGED and there & _CHANGED) for word in wanted)


def _stem(word: str) -> str:
    """Enough that "changed" is "change" and "linings" is "lining"."""
    for end in ("ing", "ed", "es", "s", "e"):
        if len(word) > len(end) + 2 and word.endswith(end) and not (end == "ing" and len(word) < 7):
            return word.removesuffix(end)
    return word


def _day(at_ms: int) -> str:
    found = datetime.fromtimestamp(at_ms / 1000, UTC)
    return f"{found.day} {found:%B %Y}"


def _upper(name: str) -> str:
    return name[:1].upper() + name[1:]
