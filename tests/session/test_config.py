"""The settings: every absurd value is refused with what to write instead."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench_voice import config
from bench_voice.errors import UsageError


def write(folder: Path, text: str) -> Path:
    path = folder / "config.toml"
    path.write_text(text, "utf-8")
    return path


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("tail_ms = -5", "between 100 and 2000"),
        ("tail_ms = 100000", "between 100 and 2000"),
        ("tail_ms = 300.5", "whole milliseconds"),
        ("speed = 5000", "between 100 and 260"),
        ("speed = true", "between 100 and 260"),
        ("loudness = 90", "between -18 and 9"),
        ("loudness = nan", "between -18 and 9"),
        ('mode = "always"', "open, call-word, push-to-talk"),
        ('headset = "yes"', "true or false"),
        ("call_word = 5", "text in quotes"),
        ('call_word = " "', "text in quotes"),
        ('ears = "whisper"', "a list of names"),
        ("ears = []", "a list of names"),
        ("microphone = 3", "text in quotes"),
        ("microfone = 3", "is not a setting"),
        ("tail_ms = ", "cannot be read"),
    ],
)
def test_absurd_settings_are_refused(line: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=rf"{says}.*\[config\]$"):
        config.load(write(tmp_path, line))


def test_good_settings(tmp_path: Path) -> None:
    text = 'mode = "call-word"\ncall_word = "workshop"\nheadset = true\nloudness = -3\nspeed = 180\ntail_ms = 500\n'
    found = config.load(write(tmp_path, text + 'sound_check = false\ntones = false\njournal = "/somewhere"\n'))
    assert (found.mode, found.call_word, found.headset, found.loudness) == ("call-word", "workshop", True, -3)
    assert (found.speed, found.tail_ms, found.sound_check, found.tones) == (180, 500, False, False)
    assert found.journal == Path("/somewhere")
    assert config.load(tmp_path / "none.toml").mode == "open"


def test_what_is_changed_by_voice_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "sound.json"
    assert config.load_kept(path) == config.Kept()
    config.keep(path, loudness=3.0)
    config.keep(path, speed=180, floor_db=-51.5)
    assert config.load_kept(path) == config.Kept(3.0, 180, -51.5)
    path.write_text('{"loudness": 99, "speed": "fast", "floor_db": -51}')
    assert config.load_kept(path) == config.Kept(None, None, -51)
    path.write_text("[]")
    assert config.load_kept(path) == config.Kept()
    config.keep(tmp_path / "deep" / "sound.json" / "no", speed=180)  # cannot be written: the session goes on
