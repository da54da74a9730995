"""What a phone network hears when it may hear nothing but a reading: a name, a number, a unit. Pure, numpy alone.

The best path (Viterbi) through every way of saying such a sentence, by connectionist temporal classification as in
`audio.aligned`. It knows no likely sentences: "six" is no likelier than "seven" behind "seventy".
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench_voice.words.phrases import NumberWords

Floats = NDArray[np.float32]
Labels = tuple[int, ...]
Ways = Callable[[str], Sequence[Labels]]  # of saying a word, each its phones' numbers; none where that isn't known

_NEVER = np.float32(-1e9)
_WORD_COST = np.float32(-1.0)  # of each further word: many short ones fit anything
_MOST_WAYS = 2
_TEN, _THOUSAND = 10, 1000

# What may stand behind what. "decimal" is a digit behind the point; "ones" a digit that ends a number below a hundred.
_BEHIND: Mapping[str, frozenset[str]] = {
    "": frozenset({"call", "name", "minus", "digit", "teen", "ten", "point"}),
    "call": frozenset({"name", "minus", "digit", "teen", "ten", "point"}),
    "name": frozenset({"minus", "digit", "teen", "ten", "point"}),
    "minus": frozenset({"digit", "teen", "ten", "point"}),
    "digit": frozenset({"digit", "hundred", "thousand", "point", "unit"}),
    "teen": frozenset({"hundred", "thousand", "point", "unit"}),
    "ten": frozenset({"ones", "thousand", "point", "unit"}),
    "ones": frozenset({"thousand", "point", "unit"}),
    "hundred": frozenset({"and", "ones", "teen", "ten", "thousand", "point", "unit"}),
    "thousand": frozenset({"and", "digit", "teen", "ten", "point", "unit"}),
    "and": frozenset({"ones", "teen", "ten"}),
    "point": frozenset({"decimal"}),
    "decimal": frozenset({"decimal", "unit"}),
    "unit": frozenset(),
}
_LAST = frozenset({"digit", "teen", "ten", "ones", "hundred", "thousand", "decimal", "unit"})


@dataclass(frozen=True)
class ReadingWords:
    """What a reading may be made of, besides numbers. `call`: the call word in front of it, empty where none is used;
    `is_call_needed` False: it may be left out."""

    names: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    call: str = ""
    is_call_needed: bool = False


@dataclass(frozen=True)
class _Node:
    text: str
    kind: str
    labels: Labels


class ReadingNet:
    """Of these words and this language's numbers. `ways`: how words are said."""

    def __init__(self, words: ReadingWords, numbers: NumberWords, ways: Ways) -> None:
        nodes = [
            _Node(text, kind, labels)
            for kind, texts in _words(words, numbers).items()
            for text in texts
            for labels in _said(text, ways)
        ]
        self._nodes = list({(node.kind, node.labels): node for node in reversed(nodes)}.values())
        count = len(self._nodes)
        starts = np.cumsum([0, *(2 * len(node.labels) for node in self._nodes)])
        self._first, self._last = starts[:-1], starts[1:] - 2  # a node's first phone and its last; a blank behind each
        self._labels = np.zeros(starts[-1], np.int64)
        self._skips = np.zeros(starts[-1], bool)
        self._owner = np.zeros(starts[-1], np.int64)
        for at, node in enumerate(self._nodes):
            first, last = starts[at], starts[at + 1]
            self._labels[first:last:2] = node.labels
            self._skips[first + 2 : last : 2] = [a != b for a, b in zip(node.labels, node.labels[1:], strict=False)]
            self._owner[first:last] = at
        self._follows = np.array([[b.kind in _BEHIND[a.kind] for b in self._nodes] for a in self._nodes], bool).reshape(
            count, count
        )
        self._touches = np.array(
            [[a.labels[-1] == b.labels[0] for b in self._nodes] for a in self._nodes], bool
        ).reshape(count, count)
        opening = frozenset({"call"}) if words.call and words.is_call_needed else _BEHIND[""]
        self._opens = np.array([node.kind in opening for node in self._nodes], bool)
        self._closes = np.array([node.kind in _LAST for node in self._nodes], bool)

    def __call__(self, scores: Floats) -> str:
        """The likeliest reading; empty where the sound is too short for any. `scores`: frames x (1 + phones), natural
        logarithms, the blank's first."""
        if not self._nodes or not len(scores):
            return ""
        size, first, last = len(self._labels), self._first, self._last
        each = scores[:, self._labels]
        now = np.full(size, _NEVER, np.float32)
        now[first] = np.where(self._opens, each[0, first], _NEVER)
        silence = np.float32(scores[0, 0])
        # By frame and state: 0 stayed, 1 from the state before, 2 from two before, 3 a new word.
        steps = np.zeros((len(scores), size), np.int8)
        came = np.zeros((len(scores), len(self._nodes)), np.int32)  # the state before a new word, -1 the beginning
        nodes = np.arange(len(self._nodes))
        inner = np.ones(size, bool)
        inner[first] = False
        choices = np.full((4, size), _NEVER, np.float32)
        for frame in range(1, len(scores)):
            choices[0] = now
            choices[1, 1:] = np.where(inner[1:], now[:-1], _NEVER)
            choices[2, 2:] = np.where(self._skips[2:], now[:-2], _NEVER)
            ends, pauses = now[last], now[last + 1]
            best = np.maximum(ends, pauses)
            entries = np.where(self._touches, pauses[:, None], best[:, None])
            entries = np.where(self._follows, entries, _NEVER)
            come = entries.argmax(0)
            enter = entries[come, nodes] + _WORD_COST
            opened = np.where(self._opens, silence, _NEVER)
            is_paused = self._touches[come, nodes] | (pauses[come] > ends[come])
            came[frame] = np.where(opened > enter, -1, last[come] + is_paused)
            choices[3, first] = np.maximum(enter, opened)
            step = choices.argmax(0)
            steps[frame] = step
            now = choices[step, np.arange(size)] + each[frame]
            silence += scores[frame, 0]
        finals = np.where(self._closes, np.maximum(now[last], now[last + 1]), _NEVER)
        node = int(finals.argmax())
        if finals[node] <= _NEVER / 2:
            return ""
        state = int(last[node] if now[last[node]] >= now[last[node] + 1] else last[node] + 1)
        return self._traced(state, steps, came)

    def _traced(self, state: int, steps: NDArray[np.int8], came: NDArray[np.int32]) -> str:
        """The words of the path that ends in `state`, backwards."""
        found = [int(self._owner[state])]
        for frame in range(len(steps) - 1, 0, -1):
            step = int(steps[frame, state])
            if step < 3:
                state -= step
                continue
            state = int(came[frame, self._owner[state]])
            if state < 0:
                break
            found.append(int(self._owner[state]))
        return " ".join(self._nodes[node].text for node in reversed(found))


