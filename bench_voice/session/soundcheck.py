"""The sound check: how loud is the room, how loud is the person, is anything clipped, and what to change. Pure.

Levels are in dB below full scale: 20 log10 of the root mean square of samples between -1 and 1 (a full-scale square
wave is 0 dB, a full-scale sine -3 dB).

A room that talks by itself (a radio) is told from a noisy one by the speech detector; there the endpointer is given the
room's level, so that the person's sentence is cut out of the talk. Only where the person stands well over it: in every
other room, and for somebody who speaks softly, the detector alone goes on deciding, so that no quiet word is lost.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from bench_voice.hearing.evidence import CUT_OFF_DB
from bench_voice.ports import RATE_HZ, Endpointer, Utterance

FRAME_S = 0.02
ROOM_S = 2.0
WAIT_S = 8.0  # for the person to say something
SILENT_DB = -96.0  # below one step of 16 bits
# Own choice; how often the ears agree by distance: README, Figures.
GOOD_DB, FAIR_DB = 20.0, 12.0  # speech over room
LOUD_ROOM_DB = -38.0
WEAK_DB = -40.0  # speech
# Own choices, measured with tests/bench/floor.py.
TALKING_S = 0.5  # so much of the room passes for speech: it talks
LOUD_SHARE = 0.9  # the level of a room that talks: its syllables, not its pauses
OVER_FLOOR_DB = 4.0  # the person over that: who lowers the voice afterwards must still be heard
_CLIPPED = 32_700
_CLIP_RUN = 3  # samples in a row: a single one is a peak


class Advice(StrEnum):
    """A sentence of grammars/<language>/wording.yaml each, as `check-...`."""

    GOOD = "good"
    FAIR = "fair"
    BAD = "bad"
    NOTHING = "nothing"  # nobody was heard
    SILENT = "silent"  # the microphone gives nothing at all
    NEARER = "nearer"
    NOISE = "noise"  # turn it off, or a headset
    CLIPPED = "clipped"
    CUT_OFF = "cut-off"  # the microphone or its link passes no hiss


def level_db(pcm: bytes) -> float:
    """Of 16-bit samples; SILENT_DB for digital silence or nothing."""
    samples = array("h", pcm[: len(pcm) // 2 * 2])
    if not samples:
        return SILENT_DB
    power = math.fsum(x * x for x in samples) / len(samples)
    return max(SILENT_DB, 10 * math.log10(power / 32768**2)) if power else SILENT_DB


def clipped_share(pcm: bytes) -> float:
    """Share of samples that stand at full scale in runs."""
    samples = array("h", pcm[: len(pcm) // 2 * 2])
    found = run = 0
    for x in samples:
        run = run + 1 if x >= _CLIPPED or x <= -_CLIPPED else 0
        found += _CLIP_RUN if run == _CLIP_RUN else run > _CLIP_RUN
    return found / len(samples) if samples else 0.0


@dataclass(frozen=True)
class Levels:
    """`speech_db` None: nobody spoke. `clipped`: share of the speech's samples. `hiss_db`: see audio.room."""

    room_db: float
    speech_db: float | None = None
    clipped: float = 0.0
    hiss_db: float = 0.0

    @property
    def over_room_db(self) -> float | None:
        return None if self.speech_db is None else self.speech_db - self.room_db


def room_level(frames: Sequence[bytes], share: float = 0.5) -> float:
    """What so many of its frames keep below; their median: a knock does not count."""
    levels = sorted(map(level_db, frames))
    return levels[int(len(levels) * share)] if levels else SILENT_DB


def speech_level(pcm: bytes, room_db: float) -> float:
    """The loud part of an utterance: mean power of its frames within 15 dB of its loudest and over the room, less
    the power of the room."""
    step = int(RATE_HZ * FRAME_S) * 2
    levels = [level_db(pcm[at : at + step]) for at in range(0, len(pcm) - step + 1, step)]
    if not levels:
        return SILENT_DB
    least = max(max(levels) - 15, min(room_db + 3, max(levels)))
    powers = [10 ** (level / 10) for level in levels if level >= least]
    power = sum(powers) / len(powers) - 10 ** (room_db / 10)
    return 10 * math.log10(power) if power > 10 ** (SILENT_DB / 10) else SILENT_DB


