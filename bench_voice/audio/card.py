"""One stream of the sound card in a process of its own: sound libraries hang, abort and freeze their device list when
something is unplugged; then this process is ended and another is started, and nothing else is touched.

Messages both ways: one byte for the kind, four bytes for the length (little endian), the body.

    to us      P id(4) samples    play; C  forget what is not played yet
    from us    H json  opened, with its rate and channels; E json  an error for people, then the end
               B time(8) lost(4) samples   a block of the microphone; lost: blocks dropped so far
               S id time   first sample of P went to the card; D id time   all of it has been heard
               T time   the loudspeaker's clock runs

Times are seconds of the monotonic clock, which all processes of a machine share. Samples: 16 bits, as the device is.
"""

from __future__ import annotations

import json
import os
import queue
import signal
import struct
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from bench_voice.audio import devices
from bench_voice.errors import BenchError

BLOCK_S = 0.02
# On two cores at load 5: 20 s of a sine without a gap at 0.05 s both ways, two gaps at 0.03 s.
LATENCY_S = 0.05
QUEUE_BLOCKS = 100  # 2 s
_TICK_S = 0.2
_DRAIN_MARGIN_S = 0.02

Send = Callable[[bytes, bytes], None]
Clock = Callable[[], float]


def pack(kind: bytes, body: bytes) -> bytes:
    return kind + len(body).to_bytes(4, "little") + body


def _started(library: Any, name: str | None, callback: Callable[..., None], *, is_input: bool) -> tuple[Any, bytes]:
    """The running stream of the device, and the body of H about it. Raises EngineError for people."""
    chosen = devices.choose_device(devices.list_devices(library), name, is_input=is_input)
    shape = devices.find_shape(library, chosen, is_input=is_input)
    make = library.RawInputStream if is_input else library.RawOutputStream
    try:
        stream = make(
            samplerate=shape.rate_hz,
            blocksize=round(shape.rate_hz * BLOCK_S),
            device=shape.index,
            channels=shape.channels,
            dtype="int16",
            latency=LATENCY_S,
            callback=callback,
        )
        stream.start()
    except library.PortAudioError as error:
        raise devices.explained(error, is_input=is_input) from error
    hello = {"rate_hz": shape.rate_hz, "channels": shape.channels, "name": chosen.name if chosen else ""}
    return stream, json.dumps(hello).encode()


class Capture:
    """The microphone. `run` sends blocks until sending fails. The callback only copies into a bounded queue."""

    def __init__(self, library: Any, name: str | None, send: Send, clock: Clock = time.monotonic) -> None:
        self._send, self._clock = send, clock
        self._blocks: queue.Queue[tuple[float, bytes]] = queue.Queue(maxsize=QUEUE_BLOCKS)
        self.lost = 0
        self._stream, hello = _started(library, name, self._on_block, is_input=True)
        send(b"H", hello)

    def _on_block(self, block: Any, _count: int, _time: Any, status: Any) -> None:
        # Runs in PortAudio's thread: copy and leave. An exception here would only reach standard error.
        if status:
            self.lost += 1
        try:
            self._blocks.put_nowait((self._clock(), bytes(block)))
        except queue.Full:
            self.lost += 1

    def step(self) -> None:
        """Sends the next block; waits for it."""
        at, block = self._blocks.get()
        self._send(b"B", struct.pack("<dI", at, self.lost) + block)

    def run(self) -> None:
        while True:
            self.step()


class Playback:
    """The loudspeaker: a stream that always runs, silent where there is nothing to play, so that sound starts at once
    and a card that has stopped is noticed."""

    def __init__(self, library: Any, name: str | None, send: Send, clock: Clock = time.monotonic) -> None:
        self._send, self._clock = send, clock
        self._lock = threading.Lock()
        self._waiting: deque[tuple[int, memoryview]] = deque()
        self._events: queue.SimpleQueue[tuple[bytes, int, float]] = queue.SimpleQueue()
        self._turns = 0
        self._first = -1  # the number whose start was told last
        self._stream, hello = _started(library, name, self._on_room, is_input=False)
        self._latency_s = float(getattr(self._stream, "latency", LATENCY_S) or LATENCY_S)
        send(b"H", hello)

    def _on_room(self, out: Any, _count: int, _time: Any, _status: Any) -> None:
        # Runs in PortAudio's thread: copy and leave.
        self._turns += 1
        room, at = len(out), 0
        with self._lock:
            while at < room and self._waiting:
                number, sound = self._waiting[0]
                if self._first != number:
                    self._first = number
                    self._events.put((b"S", number, self._clock()))
                piece = sound[: room - at]
                out[at : at + len(piece)] = bytes(piece)
                at += len(piece)
                if len(piece) == len(sound):
                    self._waiting.popleft()
                    # It is heard when what the card holds has run through.
                    self._events.put((b"D", number, self._clock() + self._latency_s + _DRAIN_MARGIN_S))
                else:
                    self._waiting[0] = (number, sound[len(piece) :])
        out[at:room] = bytes(room - at)

    def take(self, kind: bytes, body: bytes) -> None:
        """One message of the parent."""
        with self._lock:
            if kind == b"P":
                self._waiting.append((int.from_bytes(body[:4], "little"), memoryview(body)[4:]))
            elif kind == b"C":
                self._waiting.clear()

    def step(self) -> None:
        """Sends what happened, or a tick when the card has turned meanwhile."""
        before = self._turns
        try:
            kind, number, at = self._events.get(timeout=_TICK_S)
            self._send(kind, struct.pack("<Id", number, at))
        except queue.Empty:
            if self._turns != before:
                self._send(b"T", struct.pack("<d", self._clock()))

    def run(self) -> None:
        while True:
            self.step()


def _read_parent(playback: Playback) -> None:
    stream = sys.stdin.buffer
    while len(head := stream.read(5)) == 5:
        playback.take(head[:1], stream.read(int.from_bytes(head[1:], "little")))
    os._exit(0)  # the parent has ended


def main(side: str, name: str) -> None:
    """The child's whole life. `side`: "capture" or "playback"; `name`: the device's, empty for the system's choice."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's
    out = os.dup(1)
    os.dup2(2, 1)  # libraries print to standard output
    lock = threading.Lock()

    def send(kind: bytes, body: bytes) -> None:
        data = memoryview(pack(kind, body))
        with lock:
            while data:
                data = data[os.write(out, data) :]

    try:
        library = devices.sound_library()
        if side == "capture":
            Capture(library, name or None, send).run()
        else:
            playback = Playback(library, name or None, send)
            threading.Thread(target=_read_parent, args=(playback,), daemon=True).start()
            playback.run()
    except BenchError as error:
        body = {"what": error.what, "mend": error.mend, "slug": error.slug, "where": error.where}
        send(b"E", json.dumps(body).encode())
    except BrokenPipeError:
        pass  # the parent has ended
    os._exit(0)  # without closing streams: a card that is gone hangs there
