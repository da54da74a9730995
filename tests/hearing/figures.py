"""Right and wrong by agreement on synthetic clips, with times and memory. Development figures: nothing is held apart.

    python tests/hearing/figures.py [--snr DB] [--ears pocketsphinx,whisper] [--voice neural|espeak] [--seed N]

The truth of a clip is what the parser makes of the text that was synthesised.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from bench_voice.audio.ears import Ears  # noqa: E402
from bench_voice.audio.endpointer import SileroEndpointer  # noqa: E402
from bench_voice.audio.factory import make_ears  # noqa: E402
from bench_voice.audio.resample import FRAME_BYTES, Samples, from_s16, resample, to_s16  # noqa: E402
from bench_voice.core.intents import Expected, Kind  # noqa: E402
from bench_voice.hearing.agree import Act, agree  # noqa: E402
from bench_voice.ports import Utterance  # noqa: E402
from bench_voice.sheets.load import load_sheet  # noqa: E402
from bench_voice.speech.phrases import load_language  # noqa: E402
from bench_voice.speech.understand import understand  # noqa: E402

COMMANDS = ("next", "say again", "go back", "what is left", "where are we", "affirm", "negative", "strike that",
            "what is the limit", "stand by", "note left drum scored near the edge", "remind me to grease the bearing",
            "took off cable tape", "good", "do it again")  # fmt: skip
READINGS = ("four point six", "zero point zero eight", "two hundred and one point two", "one hundred and eighteen",
            "three point one", "six point nine eight", "nought point five", "twelve", "four point six zero",
            "two hundred point nine")  # fmt: skip
TALK = (
    "I really ought to call my brother about the car", "the weather is nice today", "hand me that spanner please",
    "where did I put the eight millimetre socket", "it was four or five years ago I think",
    "no that is not right at all",
    "next week we are going to the coast", "is the kettle on", "right then what have we got here",
    "they said it would take twenty minutes", "the good one is in the van", "can you come back in an hour",
    "confirm that with the office first", "both wheels are on the floor", "this thing is stuck again",
    "yes I will tell her when she gets in", "you need about two hundred of those", "look at the state of that",
    "stop it you silly dog", "the trailer stands outside",
)  # fmt: skip


def clips(sheet_path: Path) -> list[tuple[Expected, str, str]]:
    """(what is expected, kind of clip, text). Talk goes to steps in turn."""
    sheet = load_sheet(sheet_path)
    made: list[tuple[Expected, str, str]] = []
    steps = list(sheet.steps)
    for index, text in enumerate(COMMANDS):
        made.append((Expected.at(sheet, steps[(index * 5) % len(steps)]), "command", text))
    with_readings = [step for step in steps if step.readings]
    for index, value in enumerate(READINGS * 2):
        step = with_readings[index % len(with_readings)]
        spec = sheet.readings[step.readings[0]]
        unit = load_language("en").unit_words[spec.unit][1]
        text = f"{spec.name} {value}" if index % 3 == 0 else f"{value} {unit}" if index % 3 == 1 else value
        made.append((Expected.at(sheet, step), "reading", text))
    for step in steps:
        if step.hold is not None:
            made.append((Expected.at(sheet, step), "hold", step.hold.phrase))
            made.append(
                (Expected.at(sheet, step), "near miss", step.hold.phrase.replace("confirm ", "confirm not ", 1))
            )
            made.append((Expected.at(sheet, step), "near miss", step.hold.phrase.removeprefix("confirm ")))
    for index, text in enumerate(TALK):
        made.append((Expected.at(sheet, steps[index % len(steps)]), "talk", text))
    return made


class Speaker:
    def __init__(self, voice: str) -> None:
        self._neural = None
        if voice == "neural":
            from hibari import Hibari

            self._neural = Hibari()
        else:
            from bench_voice.audio.voice_pyttsx3 import Pyttsx3Voice

            self._espeak = Pyttsx3Voice(150, "gmw/en-us")

    def say(self, text: str, speed: float, seed: int) -> Samples:
        if self._neural is not None:
            return resample(self._neural(text, speed=speed, seed=seed), self._neural.sample_rate)
        return from_s16(self._espeak.speak(text))


def sounded(speech: Samples, snr_db: float | None, seed: int) -> bytes:
    """0.4 s before, 1.2 s after, pink noise at the ratio over the speech's own power (None: a quiet room, 60 dB)."""
    padded = np.concatenate([np.zeros(6400, np.float32), speech, np.zeros(19200, np.float32)])
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal(len(padded)))
    spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 30))
    noise = np.fft.irfft(spectrum, len(padded))
    level = np.sqrt(np.mean(speech**2)) * 10 ** (-(60 if snr_db is None else snr_db) / 20)
    return to_s16((padded + noise / np.sqrt(np.mean(noise**2)) * level).astype(np.float32))


