"""Synthetic mechanics by family and part. No voice of one part speaks in another; see README of the figures.

neural: hibari-tts, one voice in its wheel. Parts take it at another pitch (sound played faster or slower, speed made up
for), which moves formants and pitch as another throat would; it is still one speaker's manner, and the table says so.
concatenative: flite's and festival's recorded voices (Debian packages flite, festvox-kdlpc16k). robotic: espeak-ng.
people: spoken digits of the Free Spoken Digit Dataset, where the recordings are present.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import wave
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from bench_voice.audio.resample import Samples, from_s16, resample

FAMILIES = ("neural", "concatenative", "robotic")


@dataclass(frozen=True)
class Voice:
    """`engine`: hibari, flite, festival or espeak; `voice`: its name there; `pitch`: 1.1 is a smaller throat."""

    family: str
    engine: str
    voice: str
    pitch: float = 1.0

    @property
    def name(self) -> str:
        return f"{self.engine} {self.voice}" + (f" pitch {self.pitch:g}" if self.pitch != 1.0 else "")


VOICES: dict[str, tuple[Voice, ...]] = {
    "develop": (
        Voice("neural", "hibari", "heart"),
        Voice("concatenative", "flite", "slt"),
        Voice("robotic", "espeak", "gmw/en-us"),
    ),
    "calibrate": (
        Voice("neural", "hibari", "heart", 0.92),
        Voice("concatenative", "flite", "awb"),
        Voice("concatenative", "flite", "slt", 0.93),
        Voice("robotic", "espeak", "gmw/en"),
    ),
    "report": (
        Voice("neural", "hibari", "heart", 0.86),
        Voice("neural", "hibari", "heart", 1.09),
        Voice("concatenative", "flite", "rms"),
        Voice("concatenative", "festival", "ked"),
        Voice("robotic", "espeak", "gmw/en-us-nyc"),
    ),
}


def missing() -> list[str]:
    """What has to be installed first, one line each."""
    found = []
    for program, package in (("flite", "flite"), ("text2wave", "festival festvox-kdlpc16k")):
        if shutil.which(program) is None:
            found.append(f"{program} is missing: apt-get install {package}")
    if find_spec("hibari") is None:
        found.append('hibari-tts is missing: pip install -e ".[demo]"')
    return found


def speak(voice: Voice, text: str, speed: float, seed: int) -> Samples:
    """16 kHz, at its natural level. `speed` 1.1 is faster."""
    speed = speed / voice.pitch
    if voice.engine == "hibari":
        tts = _hibari()
        sound, rate = tts(text, speed=speed, seed=seed), tts.sample_rate
    elif voice.engine == "espeak":
        sound, rate = from_s16(_espeak(voice.voice, round(150 * speed)).speak(text)), 16_000
    else:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "said.wav"
            if voice.engine == "flite":
                stretch = f"duration_stretch={1 / speed:.3f}"
                subprocess.run(["flite", "-voice", voice.voice, "--setf", stretch, "-t", text, "-o", path], check=True)
            else:
                head = f"(voice_{voice.voice}_diphone) (Parameter.set 'Duration_Stretch {1 / speed:.3f})"
                subprocess.run(["text2wave", "-eval", head, "-o", path], input=text.encode(), check=True)
            with wave.open(str(path)) as file:
                sound, rate = from_s16(file.readframes(file.getnframes())), file.getframerate()
    return resample(np.asarray(sound, dtype=np.float32), rate * voice.pitch)


@cache
def _hibari() -> Any:
    from hibari import Hibari

    return Hibari()


@cache
def _espeak(voice: str, rate: int) -> Any:
    from bench_voice.audio.voice_pyttsx3 import Pyttsx3Voice

    return Pyttsx3Voice(rate, voice)
