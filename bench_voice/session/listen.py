"""Sound to intents: frames through the endpointer, each utterance to every ear at once, one decision back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from bench_voice.core.intents import Expected, Intent, Kind
from bench_voice.hearing.agree import agree
from bench_voice.ports import AudioSource, Endpointer, Heard, Utterance
from bench_voice.speech.phrases import Language


class Ears(Protocol):
    """All ears at once (`audio.ears.Ears`); answers in the ears' order."""

    def prepare(self, expected: Expected) -> None: ...
    def hear(self, utterance: Utterance) -> tuple[Heard, ...]: ...
    def close(self) -> None: ...


class Listener:
    """Owns the ears. Not for more than one thread at a time."""

    def __init__(self, ears: Ears, language: Language) -> None:
        self._ears, self._language = ears, language

    def hear(self, utterance: Utterance, expected: Expected) -> tuple[Heard, ...]:
        """What each ear made of it, in the ears' order."""
        self._ears.prepare(expected)
        return self._ears.hear(utterance)

    def meaning(self, heard: Sequence[Heard], expected: Expected) -> Intent | None:
        """The agreed meaning; an UNKNOWN intent asks to say it again; None is talk that needs no answer."""
        decision = agree(expected, heard, self._language)
        if decision.kind == "nothing":
            return None
        if decision.kind == "again" or decision.intent is None:
            words = next((one.words for one in heard if one.words), "")
            return Intent(Kind.UNKNOWN, heard=words)
        return decision.intent

    def close(self) -> None:
        self._ears.close()


def utterances(source: AudioSource, endpointer: Endpointer, is_open: Callable[[], bool]) -> Iterator[Utterance]:
    """Every utterance of a source until it ends or `is_open` says no."""
    for frame in source.frames():
        if not is_open():
            return
        found = endpointer.feed(frame)
        if found is not None:
            yield found
    last = endpointer.flush()
    if last is not None and is_open():
        yield last
