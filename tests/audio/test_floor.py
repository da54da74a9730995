"""Speech in a room that talks: cut by the room's level where the person stands well over it, by the detector elsewhere.

First with a detector that takes every sound for speech, the worst a room can do; then the real one on synthetic talk.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench_voice.audio.edges import own_words, padded
from bench_voice.audio.endpointer import WINDOW_MS, SileroEndpointer
from bench_voice.audio.resample import FRAME_BYTES, Samples, from_s16, resample, to_s16
from bench_voice.audio.voice_pyttsx3 import Pyttsx3Voice
from bench_voice.ports import RATE_HZ, Utterance
from bench_voice.session.soundcheck import LOUD_SHARE, TALKING_S, CheckStep, SoundCheck, room_level

ROOM_DB, FLOOR_DB = -43.0, -40.0


def noise(db: float, seconds: float) -> Samples:
    dice = np.random.default_rng(int(-db * 100 + seconds * 7))
    return (dice.standard_normal(round(seconds * RATE_HZ)) * 10 ** (db / 20)).astype(np.float32)


def cut(endpointer: SileroEndpointer, *parts: Samples) -> list[Utterance]:
    pcm = to_s16(np.concatenate(parts))
    found = [endpointer.feed(pcm[at : at + FRAME_BYTES]) for at in range(0, len(pcm), FRAME_BYTES)]
    return [one for one in (*found, endpointer.flush()) if one is not None]


def in_talk() -> SileroEndpointer:
    """Everything is speech to its detector; the room is known."""
    made = SileroEndpointer(lambda window: 1.0)
    made.set_floor(FLOOR_DB, ROOM_DB)
    return made


def test_talk_at_the_level_of_the_room_is_nobody() -> None:
    assert cut(in_talk(), noise(ROOM_DB, 20)) == []
    assert len(cut(SileroEndpointer(lambda window: 1.0), noise(ROOM_DB, 20))) == 2, "without a floor it never ends"


@pytest.mark.parametrize("over_db", [3, 6, 10, 20])
def test_what_stands_over_the_floor_is_one_utterance_with_nothing_missing(over_db: float) -> None:
    """3 dB over the floor of a steady room is enough for the endpointer; what the sound check asks for is below."""
    said = noise(FLOOR_DB + over_db, 2.0)
    (heard,) = cut(in_talk(), noise(ROOM_DB, 4), said, noise(ROOM_DB, 4))
    assert 4000 - 600 <= heard.start_ms <= 4000, "more pre-roll than usual: the level rises later than the detector"
    assert 6000 - WINDOW_MS <= heard.end_ms <= 6000 + 500
    assert to_s16(said)[: FRAME_BYTES * 50] in heard.pcm


def test_talk_before_and_behind_the_words_is_left_out_and_nothing_of_them() -> None:
    said = noise(FLOOR_DB + 15, 1.0)
    (heard,) = cut(in_talk(), noise(ROOM_DB, 4), said, noise(ROOM_DB, 4))
    assert 4000 - 300 <= heard.start_ms <= 4000
    assert len(heard.pcm) / 32 <= 300 + 1000 + 400
    assert heard.speech_s == pytest.approx(1.0, abs=0.2)
    assert to_s16(said) in heard.pcm


def test_who_speaks_more_softly_than_at_the_sound_check_loses_nothing() -> None:
    """2 dB over the room's loud moments, its last word below them: all of it is as near as the loudest."""
    first, last = noise(FLOOR_DB + 2, 1.0), noise(FLOOR_DB - 2, 0.4)
    (heard,) = cut(in_talk(), noise(ROOM_DB, 4), first, last, noise(ROOM_DB, 4))
    assert to_s16(np.concatenate([first, last])) in heard.pcm


def test_without_a_sound_check_only_long_talk_far_below_is_left_out() -> None:
    hears_all = SileroEndpointer(lambda window: float(np.any(window)))
    said = noise(-20, 1.0)
    (heard,) = cut(hears_all, noise(-42, 3), said, noise(-42, 0.55))
    assert 3000 - 300 <= heard.start_ms <= 3000
    assert to_s16(said) in heard.pcm
    word = noise(-38, 0.4)  # a last word, 18 dB down: shorter than talk
    (heard,) = cut(hears_all, np.zeros(RATE_HZ, np.float32), said, word, np.zeros(RATE_HZ, np.float32))
    assert to_s16(np.concatenate([said, word])) in heard.pcm


def test_without_a_sound_check_talk_far_below_ends_the_sentence_in_time() -> None:
    hears_all = SileroEndpointer(lambda window: float(np.any(window)))
    sound = to_s16(np.concatenate([noise(-42, 3), noise(-20, 1.0), noise(-42, 3)]))
    frames = range(0, len(sound), FRAME_BYTES)
    at, heard = next((at, u) for at in frames if (u := hears_all.feed(sound[at : at + FRAME_BYTES])) is not None)
    assert 4640 <= at / 32 <= 4640 + 150
    assert heard.end_ms == pytest.approx(4000, abs=100)


@given(st.lists(st.floats(0, 1), max_size=80), st.one_of(st.none(), st.floats(-96, 0)))
def test_whatever_the_levels_the_loudest_is_the_persons(powers: list[float], floor_db: float | None) -> None:
    first, after = own_words(powers, floor_db)
    begin, end = padded(first, after, len(powers))
    assert 0 <= begin <= first <= after <= end <= len(powers)
    if powers:
        ends = [powers[0]] * 2, [powers[-1]] * 2
        around = [*ends[0], *powers, *ends[1]]
        over_syllable = [sum(around[at : at + 5]) for at in range(len(powers))]
        assert begin <= over_syllable.index(max(over_syllable)) < end


