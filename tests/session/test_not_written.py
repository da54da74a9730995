"""The journal cannot be written in the middle of a session: it is said, nothing is taken, and the session is kept."""

from __future__ import annotations

import errno
import os
import shutil
import wave
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from typed_work import Bench

from bench_voice import cli
from bench_voice.commands import work
from bench_voice.core.intents import Command, Kind
from bench_voice.session import journal as jn
from bench_voice.session.mouth import Mouth

SENTENCE = "I cannot write the journal. The last was not taken. The session is kept."


def full_after(n_writes: int, patch: pytest.MonkeyPatch) -> None:
    """Only so many more writes of a journal find room."""
    real, left = os.fsync, [n_writes]

    def fsync(descriptor: int) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(descriptor)

    patch.setattr(os, "fsync", fsync)


def test_it_is_said_once_and_the_exit_code_stays(bench: Bench) -> None:
    bench.work("next")
    with pytest.MonkeyPatch.context() as patch:
        full_after(2, patch)  # the coming back, the reading
        done = bench.work("brake pad four", "note, the left one", "where are we")
    assert done.code == 5
    assert done.bench[-1] == SENTENCE
    assert done.bench.count(SENTENCE) == 1
    assert not any("Noted" in said for said in done.bench), "it spoke of what is not on disk"
    assert "[journal-unwritable]" in done.errors[-1]


def test_the_session_goes_on_in_the_same_folder(bench: Bench) -> None:
    bench.work("next")
    with pytest.MonkeyPatch.context() as patch:
        full_after(1, patch)
        assert bench.work("brake pad four").code == 5
    assert bench.work("brake pad four", "next", "took off red tag", "next").code == 0


def test_it_goes_on_in_a_copy_of_the_folder_and_not_in_an_empty_one(bench: Bench, tmp_path: Path) -> None:
    """As the message says."""
    bench.work("next")
    with pytest.MonkeyPatch.context() as patch:
        full_after(1, patch)
        done = bench.work("brake pad four")
    assert "copy this whole folder first" in done.errors[-1]
    original = bench.journals
    bench.journals = Path(shutil.copytree(original, tmp_path / "copy"))
    assert bench.work().bench[0].startswith("Back again: Small job.")
    bench.journals = tmp_path / "empty"
    assert "Step one." in bench.work().bench[0]


def test_at_the_first_words_too(bench: Bench) -> None:
    with pytest.MonkeyPatch.context() as patch:
        full_after(2, patch)  # the first decision with its header, the folder
        done = bench.work("next")
    assert done.code == 5
    assert done.bench[1:] == [SENTENCE]
    assert bench.work().bench[0].startswith("Back again: Small job.")


def test_where_nothing_can_be_begun_it_says_so_and_leaves_nothing(bench: Bench) -> None:
    with pytest.MonkeyPatch.context() as patch:
        full_after(0, patch)
        done = bench.work("next")
    assert done.code == 5
    assert done.bench == ["I cannot write the journal. No session was begun."]
    assert list(bench.journals.glob("*.jsonl")) == []
    assert bench.work().bench[0].startswith("Small job, Make-believe mower.")


def test_it_goes_into_the_spoken_side(bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spoken: list[str] = []

    def speak(text: str) -> bytes:
        spoken.append(text)
        return bytes(320)

    voice = SimpleNamespace(speak=speak, close=lambda: None)
    monkeypatch.setattr("bench_voice.audio.factory.make_voice", lambda speed: voice)
    bench.work("next")
    with pytest.MonkeyPatch.context() as patch:
        full_after(1, patch)
        done = bench.work("brake pad four", more=("--say-to", str(tmp_path / "said.wav")))
    assert done.code == 5
    assert spoken[-1] == SENTENCE
    with wave.open(str(tmp_path / "said.wav")) as file:
        assert file.getnframes() > 0


def test_a_voice_that_fails_as_well_hides_nothing(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def say(self: Mouth, sentences: tuple[str, ...]) -> None:
        if SENTENCE in sentences:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Mouth, "say", say)
    with pytest.MonkeyPatch.context() as patch:
        full_after(3, patch)
        done = bench.work("next", "brake pad four")
    assert done.code == 5
    assert "[journal-unwritable]" in done.errors[-1]


def test_live_it_is_said_to_its_end(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The mouth of a live session speaks in its own thread: the program waits for it before it ends."""
    turns: list[str] = []

    class Waited(Mouth):
        def wait_quiet(self, timeout_s: float) -> bool:
            turns.append("waited")
            return True

    class LiveParts:
        has_check = False

        def __init__(self) -> None:
            self.mouth = Waited(turns.append)

        def wire(self, owner: Any) -> Any:
            def run() -> bool:
                with pytest.MonkeyPatch.context() as patch:
                    full_after(0, patch)
                    owner.take(Command(Kind.NEXT, heard="next"))
                return True

            return SimpleNamespace(run=run)

        def close(self) -> None:
            turns.append("closed")

    monkeypatch.setattr(work, "start_live", lambda args, config, language: LiveParts())
    bench.work("next")  # writes the sheet, and a session to come back to
    assert cli.main(["work", str(bench.folder / "sheet.yaml"), "--journal", str(bench.journals)]) == 5
    assert turns[-3:] == [SENTENCE, "waited", "closed"]
    assert [type(line.event).__name__ for line in jn.read(bench.newest).lines][-1] == "SessionResumed"
