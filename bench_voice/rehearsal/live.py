"""A rehearsal at the microphone: each phrase is shown and spoken, then listened for.

Enter skips a phrase, r says it again, q ends the rehearsal.
"""

from __future__ import annotations

import queue
import sys
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import Any, Protocol

from bench_voice.config import Config
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import EngineError
from bench_voice.ports import Endpointer
from bench_voice.rehearsal.prompts import Prompt
from bench_voice.rehearsal.take import Ended

FRAMES_A_SECOND = 50
PATIENCE_S = 12  # without speech; then it is said once more, then passed over
BEFORE_S = 1.0  # of the room, kept before the speech
HANG_OVER_MS = 1000  # longer than at the bench: one phrase at a time, and a pause is no end


class Sound(Protocol):
    """A microphone that knows when each frame was captured (`audio.microphone.Microphone`)."""

    captured_s: float

    def frames(self) -> Iterator[bytes]: ...
    def close(self) -> None: ...


# Speaks, waits until it is over, and says when that was (the clock of `captured_s`); 0 where nothing was spoken.
Say = Callable[[str], float]


class _Phrase:
    """The sound of one phrase as it comes in: `BEFORE_S` of the room, then the speech. `silent_s`: without speech."""

    def __init__(self, endpointer: Endpointer) -> None:
        self._endpointer = endpointer
        self._room: deque[bytes] = deque(maxlen=round(BEFORE_S * FRAMES_A_SECOND))
        self._spoken: list[bytes] = []
        self._n_silent = 0

    @property
    def silent_s(self) -> float:
        return self._n_silent / FRAMES_A_SECOND

    def feed(self, frame: bytes) -> bytes | None:
        """The whole sound once the phrase is over, else None."""
        is_over = self._endpointer.feed(frame) is not None
        is_speaking = getattr(self._endpointer, "is_speaking", True)
        if is_speaking or self._spoken or is_over:
            self._spoken = self._spoken or list(self._room)
            self._spoken.append(frame)
        else:
            self._room.append(frame)
        if is_over:
            return b"".join(self._spoken)
        if not is_speaking:
            self._n_silent += 1
            self._room.extend(self._spoken)  # too short to be speech: a knock
            self._spoken = []
        return None


class Live:
    """`rehearse.Takes`. `keys`: signs typed meanwhile."""

    def __init__(
        self,
        sound: Sound,
        make_endpointer: Callable[[], Endpointer],
        say: Say,
        show: Callable[[str], None],
        keys: queue.Queue[str],
        *,
        tail_s: float = 0.3,
        closing: Callable[[], None] = lambda: None,
    ) -> None:
        self._sound, self._make_endpointer, self._say, self._show = sound, make_endpointer, say, show
        self._keys, self._tail_s, self._closing = keys, tail_s, closing
        self._frames = sound.frames()

    def take(self, prompt: Prompt, of: int) -> bytes | None:
        for is_again in (False, True):
            found = self._ask(prompt, of, is_again)
            if found is not None:
                return found or None
        self._show("  nothing was heard; passed over")
        return None

    def _ask(self, prompt: Prompt, of: int, is_again: bool) -> bytes | None:
        """The sound; empty where it was skipped; None where nobody spoke."""
        again = "Once more. " if is_again else ""
        self._show(f'{prompt.number} of {of}. {again}Say: "{prompt.words}"   (Enter: skip, r: again, q: end)')
        quiet_s = self._say(f"{again}Say: {prompt.words}.") + self._tail_s
        phrase = _Phrase(self._make_endpointer())
        for frame in self._frames:
            key = self._key()
            if key == "q":
                raise Ended
            if key == "r":
                return self._ask(prompt, of, is_again)
            if key is not None:
                return b""
            if self._sound.captured_s and self._sound.captured_s <= quiet_s:
                continue  # its own words, or what was said before them
            sound = phrase.feed(frame)
            if sound is not None or phrase.silent_s > PATIENCE_S:
                return sound
        raise Ended  # the microphone was closed

    def _key(self) -> str | None:
        try:
            sign = self._keys.get_nowait()
        except queue.Empty:
            return None
        return sign if sign in ("q", "r") else ("\n" if sign in ("\r", "\n", "s") else None)

    def close(self) -> None:
        self._sound.close()
        self._closing()


def open_live(config: Config, sheet: JobSheet, show: Callable[[str], None], *, is_mute: bool) -> Live:
    """Microphone, voice and keys of this machine. Raises EngineError without a microphone; goes on without a voice."""
    from bench_voice.audio.endpointer import SileroDetector, SileroEndpointer
    from bench_voice.audio.link import Change
    from bench_voice.audio.microphone import Microphone
    from bench_voice.session.keys import open_keys

    SileroDetector()  # what is missing is said before the first phrase

    def changed(change: Change, detail: str) -> None:
        if change in (Change.LOST, Change.BACK, Change.FLAT):
            print(f"microphone: {change.value} {detail}".rstrip(), file=sys.stderr, flush=True)

    microphone = Microphone(config.microphone, on_change=changed)
    microphone.start()
    typed: queue.Queue[str] = queue.Queue()
    keys = open_keys(config.keys, lambda sign, is_press: typed.put(sign) if is_press else None)
    say, end_voice = _voice(config, sheet, is_mute)

    def closing() -> None:
        end_voice()
        if keys is not None:
            keys.close()

    return Live(
        microphone,
        lambda: SileroEndpointer(hang_over_ms=HANG_OVER_MS),
        say,
        show,
        typed,
        tail_s=config.tail_ms / 1000,
        closing=closing,
    )


def _voice(config: Config, sheet: JobSheet, is_mute: bool) -> tuple[Say, Callable[[], None]]:
    """How to speak; silent where it is muted, or where there is no voice or loudspeaker (which is said)."""
    from bench_voice.audio import factory
    from bench_voice.audio.player import Player

    if is_mute:
        return lambda text: 0.0, lambda: None
    player = Player(config.loudspeaker, loudness_db=config.loudness)
    try:
        player.start()
        voice: Any = factory.make_voice(config.speed)
    except EngineError as error:
        player.close()
        print(f"{error} Going on without sound.", file=sys.stderr)
        return lambda text: 0.0, lambda: None

    def say(text: str) -> float:
        with suppress(EngineError):  # what is to be said is shown as well
            player.play(voice.speak(sheet.for_voice(text)))
        return player.ended_s

    def end() -> None:
        voice.close()
        player.close()

    return say, end
