"""The sound check against generated sound of known level. Source of the reference levels: the definition of dB over
root mean square (a sine of full scale stands at -3.01 dB, 20 log10 of the root of a half)."""

from __future__ import annotations

import numpy as np
import pytest
from live_fakes import SileroEndpointer

from bench_voice.session.soundcheck import (
    OVER_FLOOR_DB,
    SILENT_DB,
    Advice,
    CheckStep,
    Levels,
    SoundCheck,
    advice,
    clipped_share,
    level_db,
    room_level,
    speech_level,
)


def pcm(samples: np.ndarray) -> bytes:
    return bytes(np.clip(np.round(samples * 32767), -32768, 32767).astype("<i2").tobytes())


def sine(level: float, seconds: float = 1.0) -> np.ndarray:
    return level * np.sin(2 * np.pi * 250 * np.arange(int(16_000 * seconds)) / 16_000)


def noise(db: float, seconds: float = 2.0, seed: int = 0) -> np.ndarray:
    """White noise whose root mean square is `db` below full scale."""
    return np.random.default_rng(seed).standard_normal(int(16_000 * seconds)) * 10 ** (db / 20)


def frames(samples: np.ndarray) -> list[bytes]:
    data = pcm(samples)
    return [data[at : at + 640] for at in range(0, len(data) - 639, 640)]


def test_levels_of_known_sounds() -> None:
    assert level_db(pcm(sine(1.0))) == pytest.approx(-3.01, abs=0.01)
    assert level_db(pcm(sine(0.1))) == pytest.approx(-23.01, abs=0.01)
    assert level_db(bytes(640)) == SILENT_DB
    assert level_db(b"") == SILENT_DB
    for db in (-60.0, -40.0, -20.0):
        assert room_level(frames(noise(db))) == pytest.approx(db, abs=0.5)


def test_a_knock_does_not_raise_the_room() -> None:
    room = noise(-60.0)
    room[8000:8800] = 0.9
    assert room_level(frames(room)) == pytest.approx(-60.0, abs=0.5)


def test_speech_is_measured_without_its_pauses_and_the_room() -> None:
    spoken = np.concatenate([sine(0.1, 0.4), np.zeros(8000), sine(0.1, 0.4)])
    assert speech_level(pcm(spoken), SILENT_DB) == pytest.approx(-23.0, abs=0.3)
    both = spoken + noise(-26.0, 1.3)[: len(spoken)]
    assert speech_level(pcm(both), -26.0) == pytest.approx(-23.0, abs=1.5)


def test_clipping_counts_runs_at_full_scale_only() -> None:
    assert clipped_share(pcm(sine(0.99))) == 0.0
    over = np.clip(sine(2.0), -1, 1)
    assert clipped_share(pcm(over)) == pytest.approx(2 / 3, abs=0.02)  # |sin| over a half: two thirds of the time


def test_a_telephones_band_is_told() -> None:
    assert advice(Levels(-60, -25, 0.0, -50.0)) == (Advice.FAIR, Advice.CUT_OFF)
    assert advice(Levels(-60, -25, 0.0, -30.0)) == (Advice.GOOD,)


@pytest.mark.parametrize(
    ("room_db", "speech_db", "clipped", "said"),
    [
        (-60, -25, 0.0, (Advice.GOOD,)),
        (-45, -24, 0.0, (Advice.GOOD,)),
        (-35, -20, 0.0, (Advice.FAIR, Advice.NOISE)),  # a loud room: turn it off
        (-30, -22, 0.0, (Advice.BAD, Advice.NOISE)),
        (-55, -40, 0.0, (Advice.FAIR, Advice.NEARER)),  # a quiet room, somebody far away
        (-50, -42, 0.0, (Advice.BAD, Advice.NEARER)),
        (-70, -45, 0.0, (Advice.FAIR, Advice.NEARER)),  # far above the room, but weak
        (-60, -8, 0.05, (Advice.FAIR, Advice.CLIPPED)),
        (-60, None, 0.0, (Advice.NOTHING, Advice.NEARER)),
        (-30, None, 0.0, (Advice.NOTHING, Advice.NOISE)),
        (SILENT_DB, None, 0.0, (Advice.SILENT,)),
    ],
)
def test_advice_says_how_well_and_what_to_change(
    room_db: float, speech_db: float | None, clipped: float, said: tuple[Advice, ...]
) -> None:
    assert advice(Levels(room_db, speech_db, clipped)) == said


