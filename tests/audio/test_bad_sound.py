"""Sound as it should not be, through the real endpointer and all ears: nothing wrong is recorded, nothing hangs.

The words are said by a synthetic voice; each case says what was done to them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest

from bench_voice.audio.ears import Ears
from bench_voice.audio.endpointer import SileroEndpointer
from bench_voice.audio.factory import make_ears
from bench_voice.audio.resample import FRAME_BYTES, Samples, from_s16, resample, to_s16
from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Expected, Intent, Kind
from bench_voice.core.sheet import Hold, JobSheet, Limit, ReadingSpec, Step
from bench_voice.ports import RATE_HZ, Utterance
from bench_voice.session.listen import Listener
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language

LANGUAGE = load_language("en")
STEPS = (
    Step("measure", "Measure the lining.", readings=("lining",)),
    Step("block", "Block the wheels.", hold=Hold("blocked", "confirm both wheels are blocked")),
)
SHEET = JobSheet(
    "s", "S", "1", "farm trailer", "one", STEPS, readings={"lining": ReadingSpec("lining", "lining", Limit("mm"))}
)
MEASURE, BLOCK = (Expected.at(SHEET, step) for step in STEPS)
WORDS = "lining four point six millimetres"
TALK = "they told me on the phone that it would take four or five days and that the price is two hundred and six"


@pytest.fixture(scope="module")
def listener() -> Iterator[Listener]:
    ears = Ears(make_ears(["pocketsphinx", "whisper", "whisper-tiny", "moonshine"], LANGUAGE))
    ears.wait_ready()
    made = Listener(ears, LANGUAGE)
    yield made
    made.close()


def utterances(pcm: bytes) -> list[Utterance]:
    endpointer = SileroEndpointer()
    found = [endpointer.feed(pcm[at : at + FRAME_BYTES]) for at in range(0, len(pcm), FRAME_BYTES)]
    return [one for one in (*found, endpointer.flush()) if one is not None]


def meanings(listener: Listener, pcm: bytes, expected: Expected) -> list[Intent | None]:
    return [listener.meaning(listener.hear(one, expected), expected) for one in utterances(pcm)]


def clipped(x: Samples) -> Samples:
    return np.clip(x * 12, -1, 1).astype(np.float32)


def offset(x: Samples) -> Samples:
    return np.clip(x + 0.3, -1, 1).astype(np.float32)


def telephone(x: Samples) -> Samples:
    return resample(resample(x, RATE_HZ, 8000), 8000, RATE_HZ)


def quiet(x: Samples) -> Samples:
    return (x * 0.01).astype(np.float32)


def whispered(x: Samples) -> Samples:
    """Its loudness over noise: no voice in it, as in a whisper."""
    smooth = np.convolve(np.abs(x), np.ones(160) / 160, mode="same")
    return (np.random.default_rng(5).standard_normal(len(x)) * smooth).astype(np.float32)


@pytest.mark.parametrize("made", [clipped, offset, telephone, quiet, whispered])
def test_damaged_sound_records_what_was_said_or_asks(
    listener: Listener, say: Callable[[str], Utterance], made: Callable[[Samples], Samples]
) -> None:
    sound = np.concatenate([from_s16(say(WORDS).pcm), np.zeros(RATE_HZ, np.float32)])
    truth = understand(WORDS, MEASURE, LANGUAGE)
    for intent in meanings(listener, to_s16(made(sound)), MEASURE):
        if intent is not None and intent.kind not in (Kind.UNKNOWN, Kind.AMBIGUOUS):
            assert (intent.kind, flat_of(intent).name, flat_of(intent).value) == (
                truth.kind,
                flat_of(truth).name,
                flat_of(truth).value,
            )


@pytest.mark.parametrize("expected", [MEASURE, BLOCK], ids=["reading", "hold"])
def test_a_minute_of_talk_without_a_pause_is_cut_and_changes_nothing(
    listener: Listener, say: Callable[[str], Utterance], expected: Expected
) -> None:
    speech = from_s16(say(TALK).pcm)
    loud = np.flatnonzero(np.abs(speech) > 0.02)
    speech = speech[loud[0] : loud[-1]]
    minute = np.resize(speech, 60 * RATE_HZ)
    found = utterances(to_s16(np.concatenate([minute, np.zeros(RATE_HZ, np.float32)])))
    assert len(found) >= 4  # none longer than the longest that is taken
    assert max(len(one.pcm) for one in found) <= 2 * RATE_HZ * 16
    assert sum(len(one.pcm) for one in found) >= 2 * RATE_HZ * 58  # nothing is lost between two
    for one in found[:2]:
        intent = listener.meaning(listener.hear(one, expected), expected)
        assert intent is None or intent.kind in (Kind.UNKNOWN, Kind.AMBIGUOUS)


def test_silence_and_emptiness_are_nothing(listener: Listener) -> None:
    assert utterances(bytes(2 * RATE_HZ * 5)) == []
    assert utterances(b"") == []
    constant = to_s16(np.full(RATE_HZ * 3, 0.4, np.float32))
    assert utterances(constant) == []
    for pcm in (b"", bytes(2 * RATE_HZ)):
        heard = listener.hear(Utterance(pcm, 0, len(pcm) // 32), BLOCK)
        intent = listener.meaning(heard, BLOCK)
        assert intent is None or intent.kind is Kind.UNKNOWN