def endpointed(pcm: bytes) -> list[Utterance]:
    endpointer = SileroEndpointer()
    found = [endpointer.feed(pcm[at : at + FRAME_BYTES]) for at in range(0, len(pcm), FRAME_BYTES)]
    return [utterance for utterance in (*found, endpointer.flush()) if utterance is not None]


def memory_mb(pid: int) -> float:
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS"))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--snr", type=float, default=None)
    parser.add_argument("--ears", default="pocketsphinx,whisper")
    parser.add_argument("--voice", default="neural")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sheet", type=Path, default=ROOT / "demo" / "trailer-hub-brake.yaml")
    given = parser.parse_args()
    language = load_language("en")
    began = time.monotonic()
    ears = Ears(make_ears(given.ears.split(","), language))
    ears.wait_ready()
    print(f"load {time.monotonic() - began:.2f} s; memory here {memory_mb(os.getpid()):.0f} MB", end="")
    for ear in ears.ears:
        pid = getattr(ear, "pid", None)
        print(f", {ear.name} {memory_mb(pid):.0f} MB" if pid else "", end="")
    print()
    speaker, dice = Speaker(given.voice), random.Random(given.seed)
    table: Counter[tuple[str, str]] = Counter()
    times = []
    for expected, kind, text in clips(given.sheet):
        truth = understand(text, expected, language)
        pcm = sounded(speaker.say(text, dice.uniform(0.9, 1.1), given.seed), given.snr, given.seed)
        pieces = endpointed(pcm)
        ears.prepare(expected)
        heard, decision = (), None
        for piece in pieces:
            start = time.monotonic()
            heard = ears.hear(piece)
            decision = agree(expected, heard, language)
            times.append(time.monotonic() - start)
        result = "nothing" if decision is None else decision.kind.value
        if len(pieces) > 1:
            result = "split"
        if decision is not None and decision.intent is not None:
            right = decision.intent.meaning() == truth.meaning() and decision.intent.asks == truth.asks
            has_right = any(option.meaning() == truth.meaning() for option in decision.options)
            if decision.kind is Act.RECORD:
                result = "right" if right and truth.kind is not Kind.UNKNOWN else "WRONG"
            else:
                result = "ask, right in it" if right or has_right else "ask, wrong"
        table[kind, result] += 1
        if result != "right" and not (kind in ("talk", "near miss") and result in ("nothing", "again")):
            words = " / ".join(f"{h.words} ({h.free_words})" if h.free_words is not None else h.words for h in heard)
            print(f"  {result:17} {kind:9} «{text}» heard: {words} — {decision.why if decision else ''}"
                  f" {[{k: round(v, 2) for k, v in h.evidence.items()} for h in heard]}")  # fmt: skip
    print(f"ears {given.ears}, voice {given.voice}, noise {given.snr if given.snr is not None else 'none'} dB")
    for (kind, result), count in sorted(table.items()):
        print(f"  {kind:10} {result:18} {count}")
    times.sort()
    print(f"hear and agree: median {statistics.median(times):.2f} s, 95 % {times[int(len(times) * 0.95)]:.2f} s")
    print(f"memory here {memory_mb(os.getpid()):.0f} MB (with the synthetic voice)", end="")
    for ear in ears.ears:
        pid = getattr(ear, "pid", None)
        print(f", {ear.name} {memory_mb(pid):.0f} MB" if pid else "", end="")
    print()
    ears.close()


if __name__ == "__main__":
    main()
