"""Measures, in real time on a virtual sound card: end of speech to first sound of the answer, by the cables' samples.

    .venv/bin/python tests/bench/latency.py               100 turns, all ears: about ten minutes
    .venv/bin/python tests/bench/latency.py --turns 20

Both cables are two channels of one recording, so both ends are read off one sample clock. The end of speech is the last
sample of the mechanic's line within 30 dB of its peak, found in the recording by correlation with what was fed. The
first sound is the first sample of the assistant's channel over -55 dB. The short sounds are off; what is said is
stopped by a key as soon as its beginning was seen. The parts are the program's own times (`--explain`); "cards" is the
rest: the sound cards' buffers on both ways.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "live"))

from rig import LiveBench, Recorder, Room, Workshop, make_mechanic, quiet_for
from virtual_card import RATE_HZ, VirtualCard, missing

ROOT = Path(__file__).resolve().parents[2]

JOB = ROOT / "tests" / "live" / "short-job.yaml"
LINES = (
    "what is the limit", "four point two ohms", "what is left", "correction four point five", "where are we",
    "correction three point eight", "next", "what is the limit", "go back", "which words",
)  # fmt: skip
AUDIBLE = 60  # of 32768: about 55 dB below full scale
PARTS = ("endpoint", "decode", "decide", "synthesis")


def percentile(values: list[float], share: float) -> float:
    return float(np.percentile(values, share)) if values else float("nan")


def found_at(recorded: np.ndarray, fed: np.ndarray) -> int:
    """Where `fed` begins in `recorded`: the peak of their correlation."""
    size = 1 << (len(recorded) + len(fed)).bit_length()
    product = np.fft.rfft(recorded, size) * np.conj(np.fft.rfft(fed, size))
    return int(np.argmax(np.fft.irfft(product, size)[: len(recorded)]))


class Turns:
    """One live session; `turn` measures one line."""

    def __init__(self, card: VirtualCard, folder: Path, keys: Path) -> None:
        self.recorder = Recorder(card, "cable.monitor", 2)
        self.workshop = Workshop(snr_db=30.0)
        self.room = Room(card, self.workshop)
        self.voice = make_mechanic()
        self.bench = LiveBench(card, folder, "--new", "--no-sound-check", "--explain", "--keys", str(keys), sheet=JOB)
        self.keys = keys
        if self.bench.wait_for("Step one", 60) is None:
            raise SystemExit("It did not begin.\n" + "\n".join(line.text for line in self.bench.errors))
        self.hush()

    def hush(self) -> None:
        """Stops what is being said, and waits until the cable is silent and the tail is over."""
        threading.Event().wait(0.3)
        fd = os.open(self.keys, os.O_WRONLY | os.O_NONBLOCK)  # fails where the program has ended
        os.write(fd, b"x")
        os.close(fd)
        quiet_for(self.recorder, 0.8, 60)

    def turn(self, line: str) -> tuple[float, dict[str, float]] | None:
        """Milliseconds from the end of speech to the first sound, and the parts. None: no answer within 8 s."""
        speech = self.voice.speak(f"{line.capitalize()}.")
        loud = np.flatnonzero(np.abs(speech) > np.max(np.abs(speech)) * 10 ** (-30 / 20))
        lead = round(0.1 * RATE_HZ)
        pcm = self.workshop.around(speech, before_s=0.1, after_s=0.05)
        begun, seen = self.recorder.n_samples, len(self.bench.errors)
        self.room.say(pcm)
        answer = None
        end = time.monotonic() + 8 + len(speech) / RATE_HZ
        while time.monotonic() < end:
            samples = self.recorder.samples()[begun:]
            sounding = np.flatnonzero(np.abs(samples[:, 1]) > AUDIBLE)
            if len(sounding):
                answer = int(sounding[0])
                break
            threading.Event().wait(0.05)
        threading.Event().wait(0.2)
        samples = self.recorder.samples()[begun:]
        self.hush()
        if answer is None:
            return None
        fed = np.frombuffer(pcm, "<i2").astype(np.float64)
        at = found_at(samples[:, 0].astype(np.float64), fed)
        spoken_at = at + lead + int(loud[-1])
        parts: dict[str, float] = {}
        for error in self.bench.errors[seen:]:
            if error.text.startswith("times:"):
                for name, value in re.findall(r"(\w+) (-?\d+)", error.text):
                    parts.setdefault(name, float(value))
        return (answer - spoken_at) / RATE_HZ * 1000, parts

    def close(self) -> None:
        self.bench.end()
        self.room.close()
        self.recorder.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--turns", type=int, default=100)
    options = parser.parse_args()
    if missing():
        raise SystemExit(missing())
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before", flush=True)
    took: list[float] = []
    parts: dict[str, list[float]] = {name: [] for name in (*PARTS, "cards")}
    silent = 0
    with VirtualCard(is_one_clock=True) as card, tempfile.TemporaryDirectory() as name:
        folder = card.home / ".config" / "bench-voice"
        folder.mkdir(parents=True)
        (folder / "config.toml").write_text("tones = false\nspeed = 240\n")
        keys = Path(name) / "keys"
        os.mkfifo(keys)
        turns = Turns(card, Path(name) / "journals", keys)
        for line in ("confirm mains plug is pulled and tagged", "affirm", "next"):
            turns.turn(line)
        for count in range(options.turns):
            found = turns.turn(LINES[count % len(LINES)])
            if found is None:
                silent += 1
                continue
            took.append(found[0])
            for part in PARTS:
                if part in found[1]:
                    parts[part].append(found[1][part])
            if all(part in found[1] for part in PARTS):
                parts["cards"].append(found[0] - sum(found[1][part] for part in PARTS))
        turns.close()
    print(f"{len(took)} answers of {options.turns} turns ({silent} without), load {os.getloadavg()[0]:.1f} after")
    print(
        f"end of speech to first sound: p50 {percentile(took, 50):.0f} ms, p95 {percentile(took, 95):.0f} ms,"
        f" worst {max(took, default=0):.0f} ms"
    )
    for part, values in parts.items():
        print(f"  {part:<9} p50 {percentile(values, 50):5.0f} ms, p95 {percentile(values, 95):5.0f} ms")


if __name__ == "__main__":
    main()
