"""Edit distances of sequences of phones: Levenshtein (1966), counted by rapidfuzz."""

from __future__ import annotations

from collections.abc import Sequence

from rapidfuzz.distance import Levenshtein

from bench_voice.phonetics.phones import CLASS_OF


def edits(a: Sequence[str], b: Sequence[str]) -> int:
    """Each exchange, addition and loss 1. Of texts: of their letters."""
    return Levenshtein.distance(a, b)


def share_of_edits(a: Sequence[str], b: Sequence[str]) -> float:
    """By the longer one's length: 0 the same, 1 nothing in common."""
    return Levenshtein.normalized_distance(a, b)


def phone_distance(a: Sequence[str], b: Sequence[str]) -> float:
    """1 for a phone more or less or another, a half for one of the same class."""
    # Each phone counts as two signs, its class and itself: of one class only one of them is exchanged. That is the
    # weighted distance, doubled: no phone has two classes, so nothing is gained by setting the two signs apart.
    return Levenshtein.distance(_in_two(a), _in_two(b)) / 2


def _in_two(phones: Sequence[str]) -> list[object]:
    return [sign for phone in phones for sign in (("class", CLASS_OF.get(phone, phone)), phone)]


__all__ = ["edits", "phone_distance", "share_of_edits"]
