"""Measures what the room's level does for the cutting of sentences: `.venv/bin/python tests/bench/floor.py`.

A sound check, then twelve sentences of the synthetic mechanic, four seconds apart, in a room with a radio (formant
voices one after the other), babble (five of them at once) or pink noise, so many dB below. Once as a session does it,
once with the floor forgotten after the check; then both with sentences 6 dB softer than that of the check. Cut: the
sentence is one utterance that begins at most 0.9 s before it and ends within 0.5 s before or 0.7 s after its end (the
voice ends its sentences with a little silence). Lost: no utterance holds any of it. Also the room alone for 30 s, how
much of it is taken for speech. No ears: about 20 s.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from mechanic import FormantVoice, make_mechanic

from bench_voice.audio.endpointer import WINDOW_MS, SileroEndpointer
from bench_voice.audio.resample import FRAME_BYTES, Samples, to_s16
from bench_voice.ports import RATE_HZ, Utterance
from tests.corpus import cut as cut_of
from tests.corpus.noises import LEVEL, babble, pink, speech_level, unit

CHECK = "One two three four five."
SENTENCES = (
    "next", "go back", "one point eight millimetres", "confirm both wheels are blocked", "affirm",
    "left lining two point four millimetres", "what is left", "negative", "strike that", "three point zero millimetres",
    "say again", "stop the job",
)  # fmt: skip
RADIO = (
    "Good morning, the roads in the north are clear and the weather stays dry until Thursday.",
    "The home side won by three goals to one after a slow first half.",
    "Nobody expected the price to fall so far in a single week.",
    "After the break we talk about gardens, what to plant and when to water.",
    "The train from the coast is late again because of works on the line.",
)
VOICES = ("gmw/en", "gmw/en-US", "gmw/en-us-nyc", "gmw/en-GB-x-rp", "gmw/en-GB-scotland")
SNRS_DB = (20, 10, 6, 3, 0)
_EVERY_S, _ALONE_S = 4, 30


def radio(n: int, said: list[Samples], dice: np.random.Generator) -> Samples:
    parts: list[Samples] = []
    while sum(map(len, parts)) < n:
        one = said[len(parts) // 2 % len(said)]
        parts += [one / speech_level(one), np.zeros(int(dice.uniform(0.2, 0.6) * RATE_HZ), np.float32)]
    return unit(np.concatenate(parts)[:n])


def cut(endpointer: SileroEndpointer, pcm: bytes) -> list[Utterance]:
    found = [endpointer.feed(pcm[at : at + FRAME_BYTES]) for at in range(0, len(pcm), FRAME_BYTES)]
    return [one for one in (*found, endpointer.flush()) if one is not None]


def checked(room: Samples, person: Samples) -> SileroEndpointer:
    """After a sound check: the room, and the person in the fourth second."""
    sound = room[: 12 * RATE_HZ].copy()
    sound[3 * RATE_HZ :][: len(person)] += person
    return cut_of.checked(to_s16(sound))


def counted(found: list[Utterance], first_ms: float, at: list[tuple[float, float]]) -> tuple[int, int]:
    """Sentences that were cut out, and that were lost."""
    own = lost = 0
    for start_ms, end_ms in at:
        over = [u for u in found if u.start_ms - first_ms < end_ms - 100 and u.end_ms - first_ms > start_ms + 100]
        lost += not over
        own += (
            len(over) == 1
            and start_ms - 900 < over[0].start_ms - first_ms < start_ms + 150
            and end_ms - 500 < over[0].end_ms - first_ms < end_ms + 700
        )
    return own, lost


def in_room(room: Samples, level: dict[str, Samples], gain: float) -> tuple[bytes, list[tuple[float, float]]]:
    """The twelve sentences in the room, and where each is (ms)."""
    sound, at = room[12 * RATE_HZ : (12 + 2 + _EVERY_S * len(SENTENCES)) * RATE_HZ].copy(), []
    for i, text in enumerate(SENTENCES):
        start = (2 + _EVERY_S * i) * RATE_HZ
        sound[start : start + len(level[text])] += level[text] * gain
        at.append((start / 16, (start + len(level[text])) / 16))
    return to_s16(sound), at


def main() -> int:
    dice = np.random.default_rng(4)
    voices = [FormantVoice(name) for name in VOICES]
    said = [np.asarray(voice.speak(text)) for voice, text in zip(voices, RADIO, strict=True)]
    both = said + [np.asarray(voices[i - 2].speak(text)) for i, text in enumerate(RADIO)]
    mechanic = make_mechanic()
    level = {text: np.asarray(mechanic.speak(text)) for text in (CHECK, *SENTENCES)}
    level = {text: one * (LEVEL / speech_level(one)) for text, one in level.items()}
    n = 90 * RATE_HZ
    rooms = {"radio": radio(n, said, dice), "babble": babble(both, n, dice), "pink noise": pink(n, dice)}
    print("room, dB below | floor | without: cut, lost, softer cut, lost, room alone | with: the same")
    for name, noise in rooms.items():
        for snr_db in SNRS_DB:
            room = noise * (LEVEL * 10 ** (-snr_db / 20))
            sounds = [in_room(room, level, gain) for gain in (1.0, 0.5)]
            alone = to_s16(room[-_ALONE_S * RATE_HZ :])
            row, floor = [], ""
            for has_floor in (False, True):
                endpointer = checked(room, level[CHECK])
                floor_db = endpointer.floor_db
                cuts = []
                for pcm, at in sounds:
                    if not has_floor:
                        endpointer.forget_floor()
                    first_ms = endpointer._at * WINDOW_MS
                    own, lost = counted(cut(endpointer, pcm), first_ms, at)
                    cuts.append(f"{own:2d}, {lost:2d}")
                talk_s = sum(one.speech_s for one in cut(endpointer, alone))
                row.append(f"{', '.join(cuts)}, {talk_s:4.1f} s of {_ALONE_S}")
                floor = f"{floor_db:.0f} dB" if floor_db is not None else "none"
            print(f"{name:10} {snr_db:3d} | {floor:7} | {row[0]} | {row[1]}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
