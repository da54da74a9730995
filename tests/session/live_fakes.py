"""A live session without hardware and without waiting: a card whose clock moves with the frames that are taken, a room
in which the loudspeaker reaches the microphone, ears that know what was said."""

from __future__ import annotations

import io
import threading
from collections import deque
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from bench_voice.audio.endpointer import SileroEndpointer
from bench_voice.core.intents import Expected, Intent, Kind, Unknown
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.errors import EarFailed
from bench_voice.ports import Heard, Utterance
from bench_voice.session.console import Console
from bench_voice.session.duplex import Duplex
from bench_voice.session.listen import Listener
from bench_voice.session.live import Live, Wiring
from bench_voice.session.modes import CallWord, Mode
from bench_voice.session.mouth import LiveMouth
from bench_voice.session.owner import Owner
from bench_voice.session.supervise import GuardedEars
from bench_voice.speech.understand import understand
from bench_voice.testing import FakeClock, MemoryJournal, reading, small_sheet, step
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

FRAME_S = 0.02
SAMPLES = 320


def tone_pcm(seconds: float, level: float = 0.2, hz: float = 300.0) -> bytes:
    """A tone with a little hiss: a microphone that passes none is told of in the sound check."""
    at = np.arange(int(seconds * 16_000)) / 16_000
    hiss = 0.03 * np.random.default_rng(1).standard_normal(len(at))
    return bytes((level * 32767 * (np.sin(2 * np.pi * hz * at) + hiss)).astype("<i2").tobytes())


class FakeVoice:
    """Each sentence is a sound of 60 ms a letter."""

    def __init__(self, fails: int = 0) -> None:
        self.fails, self.said, self.rate_wpm = fails, list[str](), 160

    def speak(self, text: str) -> bytes:
        from bench_voice.errors import EngineError

        if self.fails:
            self.fails -= 1
            raise EngineError("No voice.", mend="Mend it.", slug="voice-hangs")
        self.said.append(text)
        return tone_pcm(0.06 * len(text))


class SimCard:
    """Microphone and loudspeaker of one clock. What is played comes back into the microphone after `echo_s`, louder or
    softer by `echo_db`; None: not at all (a headset). `people`: sounds, one after the other, each when it is quiet."""

    def __init__(
        self, *, echo_db: float | None = None, echo_s: float = 0.15, room: float = 0.0005, seed: int = 1
    ) -> None:
        self._cond = threading.Condition()
        self._out = bytearray()
        self._echo: deque[bytes] = deque(bytes(640) for _ in range(max(1, round(echo_s / FRAME_S))))
        self._gain = 0.0 if echo_db is None else 10 ** (echo_db / 20)
        self._random = np.random.default_rng(seed)
        self._room = room
        self.now_s = 0.0
        self.captured_s = 0.0
        self.ended_s = 0.0
        self.loudness_db = 0.0
        self.is_open = True
        self.reopened = 0
        self.people: deque[bytes] = deque()
        self._speech = bytearray()
        self.played = 0
        self.mixed = 0
        self._pause = 0  # frames that leave the voice's thread time to see that it was stopped
        self.is_busy: Callable[[], bool] = lambda: False
        self.limit_s = 600.0
        self.quiet_s = 0.0
        self.at: dict[int, Callable[[], None]] = {}  # frame number -> what happens then

    def clock(self) -> float:
        return self.now_s

    # -- the loudspeaker

    def play(self, pcm: bytes, is_cancelled: Callable[[], bool]) -> bool:
        with self._cond:
            self._out += pcm
            self._cond.notify_all()
            while self._out:
                if is_cancelled() or not self.is_open:
                    self._out.clear()
                    return False
                self._cond.wait(0.01)
            self.ended_s = self.now_s + 0.12
        return True

    def mix(self, pcm: bytes) -> None:
        self.mixed += 1

    def wake(self) -> None:
        with self._cond:
            self._pause = 5
            self._cond.notify_all()

    def wait_open(self, timeout_s: float) -> bool:
        with self._cond:
            return self._cond.wait_for(lambda: self.is_open, timeout_s)

    def reopen(self) -> None:
        self.reopened += 1

    # -- the microphone

    def frames(self) -> Iterator[bytes]:
        while self.now_s < self.limit_s:
            with self._cond:
                # The voice works in real time and this clock does not: it waits for the voice's next sentence.
                if (self.is_busy() and not self._out) or self._pause:
                    self._pause = max(0, self._pause - 1)
                    self._cond.wait(0.002)
                piece = bytes(self._out[:640])
                del self._out[:640]
                self._cond.notify_all()
                self.now_s += FRAME_S
            self.played += bool(piece)
            self._echo.append(piece.ljust(640, b"\0"))
            back = np.frombuffer(self._echo.popleft(), "<i2").astype(np.float64) * self._gain
            self.quiet_s = 0.0 if piece or self._speech or self.is_busy() else self.quiet_s + FRAME_S
            if self.people and self.quiet_s > 1.0:
                self._speech += self.people.popleft()
                self.quiet_s = 0.0
            said = np.frombuffer(bytes(self._speech[:640]).ljust(640, b"\0"), "<i2").astype(np.float64)
            del self._speech[:640]
            air = back + said + self._random.standard_normal(SAMPLES) * self._room * 32768
            self.captured_s = self.now_s
            happens = self.at.pop(round(self.now_s / FRAME_S), None)
            if happens:
                happens()
            yield bytes(np.clip(air, -32768, 32767).astype("<i2").tobytes())

    def close(self) -> None: ...