@pytest.mark.parametrize(
    ("room_db", "level", "said"),
    [(-60, 0.2, Advice.GOOD), (-32, 0.2, Advice.FAIR), (-24, 0.2, Advice.BAD), (-60, 0.004, Advice.BAD)],
)
def test_a_whole_check_on_generated_sound(room_db: float, level: float, said: Advice) -> None:
    hiss = noise(20 * np.log10(level) - 3, 0.1)
    speech = [np.zeros(32_000), np.zeros(8000), sine(level, 0.7), hiss, sine(level, 0.7), np.zeros(16_000)]
    sound = np.concatenate(speech)
    sound = sound + noise(room_db, len(sound) / 16_000)
    threshold = 10 ** (room_db / 20) * 1.3
    check = SoundCheck(SileroEndpointer(lambda window: float(np.sqrt(np.mean(window**2)) > threshold)))
    steps = [step for frame in frames(sound) if (step := check.feed(frame)) is not None]
    assert steps == [CheckStep.SPEAK, CheckStep.DONE]
    assert check.levels.room_db == pytest.approx(room_db, abs=0.6)
    assert check.levels.speech_db == pytest.approx(20 * np.log10(level) - 3.01, abs=1.5)
    assert advice(check.levels)[0] is said


def checked_in_talk(*parts: np.ndarray, talks_at: float = 0.0) -> tuple[SoundCheck, SileroEndpointer]:
    """A check on these sounds, with a detector that takes anything over `talks_at` (root mean square) for speech."""
    endpointer = SileroEndpointer(lambda window: float(np.sqrt(np.mean(window**2)) > talks_at))
    check = SoundCheck(endpointer)
    for frame in frames(np.concatenate(parts)):
        check.feed(frame)
    assert check.step is CheckStep.DONE
    return check, endpointer


def test_in_a_room_that_talks_the_floor_is_the_endpointers_from_then_on() -> None:
    """Radio at -45 dB all the time, the person 22 dB over it. The detector takes both for speech."""
    check, endpointer = checked_in_talk(noise(-45, 4), noise(-23, 1.5), noise(-45, 6))
    assert check.floor_db == endpointer.floor_db == pytest.approx(-45, abs=1)
    assert check.levels.speech_db == pytest.approx(-23, abs=1), "of the person, not of the radio before"
    assert advice(check.levels)[0] is Advice.GOOD
    found = [endpointer.feed(frame) for frame in frames(np.concatenate([noise(-45, 8), noise(-25, 1), noise(-45, 3)]))]
    (utterance,) = [one for one in found if one is not None]
    assert utterance.speech_s == pytest.approx(1.0, abs=0.5)


@pytest.mark.parametrize(
    ("room", "person_db", "why"),
    [
        (noise(-45, 4), -45 + OVER_FLOOR_DB - 1, "3 dB over the room: who speaks softly must not be lost"),
        (np.concatenate([noise(-25, 2.2), noise(-60, 1.8)]), -25, "the person talked through the quiet seconds"),
        (noise(-45, 4), None, "nobody was heard over it"),
    ],
)
def test_without_a_person_well_over_it_the_detector_alone_decides(
    room: np.ndarray, person_db: float | None, why: str
) -> None:
    person = noise(person_db, 1.5) if person_db is not None else noise(-45, 1.5)
    check, endpointer = checked_in_talk(room, person, noise(-45, 6), talks_at=0.002)
    assert check.floor_db is None, why
    assert endpointer.floor_db is None, why


def test_a_room_that_is_only_noisy_has_no_floor() -> None:
    check, endpointer = checked_in_talk(noise(-45, 4), noise(-25, 1.5), noise(-45, 6), talks_at=0.02)
    assert check.levels.room_db == pytest.approx(-45, abs=1)
    assert check.floor_db is None
    assert endpointer.floor_db is None


def test_a_knock_or_a_word_in_the_quiet_seconds_makes_no_room_that_talks() -> None:
    quiet = np.concatenate([noise(-60, 1), noise(-25, 0.3), noise(-60, 2)])
    check, _ = checked_in_talk(quiet, noise(-25, 1.5), noise(-60, 3), talks_at=0.02)
    assert check.floor_db is None


def test_a_new_check_begins_without_the_old_floor() -> None:
    _, endpointer = checked_in_talk(noise(-45, 4), noise(-25, 1.5), noise(-45, 6))
    assert endpointer.floor_db is not None
    SoundCheck(endpointer)
    assert endpointer.floor_db is None
