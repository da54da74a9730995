"""Sentences to teach a phone network with: text, phones, and what the ears' encoders make of the sound.

Nothing of the report part is in them: no sentence of its sheets, none of its voices, no take of people's digits that it
has. Two of five are numbers with and without a unit, a quarter words that are frequent and mean nothing together, the
rest what is said at the sheets of the develop and calibrate parts. Two rooms a sentence.
"""

from __future__ import annotations

import pickle
import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench_voice.audio.ear_moonshine import MoonshineModel
from bench_voice.audio.ear_whisper import WhisperModel, frames_of
from bench_voice.audio.resample import Samples, from_s16
from bench_voice.phonetics import dictionary
from tests.corpus import noises, texts, voices
from tests.corpus.clips import DIGITS, in_noise, people
from tests.corpus.voices import Voice

PARTS = ("develop", "calibrate")
_LANGUAGE = texts.LANGUAGE
_SAID = _LANGUAGE.numbers.said
_DIGITS = [_SAID[value] for value in range(10)]
_TEENS = [_SAID[value] for value in range(10, 20)]
_TENS = [_SAID[value] for value in range(20, 100, 10)]
_UNITS = [said for pair in _LANGUAGE.unit_said.values() for said in pair if not said.startswith("count")]
_BEFORE_N = ["newton metres", "newton metre"]  # which lends its n to a ten
_ESPEAK = ["gmw/en-us", "gmw/en", "gmw/en-gb-scotland", "gmw/en-gb-x-rp"]
_ROOMS = (
    ("clean", "pink", "compressor", "babble"),
    ("clean", "clean", "pink", "compressor", "babble", "hammer", "hum", "ratchet", "pink", "compressor"),
)
_LONGEST_S = 9.9
_LONGEST_TEXT = 90
_MORE_WORDS = {"nought": ("N", "AO", "T")}
_PREFIXES = {"kilo": "K IH L AH", "milli": "M IH L AH", "micro": "M AY K R OW", "centi": "S EH N T AH",
             "mega": "M EH G AH"}  # fmt: skip


@dataclass(frozen=True)
class Saying:
    """`states`: by ear, the encoder's frames x features (half precision)."""

    text: str
    phones: tuple[str, ...]
    voice: str
    noise: str
    snr_db: float
    states: dict[str, NDArray[np.float16]]


class Encoders:
    """The encoders of the ears that a network is taught for."""

    def __init__(self) -> None:
        self.moonshine, self.whisper = MoonshineModel(_LANGUAGE.numbers), WhisperModel()

    def of(self, sound: Samples) -> dict[str, NDArray[np.float16]]:
        states = {"moonshine": self.moonshine.encode(sound)[0]}
        states["whisper"] = frames_of(self.whisper.encode(sound), len(sound))
        return {ear: found.astype(np.float16) for ear, found in states.items()}

    def frequent_words(self) -> list[str]:
        """Words that are one token of a vocabulary of 32,768."""
        found = []
        for token in self.moonshine.tokens:
            word = re.fullmatch(r"▁([a-z]{3,10})", token.decode("utf-8", "replace"))
            if word and dictionary()[word[1]]:
                found.append(word[1])
        return found


def sayings(seed: int, encoders: Encoders) -> Iterator[Saying]:
    """Without end."""
    dice = random.Random(seed)
    part = PARTS[(seed + 1) % 2]
    words = encoders.frequent_words()
    readings = texts.readings(part, dice)
    meant = [said.text for part in PARTS for said in (*texts.commands(part), *texts.near_misses(part))]
    talk = [text for part in PARTS for _, text in texts.outside(part)]
    while True:
        drawn = dice.random()
        if drawn < 0.15:
            text = next(readings).text
        elif drawn < 0.25:
            text = dice.choice(meant)
        elif drawn < 0.35:
            text = dice.choice(talk)
        elif drawn < 0.75:
            text = draw_number(dice)
            ends = ("", "", f" {dice.choice(_UNITS)}", f" {dice.choice(_UNITS)}", f" {dice.choice(_BEFORE_N)}")
            text += dice.choice(ends)
            if dice.random() < 0.35:
                text = " ".join(dice.choice(words) for _ in range(dice.randint(1, 2))) + " " + text
        else:
            text = " ".join(dice.choice(words) for _ in range(dice.randint(2, 7)))
        phones = phones_of(text)
        if phones is None or len(text) > _LONGEST_TEXT:
            continue
        voice = draw_voice(dice)
        if DIGITS.is_dir() and dice.random() < 0.06:
            text = " ".join(dice.choice(_DIGITS) for _ in range(dice.randint(1, 6)))
            phones = phones_of(text) or ()
            speech = people(dice.choice(PARTS), text, np.random.default_rng(dice.randrange(1 << 30)))
            voice = Voice("people", "people", "digits")
        else:
            speech = voices.speak(voice, text, dice.uniform(0.85, 1.2), dice.randrange(1000))
        for rooms in _ROOMS:
            noise = dice.choice(rooms)
            snr_db = noises.QUIET_DB if noise == "clean" else dice.uniform(3, 22)
            sound = _in_room(speech, noise, snr_db, part, dice)
            if len(sound) <= _LONGEST_S * noises.RATE:
                yield Saying(text, phones, voice.name, noise, snr_db, encoders.of(sound))


