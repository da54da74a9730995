"""A live session on the virtual card: the real program as a process, a synthetic mechanic who talks into its
microphone in a workshop that is never silent, and ears for both cables."""

from __future__ import annotations

import contextlib
import queue
import signal
import subprocess
import sys
import threading
import time
from collections import deque
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo"))

from mechanic import MechanicVoice, Workshop, make_mechanic
from virtual_card import RATE_HZ, VirtualCard, with_path

ROOT = Path(__file__).resolve().parents[2]

# Started in the background of a shell, Ctrl-C is ignored, and the program under test would inherit that.
if threading.current_thread() is threading.main_thread():
    signal.signal(signal.SIGINT, signal.default_int_handler)

SHEET = ROOT / "demo" / "trailer-hub-brake.yaml"
_PIECE_S = 0.02
AUDIBLE = 60  # of 32768: about 55 dB below full scale


@dataclass(frozen=True)
class Line:
    """A printed line and when it came (monotonic seconds)."""

    who: str
    text: str
    at_s: float


class Room:
    """Feeds the microphone's cable without a gap: the workshop, and on top of it what the mechanic says."""

    def __init__(self, card: VirtualCard, workshop: Workshop) -> None:
        self._card, self._workshop = card, workshop
        self._speech: deque[bytes] = deque()
        self._is_closed = threading.Event()
        self._player = card.player()
        self.said = threading.Event()  # all that was given has been played
        self.said.set()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def say(self, pcm: bytes) -> None:
        self.said.clear()
        step = int(RATE_HZ * _PIECE_S) * 2
        self._speech.extend(pcm[at : at + step].ljust(step, b"\0") for at in range(0, len(pcm), step))

    def replug(self) -> None:
        """A new player after the card was away."""
        old, self._player = self._player, self._card.player()
        old.kill()
        old.wait()

    def _run(self) -> None:
        while not self._is_closed.is_set():
            piece = self._speech.popleft() if self._speech else self._workshop.room(_PIECE_S)
            try:
                assert self._player.stdin is not None
                self._player.stdin.write(piece)
            except (BrokenPipeError, ValueError):
                self._is_closed.wait(0.05)
            if not self._speech:
                self.said.set()

    def close(self) -> None:
        self._is_closed.set()
        self._player.kill()
        self._player.wait()
        self._thread.join(timeout=2)