def _said(text: str, ways: Ways) -> list[Labels]:
    """Every way of saying it; none where one of its words can't be said."""
    found: list[Labels] = [()]
    for word in text.split():
        found = [(*before, *way) for before in found for way in tuple(ways(word))[:_MOST_WAYS]]
    return found


def _words(words: ReadingWords, numbers: NumberWords) -> dict[str, list[str]]:
    plain = numbers.plain
    spoken = {word for value, word in numbers.said.items() if value < _TEN}
    # "Tree" and "ait" are for radios: here they'd be heard for the end of a name.
    digits = [word for word in plain if word in spoken or (numbers.digit.get(word) == 0 and len(word) > 1)]
    return {
        "call": [words.call] if words.call else [],
        "name": [name.lower() for name in words.names],
        "minus": sorted(numbers.minus),
        "digit": digits,
        "ones": [word for word in digits if numbers.digit[word]],
        "decimal": digits,
        "teen": [word for word in plain if word in numbers.teen],
        "ten": [word for word in plain if word in numbers.ten],
        "hundred": [word for word in plain if word in numbers.hundred],
        "thousand": [word for word in plain if numbers.scale.get(word) == _THOUSAND],
        "and": sorted(numbers.and_),
        "point": [word for word in plain if word in numbers.point],
        "unit": list(words.units),
    }