def draw_number(dice: random.Random) -> str:
    """Teens and tens, decimals and rows of digits more often than a workshop has them."""

    def below_hundred() -> str:
        both = f"{dice.choice(_TENS)} {dice.choice(_DIGITS[1:])}"
        return dice.choice(
            (dice.choice(_DIGITS[1:]), dice.choice(_TEENS), dice.choice(_TEENS), dice.choice(_TENS), both)
        )

    drawn = dice.random()
    if drawn < 0.2:
        return " ".join(dice.choice(_DIGITS) for _ in range(dice.randint(2, 6)))
    if drawn < 0.5:
        whole = dice.choice((below_hundred(), dice.choice(_DIGITS), dice.choice(("zero", "zero", "nought"))))
        rest = " ".join(dice.choice([*_DIGITS, "oh"]) for _ in range(dice.randint(1, 4)))
        return f"{whole} point {rest}"
    if drawn < 0.75:
        return below_hundred()
    if drawn < 0.95:
        rest = dice.choice(("", f" and {below_hundred()}", f" {below_hundred()}", f" and {below_hundred()}"))
        return f"{dice.choice(_DIGITS[1:])} hundred{rest}"
    return f"{dice.choice(('minus ', ''))}{dice.choice(_DIGITS[1:])} thousand {below_hundred()}"


def draw_voice(dice: random.Random) -> Voice:
    """Of the develop and calibrate parts, and three of neither; each in many pitches, away from those of the report."""
    drawn = dice.random()
    if drawn < 0.38:
        pitch = dice.choice((1.0, 0.92, 0.96, 1.02)) + dice.uniform(-0.015, 0.015)
        return Voice("neural", "hibari", "heart", round(pitch, 3))
    for below, voice, low, high in ((0.56, "slt", 0.9, 1.1), (0.74, "awb", 0.92, 1.12), (0.86, "kal16", 0.9, 1.12)):
        if drawn < below:
            return Voice("concatenative", "flite", voice, round(dice.uniform(low, high), 3))
    return Voice("robotic", "espeak", dice.choice(_ESPEAK), round(dice.uniform(0.9, 1.1), 3))


def _in_room(speech: Samples, noise: str, snr_db: float, part: str, dice: random.Random) -> Samples:
    """Cut as the endpointer cuts, a little before the speech and a little behind; one in seven through a telephone."""
    rolls = np.random.default_rng(dice.randrange(1 << 30))
    if dice.random() < 0.15:
        speech = by_telephone(speech, dice.uniform(60, 300), 3700)
    sound = from_s16(in_noise(part, speech, noise, snr_db, rolls))
    loud = np.nonzero(np.abs(speech) > np.max(np.abs(speech)) / 40)[0]
    begun = noises.BEFORE_S * noises.RATE
    start = int(max(0, begun + loud[0] - dice.uniform(0.15, 0.42) * noises.RATE))
    end = int(begun + loud[-1] + dice.uniform(0.08, 0.25) * noises.RATE)
    return np.asarray(sound[start:end] * 10 ** (dice.uniform(-8, 6) / 20), np.float32)


def by_telephone(sound: Samples, low_hz: float, high_hz: float, left: float = 0.0) -> Samples:
    """What is below and above is cut off, or `left` of it."""
    spectrum = np.fft.rfft(sound)
    hz = np.fft.rfftfreq(len(sound), 1 / noises.RATE)
    spectrum[(hz > high_hz) | (hz < low_hz)] *= left
    return np.asarray(np.fft.irfft(spectrum, len(sound)), np.float32)


def phones_of(text: str) -> tuple[str, ...] | None:
    """By the dictionary, each word in its first way; None where it lacks one."""
    found: list[str] = []
    for word in re.sub(r"[?.,:;]", " ", text.lower()).split():
        way = _MORE_WORDS.get(word) or _way(word)
        if way is None:
            return None
        found += way
    return tuple(found)


def _way(word: str) -> Sequence[str] | None:
    american = word.replace("metre", "meter").replace("litre", "liter")
    if ways := dictionary()[word] or dictionary()[american]:
        return ways[0]
    parts = re.fullmatch(rf"({'|'.join(_PREFIXES)})(\w+)", american)
    if parts and (ways := dictionary()[parts[2]]):
        return (*_PREFIXES[parts[1]].split(), *ways[0])
    return None


def keep(seed: int, count: int, folder: Path, a_file: int = 1000) -> None:
    """Writes `count` of them, a thousand a file."""
    kept: list[Saying] = []
    for number, saying in enumerate(sayings(seed, Encoders()), 1):
        kept.append(saying)
        if len(kept) == a_file or number == count:
            path = folder / f"{seed}-{number:06d}.pkl"
            path.write_bytes(pickle.dumps(kept))
            print(f"{path.name}: {len(kept)}", flush=True)
            kept = []
        if number == count:
            return
