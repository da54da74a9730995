"""A rehearsal at the microphone of the virtual card: real frames, real voice detector, no recognisers."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from rig import Room, Workshop, make_mechanic
from virtual_card import VirtualCard

from bench_voice.config import Config
from bench_voice.rehearsal.live import open_live
from bench_voice.rehearsal.prompts import prompts
from bench_voice.rehearsal.take import Ended
from bench_voice.sheets.load import load_sheet
from bench_voice.words.phrases import load_language

SHEET = Path(__file__).resolve().parents[2] / "demo" / "trailer-hub-brake.yaml"


def test_phrases_are_taken_from_the_microphone_and_a_key_ends_it(
    card: VirtualCard, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, value in card.environment.items():
        monkeypatch.setenv(name, value)
    keys = tmp_path / "keys"
    os.mkfifo(keys)
    sheet = load_sheet(SHEET)
    asked = prompts(sheet, load_language("en")).prompts[:2]
    voice, workshop = make_mechanic("neural"), Workshop()
    clips = {prompt.words: voice.speak(f"{prompt.words.capitalize()}.") for prompt in asked}
    spoken = {words: workshop.around(clip) for words, clip in clips.items()}
    room = Room(card, workshop)
    try:

        def show(text: str) -> None:
            for words, pcm in spoken.items():
                if f'"{words}"' in text:
                    room.say(pcm)

        takes = open_live(Config(keys=str(keys)), sheet, show, is_mute=True)
        try:
            for prompt in asked:
                found = takes.take(prompt, 2)
                assert found is not None
                seconds, said = len(found) / 32_000, len(clips[prompt.words]) / 16_000
                assert said < seconds < said + 4.0, "the phrase, the room before it and the silence that ended it"
                loud = np.abs(np.frombuffer(found, "<i2").astype(np.int32)).max()
                assert loud > 3000
            spoken.clear()
            keys.write_text("q")
            with pytest.raises(Ended):
                takes.take(asked[0], 2)
        finally:
            takes.close()
    finally:
        room.close()