def test_soft_sounds_inside_a_word_and_at_its_end_are_the_persons() -> None:
    loud, soft = noise(-30, 0.15), noise(ROOM_DB, 0.15)
    said = [part for _ in range(8) for part in (loud, soft)]
    (heard,) = cut(in_talk(), noise(ROOM_DB, 2), *said, noise(ROOM_DB, 3))
    assert heard.speech_s >= 2.3, "not one of the soft sounds is taken for a pause"
    assert heard.end_ms >= 2000 + 8 * 300


def test_a_room_that_became_quieter_is_no_longer_held_down() -> None:
    """The radio is off and the voice comes down: ten seconds later what was below the floor is heard."""
    endpointer = SileroEndpointer(lambda window: float(np.sqrt(np.mean(window**2)) > 10 ** (-58 / 20)))
    endpointer.set_floor(FLOOR_DB, ROOM_DB)
    assert cut(endpointer, noise(-65, 4), noise(-46, 1.5), noise(-65, 4)) == []
    assert endpointer.floor_db == FLOOR_DB
    (heard,) = cut(endpointer, noise(-65, 3), noise(-46, 1.5), noise(-65, 2))
    assert heard.speech_s == pytest.approx(1.5, abs=0.1)
    assert endpointer.floor_db is None


def test_the_silence_while_the_assistant_speaks_is_no_quieter_room() -> None:
    endpointer = in_talk()
    assert cut(endpointer, noise(ROOM_DB, 6), np.zeros(60 * RATE_HZ, np.float32), noise(ROOM_DB, 6)) == []
    assert endpointer.floor_db == FLOOR_DB


def test_forgotten_it_is_as_it_was() -> None:
    endpointer, plain = in_talk(), SileroEndpointer(lambda window: 1.0)
    endpointer.forget_floor()
    assert cut(endpointer, noise(-50, 3)) == cut(plain, noise(-50, 3))


# -- the real detector

TALK = (
    "the roads in the north are clear and the weather stays dry until thursday",
    "nobody expected the price to fall so far in a single week",
    "after the break we talk about gardens and what to plant in them",
)


@pytest.fixture(scope="module")
def babble(voice: Pyttsx3Voice) -> Callable[[float, float], Samples]:
    """Three at once, of other pitches, at a level for so many seconds."""
    n = 30 * RATE_HZ
    sound = np.zeros(n, np.float32)
    for i, text in enumerate(TALK):
        one = resample(from_s16(voice.speak(text)), round(RATE_HZ * (0.9 + 0.1 * i)))
        sound += np.roll(np.tile(one, n // len(one) + 1)[:n], i * 7000)
    sound /= np.sqrt(np.mean(sound**2))
    return lambda db, seconds: (sound[: round(seconds * RATE_HZ)] * 10 ** (db / 20)).astype(np.float32)


def spoken(voice: Pyttsx3Voice, words: str, db: float) -> Samples:
    """The words with their loud parts at that level."""
    speech = from_s16(voice.speak(words))
    loud = speech[np.abs(speech) > 0.05 * np.max(np.abs(speech))]
    return (speech * (10 ** (db / 20) / np.sqrt(np.mean(loud**2)))).astype(np.float32)


def after_check(room: Samples, person: Samples) -> tuple[SileroEndpointer, SoundCheck]:
    sound = room.copy()
    sound[3 * RATE_HZ :][: len(person)] += person
    endpointer = SileroEndpointer()
    check, pcm = SoundCheck(endpointer), to_s16(sound)
    steps = (check.feed(pcm[at : at + FRAME_BYTES]) for at in range(0, len(pcm), FRAME_BYTES))
    assert CheckStep.DONE in steps
    return endpointer, check


def test_a_sentence_is_cut_out_of_babble_far_below_it(
    voice: Pyttsx3Voice, babble: Callable[[float, float], Samples]
) -> None:
    room = babble(-45, 15)
    endpointer, check = after_check(room, spoken(voice, "one two three four five", -23))
    assert check.floor_db is not None
    assert check.floor_db == pytest.approx(-42, abs=3)
    said = spoken(voice, "confirm both wheels are blocked", -23)
    sound = babble(-45, 12)
    sound[4 * RATE_HZ :][: len(said)] += said
    unchecked = cut(SileroEndpointer(), sound)
    assert sum(one.speech_s for one in unchecked) > 5, "the detector takes the babble for speech"
    (own,) = [one for one in unchecked if one.start_ms < 4150 and one.end_ms > 4150]
    assert own.start_ms >= 3400, "what was said before is left out by its level, without a sound check as well"
    assert own.end_ms == pytest.approx(4000 + len(said) / 16, abs=600)
    at_ms = endpointer._at * WINDOW_MS
    (heard,) = cut(endpointer, sound)
    assert 3400 <= heard.start_ms - at_ms <= 4150
    assert heard.end_ms - at_ms == pytest.approx(4000 + len(said) / 16, abs=600)


def test_somebody_three_decibels_over_the_babble_is_left_to_the_detector(
    voice: Pyttsx3Voice, babble: Callable[[float, float], Samples]
) -> None:
    """Too near to tell from the room by level: nothing is held down, it hears what it heard before."""
    room = babble(-30, 15)
    assert sum(one.speech_s for one in cut(SileroEndpointer(), room[: 2 * RATE_HZ])) >= TALKING_S, "the room talks"
    floor_db = room_level([to_s16(room[at : at + 320]) for at in range(0, 2 * RATE_HZ, 320)], LOUD_SHARE)
    endpointer, check = after_check(room, spoken(voice, "one two three four five", floor_db + 3))
    assert check.floor_db is None
    assert endpointer.floor_db is None
    assert sum(one.speech_s for one in cut(endpointer, room)) > 10
