"""Phones by frame from what a free ear's encoder made of a sound: a small network on top of it, taught by us.

`python -m tests.phones` teaches it: synthetic voices, workshop noise, spoken digits. It shares the ear's encoder and
nothing of its writing, so it can't be talked into a likely text. Two layers of convolution over 5 frames, in numpy.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from importlib import resources
from importlib.resources.abc import Traversable

import numpy as np
from numpy.typing import NDArray

from bench_voice.audio.aligned import Labels, Soundings
from bench_voice.audio.eights import Eights
from bench_voice.audio.reading_net import ReadingNet, ReadingWords
from bench_voice.audio.resample import Samples
from bench_voice.core.intents import Expected
from bench_voice.phonetics import PHONES, Said, Ways, phones_of, propose
from bench_voice.ports import Heard, Sounding
from bench_voice.words.phrases import NumberWords

Floats = NDArray[np.float32]
# The blank is 0.
LABEL_OF: dict[str, int] = {phone: number for number, phone in enumerate(sorted(PHONES), 1)}
_MOST_TEXTS = 20  # of one look


def has_net(ear: str) -> bool:
    """Whether one was taught for this ear's encoder."""
    return _file_of(ear).is_file()


def _file_of(ear: str) -> Traversable:
    return resources.files("bench_voice.audio").joinpath(f"phones-{ear}.npz")


class PhoneNet:
    """`weights`: `mean`, `std` (features), `first`, `first_bias` (features x width), `second`, `third` (5 x width x
    width) and their biases, `last`, `last_bias` (width x phones)."""

    def __init__(self, weights: Mapping[str, Floats]) -> None:
        self._weights = {name: np.asarray(value, np.float32) for name, value in weights.items()}

    @classmethod
    def of(cls, ear: str) -> PhoneNet:
        """The one that goes with this ear's encoder."""
        with _file_of(ear).open("rb") as file, np.load(file) as found:
            return cls(dict(found))

    def __call__(self, states: Floats) -> Floats:
        """Natural logarithms of the chances, frames x (1 + phones), from the encoder's frames x features."""
        weights = self._weights
        hidden = np.asarray((states - weights["mean"]) / weights["std"], np.float32)
        hidden = np.maximum(hidden @ weights["first"] + weights["first_bias"], 0)
        for name in ("second", "third"):
            hidden = hidden + np.maximum(_convolved(hidden, weights[name]) + weights[f"{name}_bias"], 0)
        scores = np.asarray(hidden @ weights["last"] + weights["last_bias"], np.float32)
        scores -= scores.max(-1, keepdims=True)
        return np.asarray(scores - np.log(np.exp(scores).sum(-1, keepdims=True)), np.float32)


def _convolved(frames: Floats, kernel: Floats) -> Floats:
    reach = len(kernel) // 2
    padded = np.pad(frames, ((reach, reach), (0, 0)))
    return np.asarray(sum(padded[at : at + len(frames)] @ kernel[at] for at in range(len(kernel))), np.float32)


class PhoneJudge:
    """How well the phones of texts fit what an ear's encoder made of a sound. For one thread.

    `said_at`: how the sheet or the person says words; `words_at`: what a reading of the step is made of.
    """

    def __init__(
        self,
        ear: str,
        ways: Ways,
        numbers: NumberWords,
        said_at: Callable[[Expected], Said] = lambda expected: {},
        words_at: Callable[[Expected], ReadingWords] = lambda expected: ReadingWords(),
    ) -> None:
        self._net, self._ways, self._numbers = PhoneNet.of(ear), ways, numbers
        self._said_at, self._words_at = said_at, words_at
        self._said: Said = {}
        self._soundings = Soundings(self.labels, numbers)
        self._expected: Expected | None = None
        self._step_words: ReadingWords | None = None
        self._readings: tuple[ReadingWords, ReadingNet] | None = None  # the last one that was asked for

    def prepare(self, expected: Expected) -> None:
        # What a reading is made of takes some milliseconds to tell: when it is asked for, which isn't often.
        self._expected, self._step_words = expected, None
        said = self._said_at(expected)
        if said != self._said:
            self._said = said
            self._soundings = Soundings(self.labels, self._numbers)
            self._readings = None

    def heard(self, states: Floats, heard: Heard, texts: Sequence[str], sound: Samples) -> Heard:
        """`heard` with how well the texts fit the sound and its states, and the reading that it hears itself."""
        scores = self._net(states)
        by_phones = heard.by_phones
        if by_phones is None:
            by_phones = self._reading(scores)
            texts = (by_phones, *texts)
        known = {found.words for found in heard.soundings}  # the other network may not know them yet
        eights = Eights(sound, len(scores))
        new = self._of(scores, [text for text in texts if text not in known], eights)
        return replace(heard, soundings=(*heard.soundings, *new), by_phones=by_phones)

    def _words(self) -> ReadingWords:
        """What a reading of the step is made of."""
        if self._step_words is None:
            self._step_words = self._words_at(self._expected) if self._expected is not None else ReadingWords()
        return self._step_words

    def _reading(self, scores: Floats) -> str:
        words = self._words()
        if not words.names:
            return ""  # nothing is measured here
        if self._readings is None or self._readings[0] != words:
            self._readings = (words, ReadingNet(words, self._numbers, self.labels))
        return self._readings[1](scores)

    def of(self, states: Floats, texts: Sequence[str]) -> tuple[Sounding, ...]:
        """Of each text whose words can be said; `states`: the encoder's frames x features."""
        return self._of(self._net(states), texts)

    def _of(self, scores: Floats, texts: Sequence[str], eights: Eights | None = None) -> tuple[Sounding, ...]:
        asked = list(dict.fromkeys(text for text in texts if text))[:_MOST_TEXTS]
        words = self._words()
        names = {*words.names, *(f"{words.call} {name}" for name in words.names if words.call)}
        each = (self._soundings.of(scores, text, eights, names) for text in asked)
        return tuple(found for found in each if found is not None)

    def labels(self, word: str) -> tuple[Labels, ...]:
        def known(word: str) -> str | None:
            return next((" ".join(way) for way in self._ways(word)), None)

        if word in self._said:
            own = phones_of(self._said[word], known)
            return (_numbered(own.split()),) if own else ()
        if found := self._ways(word):
            return tuple(_numbered(way) for way in found)
        proposed = propose(word, known)
        return (_numbered(proposed.split()),) if proposed else ()


def _numbered(phones: Sequence[str]) -> Labels:
    return tuple(LABEL_OF[phone] for phone in phones)
