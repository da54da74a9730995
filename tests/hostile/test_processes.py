"""What only a process of its own shows: Ctrl-C while it loads, and a disk that is read only."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from starter import GOOD, HERE, ROOT

from bench_voice.interrupts import INTERRUPTED, held_back

CLI = [sys.executable, "-m", "bench_voice.cli"]


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
@pytest.mark.parametrize("module", ["argparse", "bench_voice.errors", "pydantic", "ruamel.yaml", "rapidfuzz"])
@pytest.mark.parametrize("command", ["check", "work"])
def test_ctrl_c_while_it_loads(command: str, module: str, tmp_path: Path) -> None:
    environment = os.environ | {"PYTHONPATH": str(HERE / "at"), "BENCH_VOICE_TEST_AT": module}
    more = ["--typed", "--mute", "--journal", str(tmp_path / "journals")] if command == "work" else []
    done = subprocess.run(
        [*CLI, command, str(GOOD), *more],
        env=environment,
        cwd=ROOT,
        input="",
        capture_output=True,
        text=True,
        check=False,
    )
    # As the README has it: 130, and 10 for `work`, which by then has a session to keep or none.
    assert done.returncode in ({INTERRUPTED, 10} if command == "work" else {INTERRUPTED}), done.stderr
    assert done.stderr in ("", "Ended; the session is kept.\n")


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="no masks of signals there")
def test_a_worker_never_gets_ctrl_c() -> None:
    code = "import signal; print(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, []))"
    with held_back():
        inside = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    outside = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert (inside.stdout, outside.stdout) == ("True\n", "False\n")


def may_mount() -> bool:
    unshare = shutil.which("unshare")
    if unshare is None:
        return False
    done = subprocess.run([unshare, "-m", "mount", "-t", "tmpfs", "-o", "ro", "tmpfs", "/mnt"], capture_output=True)
    return done.returncode == 0


@pytest.mark.skipif(not may_mount(), reason="only root may mount a disk that is read only")
@pytest.mark.parametrize(
    ("line", "code", "slug"),
    [
        (["work", GOOD, "--typed", "--mute", "--journal", "DISK/journals"], 5, "journal-"),
        (["work", GOOD, "--typed", "--say-to", "DISK/said.wav", "--journal", "OWN/j"], 4, "say-to-unwritable"),
        (["check", GOOD, "--page", "DISK/page.html"], 2, "check-page-unwritable"),
        (["rehearse", GOOD, "--from", "OWN", "--out", "DISK/takes"], 2, "rehearse-out"),
        (["understand", "next"], 0, ""),
        (["logbook"], 0, ""),
    ],
)
def test_a_disk_that_is_read_only(line: list[object], code: int, slug: str, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    arguments = [str(one).replace("DISK", str(disk)).replace("OWN", str(tmp_path)) for one in line]
    mount = 'mount -t tmpfs -o ro tmpfs "$0" && exec "$@"'
    done = subprocess.run(
        ["unshare", "-m", "sh", "-c", mount, disk, *CLI, *arguments],
        env=os.environ | {"HOME": str(disk / "home"), "PYTHONPATH": str(ROOT)},
        input="next\n", capture_output=True, text=True, cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.returncode == code, done.stderr
    assert slug in done.stderr
    assert "Traceback" not in done.stderr
    assert "[internal]" not in done.stderr