class Recorder:
    """All samples of a cable since its start, in one clock. `channels`: 2 gives rows of (mechanic, assistant)."""

    def __init__(self, card: VirtualCard, source: str, channels: int = 1) -> None:
        self._channels = channels
        self._process = card.recorder(source, channels)
        self._pieces: list[bytes] = []
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        assert self._process.stdout is not None
        while piece := self._process.stdout.read(1280):
            self._pieces.append(piece)

    @property
    def n_samples(self) -> int:
        return sum(map(len, self._pieces)) // 2 // self._channels

    def samples(self) -> np.ndarray[tuple[int, ...], np.dtype[np.int16]]:
        data = b"".join(self._pieces)
        flat = np.frombuffer(data[: len(data) // (2 * self._channels) * 2 * self._channels], "<i2")
        return flat.reshape(-1, self._channels) if self._channels > 1 else flat

    def close(self) -> None:
        self._process.kill()
        self._process.wait()
        self._thread.join(timeout=2)


class LiveBench:
    """`bench-voice work SHEET` on the card. `lines` in the order they came; `turns` counts what --turns prints."""

    def __init__(self, card: VirtualCard, journals: Path, *options: str, sheet: Path = SHEET) -> None:
        command = [sys.executable, "-m", "bench_voice.cli", "work", str(sheet), "--turns", "--journal", str(journals)]
        self.process = subprocess.Popen(
            [*command, *options],
            cwd=ROOT,
            env={**with_path(card.environment, ROOT), "PYTHONUNBUFFERED": "1"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            bufsize=1,
        )
        self.lines: list[Line] = []
        self.errors: list[Line] = []
        self._new: queue.SimpleQueue[Line | None] = queue.SimpleQueue()
        self._turn: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._threads = [
            threading.Thread(target=self._read_lines, daemon=True),
            threading.Thread(target=self._read_errors, daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    def _read_lines(self) -> None:
        assert self.process.stdout is not None
        for raw in self.process.stdout:
            who, _, text = raw.rstrip("\n").partition(": ")
            line = Line(who, text, time.monotonic())
            self.lines.append(line)
            self._new.put(line)
        self._new.put(None)

    def _read_errors(self) -> None:
        assert self.process.stderr is not None
        for raw in self.process.stderr:
            text = raw.rstrip("\n")
            if text in ("ready", "talk"):
                self._turn.put(text)
            else:
                self.errors.append(Line("err", text, time.monotonic()))

    def wait_for(self, part: str, timeout_s: float = 30.0) -> Line | None:
        """The next line that holds `part`; None when it does not come in time or the program ends."""
        end = time.monotonic() + timeout_s
        while (left := end - time.monotonic()) > 0:
            try:
                line = self._new.get(timeout=left)
            except queue.Empty:
                return None
            if line is None:
                return None
            if part.lower() in line.text.lower():
                return line
        return None

    def forget(self) -> None:
        """`wait_for` only looks at what comes from now on."""
        with contextlib.suppress(queue.Empty):
            while True:
                self._new.get_nowait()

    def wait_turn(self, timeout_s: float = 30.0) -> bool:
        """Until it listens again."""
        end = time.monotonic() + timeout_s
        while (left := end - time.monotonic()) > 0:
            with contextlib.suppress(queue.Empty):
                if self._turn.get(timeout=left) == "ready":
                    return True
        return False

    def kill(self) -> None:
        """Leaves nothing behind: its children end with it."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()

    def end(self) -> int:
        """Ends it as Ctrl-C does; its exit code."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        try:
            code = self.process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise
        for thread in self._threads:
            thread.join(timeout=2)
        return code


def quiet_for(recorder: Recorder, seconds: float, timeout_s: float, level: int = AUDIBLE) -> bool:
    """Until the assistant's cable has been silent for so long, by the samples of the cable itself."""
    end = time.monotonic() + timeout_s
    while time.monotonic() < end:
        wanted = int(seconds * RATE_HZ)
        samples = recorder.samples()
        voice = samples[:, 1] if samples.ndim > 1 else samples
        if len(voice) >= wanted and not (np.abs(voice[-wanted:].astype(int)) > level).any():
            return True
        threading.Event().wait(0.05)
    return False


@dataclass
class Mechanic:
    """Somebody who waits until the bench is silent, says a line, and says it again when it was not understood."""

    room: Room
    workshop: Workshop
    voice: MechanicVoice
    bench: LiveBench
    ears: Recorder
    log: list[str] = field(default_factory=list)

    def listen(self, timeout_s: float = 40.0) -> bool:
        """Until the bench has spoken and been silent for 0.7 s (its tail is over)."""
        threading.Event().wait(0.8)  # what was printed just now begins to sound within this time
        return quiet_for(self.ears, 0.7, timeout_s)

    def begins_to_speak(self, timeout_s: float = 10.0) -> bool:
        """Until the bench can be heard."""
        end = time.monotonic() + timeout_s
        while time.monotonic() < end:
            if (np.abs(self.ears.samples()[-RATE_HZ // 10 :].astype(int)) > AUDIBLE).any():
                return True
            threading.Event().wait(0.02)
        return False

    def turn(self, line: str, expects: str, tries: int = 3, timeout_s: float = 15.0) -> bool:
        """Whether the bench answered with these words."""
        for _ in range(tries):
            self.listen()
            self.bench.forget()
            self.room.say(self.workshop.around(self.voice.speak(f"{line.capitalize()}."), after_s=0.1))
            answer = self.bench.wait_for("", timeout_s)
            while answer is not None and answer.who != "bench":
                answer = self.bench.wait_for("", timeout_s)
            heard = "; ".join(one.text for one in self.bench.errors[-2:])
            self.log.append(f"{line!r}: {answer.text if answer else 'no answer'} ({heard})")
            if answer is not None and expects.lower() in answer.text.lower():
                return True
            if (
                answer is not None
                and "affirm or negative" in answer.text.lower()
                and line.split()[0] in answer.text.lower()
            ):
                self.turn("affirm", expects, 1)
        return False


__all__ = [
    "Line",
    "LiveBench",
    "Mechanic",
    "MechanicVoice",
    "Recorder",
    "Room",
    "Workshop",
    "make_mechanic",
    "quiet_for",
]
