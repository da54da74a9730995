"""The watch over the system's default devices, on a stand-in for `pactl` that says what the real one says."""

from __future__ import annotations

import os
import queue
import stat
from pathlib import Path

import pytest

from bench_voice.audio.defaults import DefaultWatch

# The lines of `pactl subscribe` (PulseAudio 16.1): "Event 'change' on server #4294967295".
PACTL = """#!/bin/sh
case $1 in
get-default-source) cat {folder}/source ;;
get-default-sink) echo out ;;
subscribe) cat {folder}/events ;;
esac
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    program = tmp_path / "pactl"
    program.write_text(PACTL.format(folder=tmp_path))
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    os.mkfifo(tmp_path / "events")
    (tmp_path / "source").write_text("built-in\n")
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    return tmp_path


def test_another_default_is_told_and_other_events_are_not(folder: Path) -> None:
    told: queue.SimpleQueue[str] = queue.SimpleQueue()
    watch = DefaultWatch(lambda: told.put((folder / "source").read_text().strip()))
    with (folder / "events").open("w", buffering=1) as events:  # opens when the watch has asked and subscribed
        events.write("Event 'new' on sink-input #7\n")
        events.write("Event 'change' on server #4294967295\n")  # the same devices as before
        (folder / "source").write_text("headset\n")
        events.write("Event 'change' on server #4294967295\n")
        assert told.get(timeout=10) == "headset"
    assert told.empty()
    watch.close()


def test_without_the_program_nothing_is_watched(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    watch = DefaultWatch(lambda: pytest.fail("nothing has changed"))
    watch.close()
