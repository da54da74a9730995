"""A recording given to `hear`: one answer for a sentence, a refusal before any ear is asked for what is longer.

The ears are fakes that count; the endpointer is the real one on a detector that takes any sound for speech."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from live_fakes import PlainListener, ScriptedEars, energy_endpointer, tone_pcm

from bench_voice import cli
from bench_voice.audio import endpointer as endpointing
from bench_voice.audio.wav import write_wav
from bench_voice.commands import listening
from bench_voice.core.intents import Expected, Kind
from bench_voice.errors import SoundFileError
from bench_voice.session import whole
from bench_voice.testing import reading, small_sheet, step
from bench_voice.words.phrases import load_language

SHEET = small_sheet(step("measure", readings=["wear"]), step("end", gate=True), readings=[reading("wear", low="2.0")])
EXPECTED = Expected.at(SHEET, SHEET.steps[0])


class Sound:
    """A source of speech (seconds above 0) and silence (below); counts the frames that were taken of it."""

    def __init__(self, *parts_s: float) -> None:
        self.parts_s, self.taken, self.is_closed = parts_s, 0, False

    def frames(self) -> Iterator[bytes]:
        loud = tone_pcm(0.02)
        for part_s in self.parts_s:
            for _ in range(round(abs(part_s) / 0.02)):
                self.taken += 1
                yield loud if part_s > 0 else bytes(640)

    def close(self) -> None:
        self.is_closed = True


def hear(source: Sound, words: str = "next") -> tuple[ScriptedEars, Kind]:
    ears = ScriptedEars([words])
    listener = PlainListener(ears, load_language("en"))
    _, intent = whole.hear_whole(source, energy_endpointer(), listener, EXPECTED, "talk.wav")
    return ears, intent.kind


@pytest.mark.parametrize(
    "parts_s",
    [(-1, 2, -1), (-1, 2, -1.5, 2, -1), (-1, 18, -1), (18,), (-60, 1, -60), (-1, 4, -5, 4, -5, 4, -5)],
)
def test_up_to_twenty_seconds_of_speech_are_one_answer(parts_s: tuple[float, ...]) -> None:
    ears, kind = hear(Sound(*parts_s))
    assert kind is Kind.NEXT
    (given,) = ears.heard
    assert given.speech_s == pytest.approx(sum(part for part in parts_s if part > 0), abs=0.2)


@pytest.mark.parametrize("parts_s", [(-1, 22, -1), (22,), (-1, 9, -3, 9, -3, 9, -1), tuple([2, -2] * 240)])
def test_longer_speech_is_refused_before_an_ear_is_asked(parts_s: tuple[float, ...]) -> None:
    source, ears = Sound(*parts_s), ScriptedEars([])
    with pytest.raises(SoundFileError, match="more than 20 s of speech") as raised:
        whole.hear_whole(source, energy_endpointer(), PlainListener(ears, load_language("en")), EXPECTED, "talk.wav")
    assert str(raised.value).startswith("talk.wav: ")
    assert "--listen" in raised.value.mend
    assert raised.value.slug == "sound-long"
    assert not ears.heard
    assert source.taken * 0.02 < 45, "the rest of sixteen minutes is not even read"


def test_a_recording_of_hours_of_silence_is_refused_after_ten_minutes_of_it() -> None:
    source = Sound(-7200)
    with pytest.raises(SoundFileError, match="longer than 10 minutes"):
        hear(source)
    assert source.taken * 0.02 == pytest.approx(600, abs=1)
    assert hear(Sound(-300, 1, -298))[1] is Kind.NEXT


def test_no_speech_is_nothing_heard() -> None:
    ears, kind = hear(Sound(-5))
    assert kind is Kind.UNKNOWN
    assert not ears.heard


@pytest.fixture
def no_engines(monkeypatch: pytest.MonkeyPatch) -> ScriptedEars:
    """`hear` as it is wired, with fake ears and a detector that takes any sound for speech."""
    ears = ScriptedEars(["next"] * 9)
    monkeypatch.setattr(listening, "make_listener", lambda *args, **more: PlainListener(ears, load_language("en")))
    monkeypatch.setattr(endpointing, "SileroEndpointer", energy_endpointer)
    return ears


def test_the_command_says_so_and_ends_with_the_code_of_recordings(
    no_engines: ScriptedEars, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "talk.wav"
    write_wav(path, (tone_pcm(3.0) + bytes(64_000)) * 12)
    assert cli.main(["hear", str(path), "--json"]) == 4
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.startswith(f"{path}: This recording holds more than 20 s of speech")
    assert shown.err.rstrip().endswith("[sound-long]")
    assert len(shown.err.splitlines()) == 1
    assert not no_engines.heard


def test_a_long_line_of_a_list_is_reported_and_the_rest_go_on(
    no_engines: ScriptedEars, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_wav(tmp_path / "long.wav", (tone_pcm(3.0) + bytes(64_000)) * 12)
    write_wav(tmp_path / "short.wav", bytes(16_000) + tone_pcm(1.0) + bytes(32_000))
    lines = [{"id": 1, "wav": "short.wav"}, {"id": 2, "wav": "long.wav"}, {"id": 3, "wav": "short.wav"}]
    (tmp_path / "list.jsonl").write_text("\n".join(map(json.dumps, lines)), "utf-8")
    assert cli.main(["hear", "--list", str(tmp_path / "list.jsonl"), "--json"]) == 0
    first, second, third = map(json.loads, capsys.readouterr().out.splitlines())
    assert [first["id"], second["id"], third["id"]] == [1, 2, 3]
    assert first["accepted"]
    assert third["accepted"]
    assert set(second) == {"id", "error"}
    assert "[sound-long]" in second["error"]
    assert len(no_engines.heard) == 2


@pytest.mark.parametrize("name", ["a\0b", "\ud800.wav", "x" * 300, "none.wav", "", 5])
def test_a_name_that_no_file_has_costs_only_its_line(
    name: object, no_engines: ScriptedEars, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_wav(tmp_path / "short.wav", bytes(16_000) + tone_pcm(1.0) + bytes(32_000))
    lines = [{"id": 1, "wav": "short.wav"}, {"id": 2, "wav": name}, {"id": 3, "wav": "short.wav"}]
    (tmp_path / "list.jsonl").write_text("\n".join(map(json.dumps, lines)), "utf-8")
    assert cli.main(["hear", "--list", str(tmp_path / "list.jsonl")]) == 0
    out, err = capsys.readouterr()
    first, bad, third = map(json.loads, out.splitlines())
    assert (first["accepted"], third["accepted"], err) == (True, True, "")
    assert (set(bad), bad["id"]) == ({"id", "error"}, 2)
    assert re.search(r"\[(list-line|sound-missing|sound-unreadable)\]$", bad["error"])
