"""The weighted distance of phones by a library that knows no classes, against the plain recurrence."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.phonetics import CLASS_OF, PHONES, edits, phone_distance

PHONE = st.sampled_from(sorted(PHONES))
# Few phones of few classes: then many of them are kin, and rows can be shifted against each other.
CLOSE = st.sampled_from(["P", "T", "K", "M", "N", "IY", "IH"])
ROWS = st.lists(PHONE, max_size=9) | st.lists(CLOSE, max_size=9)


def recurrence(a: Sequence[str], b: Sequence[str]) -> float:
    """Wagner and Fischer (1974): each cell from its three neighbours; kin cost a half."""
    cells = {(i, 0): float(i) for i in range(len(a) + 1)} | {(0, j): float(j) for j in range(len(b) + 1)}
    for i, x in enumerate(a, 1):
        for j, y in enumerate(b, 1):
            swap = 0.0 if x == y else 0.5 if CLASS_OF[x] == CLASS_OF[y] else 1.0
            cells[i, j] = min(cells[i - 1, j] + 1, cells[i, j - 1] + 1, cells[i - 1, j - 1] + swap)
    return cells[len(a), len(b)]


@settings(max_examples=2000, deadline=None)
@given(ROWS, ROWS)
def test_kin_cost_a_half(a: list[str], b: list[str]) -> None:
    assert phone_distance(a, b) == recurrence(a, b)


def test_textbook_distance() -> None:
    # "kitten" to "sitting" is three edits: the usual example for Levenshtein's distance. Letters have no class.
    assert edits("kitten", "sitting") == 3 == phone_distance("kitten", "sitting")