def advice(levels: Levels) -> tuple[Advice, ...]:
    """How well it will hear, then what to change."""
    if levels.room_db <= SILENT_DB and levels.speech_db is None:
        return (Advice.SILENT,)
    if levels.speech_db is None or levels.over_room_db is None:
        return (Advice.NOTHING, Advice.NOISE) if levels.room_db > LOUD_ROOM_DB else (Advice.NOTHING, Advice.NEARER)
    change: list[Advice] = []
    if levels.clipped > 0.001:
        change.append(Advice.CLIPPED)
    if levels.over_room_db < GOOD_DB:
        is_loud = levels.room_db > LOUD_ROOM_DB
        change.append(Advice.NOISE if is_loud else Advice.NEARER)
    elif levels.speech_db < WEAK_DB:
        change.append(Advice.NEARER)
    if levels.hiss_db < CUT_OFF_DB:
        change.append(Advice.CUT_OFF)
    grade = Advice.GOOD
    if change:
        grade = Advice.FAIR
    if levels.over_room_db < FAIR_DB:
        grade = Advice.BAD
    return (grade, *change)


class Floored(Endpointer, Protocol):
    """An endpointer that can be told of a room that talks (`audio.endpointer.SileroEndpointer`)."""

    def set_floor(self, floor_db: float, room_db: float) -> None: ...
    def forget_floor(self) -> None: ...
    def hiss_db(self, utterance: Utterance) -> float: ...


class CheckStep(StrEnum):
    """What the check wants next; each is said as `check-...`."""

    QUIET = "quiet"
    SPEAK = "speak"
    DONE = "done"


class SoundCheck:
    """Feed it the frames that may be heard (silence where the assistant speaks is left out by the caller); it listens
    to the room, then to one utterance. Ends by itself.

    `floor_db` at the end: the level that the endpointer was given; None where the detector alone decides.
    """

    def __init__(self, endpointer: Floored) -> None:
        self._endpointer = endpointer
        self._room: list[bytes] = []
        self._room_speech_s = 0.0
        self._waited = 0
        self.step = CheckStep.QUIET
        self.levels = Levels(SILENT_DB)
        self.floor_db: float | None = None
        endpointer.forget_floor()
        endpointer.flush()

    def feed(self, frame: bytes) -> CheckStep | None:
        """The next step, when it has come."""
        if self.step is CheckStep.QUIET:
            return self._quiet(frame)
        return self._speak(frame) if self.step is CheckStep.SPEAK else None

    def _quiet(self, frame: bytes) -> CheckStep | None:
        self._room.append(frame)
        talk = self._endpointer.feed(frame)
        self._room_speech_s += talk.speech_s if talk else 0.0
        if len(self._room) * FRAME_S < ROOM_S:
            return None
        talk = self._endpointer.flush()
        self._room_speech_s += talk.speech_s if talk else 0.0
        self.levels = Levels(room_level(self._room))
        if self._room_speech_s >= TALKING_S:
            # At once: else the radio would be taken for the sentence that is asked for now.
            self.floor_db = room_level(self._room, LOUD_SHARE)
            self._endpointer.set_floor(self.floor_db, self.levels.room_db)
        self.step = CheckStep.SPEAK
        return self.step

    def _speak(self, frame: bytes) -> CheckStep | None:
        self._waited += 1
        found = self._endpointer.feed(frame)
        if found is None and self._waited * FRAME_S >= WAIT_S:
            found = self._endpointer.flush()
            if found is None:
                return self._done(None)
        return self._done(found) if found else None

    def _done(self, found: Utterance | None) -> CheckStep:
        room_db = self.levels.room_db
        speech_db = speech_level(found.pcm, room_db) if found else None
        if found is not None and speech_db is not None:
            self.levels = Levels(room_db, speech_db, clipped_share(found.pcm), self._endpointer.hiss_db(found))
        # Who talked in the quiet seconds, or speaks no louder than the radio, must not be taken for the room.
        if self.floor_db is not None and (speech_db is None or speech_db - self.floor_db < OVER_FLOOR_DB):
            self._endpointer.forget_floor()
            self.floor_db = None
        self.step = CheckStep.DONE
        return self.step
