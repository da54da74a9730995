"""Teaches `bench_voice.audio.eights` to tell "eight" from a "six" whose hiss a telephone cut off.

Rows of digits and numbers with either word, in the voices of `sayings` and of people (takes 0 to 9), all through a
telephone. Each word is looked at where a phone network finds it when told that it is an "eight", as in a session.
"""

from __future__ import annotations

import pickle
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench_voice.audio.aligned import Aligned, spans_of
from bench_voice.audio.eights import Eights, features, score_of
from bench_voice.audio.phone_net import LABEL_OF, PhoneNet
from bench_voice.audio.resample import Samples, from_s16
from tests.corpus import noises, voices
from tests.corpus.clips import DIGITS, in_noise, people
from tests.phones.sayings import PARTS, Encoders, by_telephone, draw_number, draw_voice, phones_of

EARS = ("whisper", "moonshine")
_TOLD = {"six": "eight"}
_OTHERS = ["zero", "one", "two", "three", "four", "five", "seven", "nine"]
_SHARE_OF_PEOPLE = 0.35
_WIDTH = 48
_LEASTS = (0, 2, 4, 5, 6)


@dataclass(frozen=True)
class Word:
    """`sound`: where this network has the word."""

    is_six: bool
    ear: str
    part: str
    voice: str
    snr_db: float
    sound: NDArray[np.float16]


_KINDS: dict[str, Callable[[Word], bool]] = {
    "people over 14 dB": lambda word: word.voice == "people" and word.snr_db > 14,
    "people in more noise": lambda word: word.voice == "people" and word.snr_db <= 14,
    "synthetic voices": lambda word: word.voice != "people",
}


def words(seed: int, count: int) -> Iterator[Word]:
    """Those of `count` sentences."""
    dice = random.Random(seed)
    encoders = Encoders()
    for _ in range(count):
        part = dice.choice(PARTS)
        if DIGITS.is_dir() and dice.random() < _SHARE_OF_PEOPLE:
            text = _row(dice)
            name = "people"
            speech = people(part, text, np.random.default_rng(dice.randrange(1 << 30)))
        else:
            text = _row(dice) if dice.random() < 0.6 else _number(dice)
            voice = draw_voice(dice)
            name = voice.name
            speech = voices.speak(voice, text, dice.uniform(0.85, 1.2), dice.randrange(1000))
            speech = _by_telephone(_blunted(speech, dice), dice)
        noise = dice.choice(("clean", "pink", "compressor", "babble", "hum", "hammer"))
        snr_db = noises.QUIET_DB if noise == "clean" else dice.uniform(5, 25)
        pcm = in_noise(part, speech, noise, snr_db, np.random.default_rng(dice.randrange(1 << 30)))
        sound = _by_telephone(from_s16(pcm), dice)
        begin = int(noises.BEFORE_S * noises.RATE - 0.3 * noises.RATE)
        sound = sound[max(0, begin) : begin + len(speech) + int(0.45 * noises.RATE)]
        if len(sound) <= 9.9 * noises.RATE:
            yield from _looked_at(sound, text, encoders, part, name, snr_db)


def _row(dice: random.Random) -> str:
    """Digits, a six or an eight in two of five places."""
    drawn = [dice.choice(("six", "eight") if dice.random() < 0.4 else _OTHERS) for _ in range(dice.randint(1, 5))]
    drawn[dice.randrange(len(drawn))] = dice.choice(("six", "eight"))
    return " ".join(drawn)


def _number(dice: random.Random) -> str:
    while True:
        text = draw_number(dice)
        if {"six", "eight"} & set(text.split()):
            return text


def _by_telephone(sound: Samples, dice: random.Random) -> Samples:
    high_hz = dice.uniform(3400, 3950)
    return by_telephone(sound, dice.uniform(60, 300), high_hz)


def _blunted(sound: Samples, dice: random.Random) -> Samples:
    """Half of them with hardly any hiss, as where a recording lost it."""
    if dice.random() < 0.5:
        return sound
    return by_telephone(sound, 0, 2600, 10 ** (-dice.uniform(5, 25) / 20))


@cache
def _net(ear: str) -> PhoneNet:
    return PhoneNet.of(ear)


def _looked_at(sound: Samples, text: str, encoders: Encoders, part: str, voice: str, snr_db: float) -> Iterator[Word]:
    said = text.split()
    ways = [phones_of(_TOLD.get(word, word)) for word in said]
    if any(way is None for way in ways):
        return
    labels = [tuple(LABEL_OF[phone] for phone in way or ()) for way in ways]
    states = encoders.of(sound)
    for ear in EARS:
        scores = _net(ear)(states[ear].astype(np.float32))
        aligned = Aligned(scores, sum(labels, ()))
        if aligned.total < -1e8:
            continue
        spans = spans_of(aligned.path(), labels)
        looked = Eights(sound, len(scores))
        for at, word in enumerate(said):
            if word not in ("six", "eight"):
                continue
            begin, end = looked.window(spans, at)
            yield Word(word == "six", ear, part, voice, snr_db, np.asarray(sound[begin:end], np.float16))


def keep(seed: int, count: int, folder: Path) -> None:
    """Writes the words of `count` sentences."""
    found = list(words(seed, count))
    (folder / f"eights-{seed}.pkl").write_bytes(pickle.dumps(found))
    print(f"{len(found)} words", flush=True)


def teach(files: Sequence[Path]) -> dict[str, NDArray[np.float64]]:
    """The weights, by the names that `bench_voice.audio.eights` reads. Prints how well those taught on one part do on
    the other; what is given back was taught on both."""
    found = [word for file in files for word in pickle.loads(file.read_bytes())]
    heard = [(word, shape) for word in found if (shape := features(word.sound.astype(np.float32))) is not None]
    shapes = np.stack([shape for _, shape in heard])
    is_eight = np.array([not word.is_six for word, _ in heard])
    for part in PARTS:
        is_apart = np.array([word.part == part for word, _ in heard])
        weights = _taught(shapes[~is_apart], is_eight[~is_apart])
        scores = np.array([score_of(weights, shape) for shape in shapes])
        for name, is_asked in _KINDS.items():
            asked = is_apart & np.array([is_asked(word) for word, _ in heard])
            eights, sixes = scores[asked & is_eight], scores[asked & ~is_eight]
            shares = (f"{least}: {np.mean(eights >= least):.0%} and {np.sum(sixes >= least)}" for least in _LEASTS)
            print(
                f"{part}, {name}: of {len(eights)} eights and {len(sixes)} sixes from {', '.join(shares)}", flush=True
            )
    return _taught(shapes, is_eight)


def _taught(shapes: NDArray[np.float64], is_eight: NDArray[np.bool_]) -> dict[str, NDArray[np.float64]]:
    from sklearn.neural_network import MLPClassifier

    mean, std = shapes.mean(0), shapes.std(0) + 1e-6
    net = MLPClassifier((_WIDTH,), alpha=1.0, max_iter=150, random_state=1).fit((shapes - mean) / std, is_eight)
    (first, last), (first_bias, last_bias) = net.coefs_, net.intercepts_
    return {
        "mean": mean, "std": std, "first": first, "first_bias": first_bias,
        "last": last[:, 0], "last_bias": last_bias[0],
    }  # fmt: skip
