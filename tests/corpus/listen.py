"""Clips to evidence: what each ear heard, piece by piece, kept as lines of JSON so that decisions can be tried on it.

Decoders run in this process, without limits of time: what is measured here is what they hear. Whole: every look is
taken at every utterance (for fitting); otherwise as in a session, where later looks are only taken when wanted.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from bench_voice.audio.ear_pocketsphinx import Decoder
from bench_voice.audio.ear_whisper import WhisperEar
from bench_voice.audio.ears import OTHER_SPEEDS
from bench_voice.audio.endpointer import SileroEndpointer
from bench_voice.audio.resample import FRAME_BYTES
from bench_voice.core.intents import Expected, Kind
from bench_voice.grammar.jsgf import jsgf
from bench_voice.grammar.vocabulary import hints, said_unit, vocabulary
from bench_voice.hearing.cascade import wants
from bench_voice.hearing.likeness import distance
from bench_voice.ports import Heard, Look, Utterance
from bench_voice.speech.understand import understand
from tests.corpus import clips as of
from tests.corpus import texts

_CLOSER = ("limited", "per_frame", "worst", "phones")  # evidence that comes with the closer look


class Hearer:
    """The three ears and the endpointer."""

    def __init__(self) -> None:
        self._decoder = Decoder()
        self._free = [
            WhisperEar(
                lambda expected: vocabulary(expected, texts.LANGUAGE).words(),
                lambda expected: hints(expected, texts.LANGUAGE),
                lambda expected: said_unit(expected, texts.LANGUAGE),
                name=name,
            )
            for name in ("whisper", "whisper-tiny")
        ]
        self._sent: object = None

    def utterances(self, pcm: bytes) -> list[Utterance]:
        endpointer = SileroEndpointer()
        found = [endpointer.feed(pcm[at : at + FRAME_BYTES]) for at in range(0, len(pcm), FRAME_BYTES)]
        return [one for one in (*found, endpointer.flush()) if one is not None]

    def hear(self, utterance: Utterance, expected: Expected, is_whole: bool) -> tuple[Heard, ...]:
        listened_for = vocabulary(expected, texts.LANGUAGE)
        plan = (jsgf(listened_for), listened_for.all_words())
        if plan != self._sent:
            self._decoder.prepare(plan)
            self._sent = plan
        for ear in self._free:
            ear.prepare(expected)
        heard: tuple[Heard, ...] = (self._decoder.hear(utterance), *(ear.hear(utterance) for ear in self._free))
        if is_whole:
            heard = self._more(utterance, heard, Look.CLOSER)
            return self._more(utterance, heard, Look.SPEEDS) if is_open(expected, heard) else heard
        while (look := wants(expected, heard, texts.LANGUAGE)) is not None:
            heard = self._more(utterance, heard, look)
        return heard

    def _more(self, utterance: Utterance, heard: tuple[Heard, ...], look: Look) -> tuple[Heard, ...]:
        if look is Look.CLOSER:
            first, *free = heard
            closer = [ear.closer(utterance, h) for ear, h in zip(self._free, free, strict=True)]
            return (self._decoder.closer(utterance, first), *closer)
        return (*heard, *(self._free[0].at_speed(utterance, speed) for speed in OTHER_SPEEDS))


def is_open(expected: Expected, heard: tuple[Heard, ...]) -> bool:
    """Whether other speeds could tell anything: no agreement of the first two ears yet, and no plain talk."""
    first, second = heard[:2]
    free = understand(second.free_words or "", expected, texts.LANGUAGE)
    meaning = understand(first.words, expected, texts.LANGUAGE)
    if free.kind is not Kind.UNKNOWN:
        return free.meaning() != meaning.meaning()
    return bool(second.words) and distance(second.words, second.free_words or "") <= 0.5


def as_looked(expected: Expected, heard: Sequence[Heard]) -> tuple[Heard, ...]:
    """Of answers with every look taken, those that a session would have: later looks only where they are wanted."""
    found = tuple(_at_once(one) for one in heard if one.speed == 1.0)
    if wants(expected, found, texts.LANGUAGE) is None:
        return found
    found = tuple(one for one in heard if one.speed == 1.0)
    return found if wants(expected, found, texts.LANGUAGE) is None else tuple(heard)


def _at_once(heard: Heard) -> Heard:
    """Without what the closer look added."""
    evidence = {name: value for name, value in heard.evidence.items() if name not in _CLOSER}
    if heard.free_words is None:
        return replace(heard, evidence=evidence)
    return replace(heard, words="", weight=0.0, alternatives=(), evidence=evidence)


def listen(part: str, count: int, path: Path, whole: int, first: int = 0, every: int = 1) -> None:
    """Appends a line a clip; goes on where the file ends. `whole`: clips below this number get every look, for fitting
    and for comparing ways; the others as in a session. `first`, `every`: this process's share of the clips."""
    done = {line["number"] for line in read(path)}
    hearer = Hearer()
    with path.open("a", encoding="utf-8") as out:
        for clip in of.clips(part, count):
            if clip.number in done or clip.number % every != first:
                continue
            expected = texts.expected_of(clip.said.sheet, clip.said.step)
            pieces = [
                {
                    "speech_s": round(one.speech_s, 3),
                    "heard": [plain(h) for h in hearer.hear(one, expected, clip.number < whole)],
                }
                for one in hearer.utterances(of.sound(part, clip))
            ]
            line = {**asdict(clip), "is_whole": clip.number < whole, "pieces": pieces}
            out.write(json.dumps(line) + "\n")
            out.flush()


def plain(heard: Heard) -> dict[str, Any]:
    """As it is kept in a line of JSON."""
    plain = asdict(heard)
    plain["evidence"] = {key: round(value, 4) for key, value in heard.evidence.items()}
    plain["alternatives"] = [(words, round(weight, 4)) for words, weight in heard.alternatives]
    return plain


def heard_of(piece: dict[str, Any]) -> tuple[Heard, ...]:
    return tuple(
        Heard(**{**one, "alternatives": tuple((w, v) for w, v in one["alternatives"])}) for one in piece["heard"]
    )


def read(path: Path) -> Iterator[dict[str, Any]]:
    if path.exists():
        for line in path.read_text("utf-8").splitlines():
            if line.endswith("}"):  # a torn last line is heard again
                yield json.loads(line)