def energy_endpointer() -> SileroEndpointer:
    """The real endpointer with a detector that takes any sound above the room for speech: the worst case."""
    return SileroEndpointer(lambda window: float(np.sqrt(np.mean(window**2)) > 0.005))


class ScriptedEars:
    """Hears, utterance after utterance, what the script says; two ears the same. An exception in it is raised."""

    def __init__(self, script: list[Any]) -> None:
        self.script, self.heard = script, list[Utterance]()
        self.names: tuple[str, ...] = ("a", "b")
        self.cannot_load: tuple[EarFailed, ...] = ()

    def unloaded(self) -> tuple[EarFailed, ...]:
        return self.cannot_load

    def leave_out(self, name: str) -> None:
        self.names = tuple(one for one in self.names if one != name)

    def prepare(self, expected: Expected) -> None: ...

    def hear(self, utterance: Utterance, is_enough: object = None) -> tuple[Heard, ...]:
        self.heard.append(utterance)
        words = self.script.pop(0) if self.script else ""
        if isinstance(words, Exception):
            raise words
        if isinstance(words, tuple):
            return words
        evidence = {"speech_s": 1.0, "per_frame": 0.0}
        both = (Heard("a", words, evidence=evidence), Heard("b", words, free_words=words, evidence={"speech_s": 1.0}))
        return tuple(one for one in both if one.ear in self.names)

    def more(self, utterance: Utterance, heard: Any, look: Any, texts: Any = ()) -> Any:
        return heard

    def close(self) -> None: ...


class PlainListener(Listener):
    """A Listener whose agreement is: what the first ear heard. The real one has its own tests."""

    def meaning(self, heard: Any, expected: Expected) -> Intent | None:
        words = next((one.words for one in heard if one.words), "")
        intent = understand(words, expected) if words else None
        return intent if intent is None or intent.kind is not Kind.UNKNOWN else Unknown(heard=words)


class FakeVolume:
    def __init__(self) -> None:
        self.asked: list[tuple[str, bool]] = []
        self.may = True

    def louder(self, up: bool) -> bool:
        self.asked.append(("louder", up))
        return self.may

    def faster(self, up: bool) -> bool:
        self.asked.append(("faster", up))
        return self.may


def sheet() -> JobSheet:
    return small_sheet(
        step("block", hold="confirm both wheels are blocked"),
        step("measure", readings=["wear"]),
        step("plain"),
        step("end", gate=True),
        readings=[reading("wear", low="2.0")],
    )


