"""What the phone networks are taught with: nothing that the report part is measured on."""

from __future__ import annotations

import random

import pytest

from bench_voice.audio.phone_net import LABEL_OF
from bench_voice.phonetics import dictionary
from tests.corpus import clips, texts, voices
from tests.phones import sayings

REPORT = voices.VOICES["report"]


def test_no_voice_of_the_report_part_says_them() -> None:
    dice = random.Random(1)
    drawn = {sayings.draw_voice(dice) for _ in range(2000)}
    assert len({(voice.engine, voice.voice) for voice in drawn}) == 8
    for voice in drawn:
        for other in REPORT:
            is_same = (voice.engine, voice.voice) == (other.engine, other.voice)
            # The one neural voice is in all parts; another pitch is another throat.
            assert not is_same or abs(voice.pitch - other.pitch) > 0.03, (voice, other)


def test_no_part_of_theirs_is_the_report() -> None:
    assert set(sayings.PARTS) == {"develop", "calibrate"}
    takes = {take for part in sayings.PARTS for take in clips.TAKES[part]}
    assert takes.isdisjoint(clips.TAKES["report"])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_numbers_are_numbers(seed: int) -> None:
    dice = random.Random(seed)
    known = {*texts.LANGUAGE.number_words, "and", "minus"}
    for _ in range(200):
        number = sayings.draw_number(dice)
        assert set(number.split()) <= known, number
        phones = sayings.phones_of(number)
        assert phones
        assert set(phones) <= set(LABEL_OF)


def test_words_are_said_as_the_dictionary_has_them() -> None:
    assert sayings.phones_of("Four, point six.") == (
        *dictionary()["four"][0], *dictionary()["point"][0], *dictionary()["six"][0],
    )  # fmt: skip
    assert sayings.phones_of("millimetre") == ("M", "IH", "L", "AH", "M", "IY", "T", "ER")
    assert sayings.phones_of("nought") == dictionary()["naught"][0]
    assert sayings.phones_of("four qqxz") is None
