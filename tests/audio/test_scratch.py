"""Nothing is left in the temporary folder, not by a process that is killed either."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from bench_voice.audio import scratch

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="folders have no locks there")


def test_what_a_killed_process_left_is_removed_and_a_living_one_keeps_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    code = "from bench_voice.audio import scratch\nwith scratch.folder() as made: print(made, flush=True); input()"
    environment = {**os.environ, "TMPDIR": str(tmp_path)}
    command = [sys.executable, "-c", code]
    with subprocess.Popen(command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout is not None
        held = Path(other.stdout.readline().strip())
        with scratch.folder() as mine:
            assert held.is_dir(), "a living process lost its folder"
            assert mine.is_dir()
        other.send_signal(signal.SIGKILL)
        other.wait()
    assert held.is_dir()
    with scratch.folder() as mine:
        assert list(tmp_path.iterdir()) == [mine]
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_written_and_read_by_its_name() -> None:
    with scratch.file(".wav") as path:
        path.write_bytes(b"sound")
        assert path.read_bytes() == b"sound"