class LiveRig:
    """A whole live session on the fakes. `script`: what each utterance is; `says`: how many are said."""

    def __init__(
        self,
        script: list[Any],
        *,
        card: SimCard | None = None,
        mode: Mode = Mode.OPEN,
        call: CallWord | None = None,
        is_echo_free: bool = False,
        voice: FakeVoice | None = None,
        make_voice: Callable[[], Any] | None = None,
        endpointer: SileroEndpointer | None = None,
        remade: list[Any] | None = None,
        make_ears: Callable[[], Any] | None = None,
        has_tones: bool = True,
        job: JobSheet | None = None,
        sleep: Any = None,
    ) -> None:
        self.card = card or SimCard()
        self.card.people.extend(tone_pcm(1.0) for _ in script)
        self.out = io.StringIO()
        self.console = Console(self.out, environment={})
        self.language = load_language("en")
        self.ears = [ScriptedEars(script)]
        again = list(remade or [])

        def listener() -> Listener:
            if make_ears is not None:
                return Listener(make_ears(), self.language)
            if len(self.made) > 0:
                made = again.pop(0) if again else ScriptedEars(script)
                if isinstance(made, Exception):
                    raise made
                self.ears.append(made)
            self.made.append(1)
            return PlainListener(self.ears[-1], self.language)

        self.made: list[int] = []
        self.journal = MemoryJournal()
        self.clock = FakeClock()
        self.duplex = Duplex(is_echo_free=is_echo_free)
        self.voice = voice or FakeVoice()
        self.volume = FakeVolume()
        self.turns: list[str] = []
        self.mouth = LiveMouth(
            lambda text: self.console.line("bench", text),
            self.voice,
            self.card,
            self.duplex,
            make_voice=make_voice or FakeVoice,
            on_voice_failed=lambda error: self.live.voice_failed(error),
            on_voice_lost=lambda error: self.live.voice_lost(error),
            has_tones=has_tones,
            clock=self.card.clock,
        )
        self.card.is_busy = lambda: self.mouth.is_busy
        self.mouth.wait_quiet = self._wait_quiet  # type: ignore[method-assign]  # in simulated time
        self.owner = Owner(State(job or sheet()), self.journal, Speaker(self.language), self.clock, self.mouth.say)
        self.floor: list[float] = []
        self.live = Live(
            Wiring(
                owner=self.owner,
                speaker=Speaker(self.language),
                ears=GuardedEars(
                    listener,
                    on_restart=lambda why: self.live.announce("ears-restarted"),
                    on_left_out=lambda line: self.live.announce("ear-left-out"),
                ),
                source=self.card,
                endpointer=endpointer or energy_endpointer(),
                mouth=self.mouth,
                duplex=self.duplex,
                console=self.console,
                volume=self.volume,
                tones={"heard": b"h", "again": b"a", "called": b"c"},
                mode=mode,
                call=call,
                reopen_output=self.card.reopen,
                keep_floor=self.floor.append,
                on_turn=self.turns.append,
                sleep=sleep,
                clock=self.card.clock,
            )
        )

    def run(self, seconds: float = 120.0) -> bool:
        """The session from its beginning; ends after so many seconds of the card's clock."""
        self.card.limit_s = self.card.now_s + seconds
        if not self.journal.lines:
            self.owner.begin()
        return self.live.run()

    def _wait_quiet(self, timeout_s: float) -> bool:
        """What is said last has nobody left to take frames for it: they are taken here."""
        self.card.limit_s = self.card.now_s + timeout_s
        rest = self.card.frames()
        while self.mouth.is_busy and self.card.is_open and next(rest, b""):
            pass
        return not self.mouth.is_busy

    @property
    def said(self) -> list[str]:
        """What was printed, line by line."""
        return self.out.getvalue().splitlines()

    @property
    def events(self) -> list[str]:
        return [type(event).__name__ for event in self.journal.events]

    def close(self) -> None:
        self.card.is_open = True
        self.live.close()
        self.mouth.close()
