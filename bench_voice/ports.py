"""What the session loop needs from the outside. Adapters live in `bench_voice.audio`, one third-party library a file.

Sound is 16 kHz, mono, signed 16-bit little endian everywhere inside: `bytes`, two bytes a sample.
Every port is used by one thread at a time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

from bench_voice.core.intents import Expected

RATE_HZ = 16_000
# Silence between two sentences of a turn.
SENTENCE_GAP = b"\0\0" * (RATE_HZ // 6)


@dataclass(frozen=True)
class Utterance:
    """One stretch of speech with pre-roll. `start_ms`, `end_ms`: in the source's time; speech ends at the end."""

    pcm: bytes
    start_ms: int
    end_ms: int
    speech_s: float = 0.0


@dataclass(frozen=True)
class Fit:
    """How well a given text fits the sound, in log-probability. `score`: of the whole text, less that of the ear's own
    best one; `tail`: mean of a token, from the first number word on where there is one; `margin`: the least lead that
    one of its number words, or its end, has over the likeliest other number word at that place (0 without a number);
    `point`: that of its decimal point alone, which isn't in `margin` (0 without one)."""

    words: str
    score: float
    tail: float
    margin: float
    point: float = 0.0


@dataclass(frozen=True)
class Sounding:
    """How well the phones of a given text fit the sound, in log-probability. `fit`: of a phone, less the likeliest
    phones' there (0 is best); `worst`: the same of its worst word, or of what lies between two; `lead`: over the text
    with a number word left out or added, or instead of one or of a word beside one (None without a number), and `rival`
    that text; `eight`: how much likelier than a "six" its least likely "eight" is, by its vowel (None without one)."""

    words: str
    fit: float
    worst: float
    lead: float | None = None
    rival: str = ""
    eight: float | None = None


@dataclass(frozen=True)
class Heard:
    """What one ear made of an utterance. `words` is lower case, empty for no speech.

    `alternatives`: other word strings with their weights (sum at most 1, `words`' own weight is `weight`).
    `evidence`: named figures for the agreement (see hearing/). Never used as a command by itself.
    """

    ear: str
    words: str
    weight: float = 1.0
    alternatives: tuple[tuple[str, float], ...] = ()
    evidence: dict[str, float] = field(default_factory=dict)
    free_words: str | None = None  # what an unlimited decode wrote, where the ear has one
    fits: tuple[Fit, ...] = ()  # of texts that it was asked about
    soundings: tuple[Sounding, ...] = ()  # of the same texts, and of `by_phones`
    has_phones: bool = False  # whether a phone network goes with the ear
    by_phones: str | None = None  # the reading that its phone network hears, empty for none; None: not asked yet


class Pass(StrEnum):
    """What may be asked of the ears after their first answer, where that wasn't enough."""

    CLOSER = "closer"  # the free ears held to the step's words, and how well the grammar's phrase fits
    OPINION = "opinion"  # how well all that was heard fits the sound, by an ear that can tell
    SOUNDS = "sounds"  # the same by phone networks alone, of what nobody wrote


class AudioSource(Protocol):
    """Frames of 20 ms (640 bytes). Ends when the recording ends; a live one ends on `close`. Raises EngineError."""

    def frames(self) -> Iterator[bytes]: ...
    def close(self) -> None: ...


class Endpointer(Protocol):
    """Cuts a stream of frames into utterances; loses nothing between two of them."""

    def feed(self, frame: bytes) -> Utterance | None: ...
    def flush(self) -> Utterance | None: ...


class Ear(Protocol):
    """A recogniser. `prepare` is cheap and called when the step changes; `hear` blocks, at most about a second."""

    name: str

    def prepare(self, expected: Expected) -> None: ...
    def hear(self, utterance: Utterance) -> Heard: ...
    def close(self) -> None: ...


class Voice(Protocol):
    """Synthesis to samples (16 kHz mono s16le); playing is the player's. Raises EngineError."""

    def speak(self, text: str) -> bytes: ...


class Clock(Protocol):
    """Milliseconds: `now_ms` wall clock since 1970 UTC."""

    def now_ms(self) -> int: ...
