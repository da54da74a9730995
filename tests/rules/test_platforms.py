"""What one of Linux, macOS and Windows lacks is never needed at the start.

The modules and names are taken away, and the whole package is imported and works typed. That is all that is known of
macOS and Windows: on those systems themselves nothing was tried."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SHEET = ROOT / "demo" / "trailer-hub-brake.yaml"

# Modules by system: the Python library reference, "Availability" of each.
ABSENT = (
    "fcntl",
    "termios",
    "tty",
    "pty",
    "pwd",
    "grp",
    "resource",
    "syslog",
    "readline",
    "msvcrt",
    "winreg",
    "winsound",
)
# (module, name): the same; None of them is there on Windows, some aren't on macOS.
NAMES = (
    *(
        ("signal", name)
        for name in ("pthread_sigmask", "SIGPIPE", "SIGALRM", "SIGHUP", "SIGUSR1", "SIGUSR2", "alarm", "setitimer")
    ),
    *(("os", name) for name in ("memfd_create", "getloadavg", "sysconf", "sched_getaffinity", "statvfs")),
    *(("os", name) for name in ("fork", "mkfifo", "O_NOCTTY", "O_NONBLOCK", "O_NOFOLLOW", "O_CLOEXEC", "O_DIRECTORY")),
)
WITHOUT = f"""
import importlib, os, pkgutil, runpy, signal, subprocess, sys
for name in {ABSENT!r}:
    sys.modules[name] = None
for module, name in {NAMES!r}:
    if hasattr(sys.modules[module], name):
        delattr(sys.modules[module], name)
"""
ALL = """
import bench_voice
found = [one.name for one in pkgutil.walk_packages(bench_voice.__path__, "bench_voice.")]
assert len(found) > 100, found
for name in found:
    importlib.import_module(name)
print(len(found))
"""
COMMAND = """
sys.argv[:1] = ["bench-voice"]
runpy.run_module("bench_voice.cli", run_name="__main__")
"""


def run(code: str, *arguments: str, typed: str = "") -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", WITHOUT + code, *arguments]
    return subprocess.run(
        command, cwd=ROOT, env=environment, input=typed, capture_output=True, text=True, timeout=120, check=False
    )


def test_every_module_is_imported() -> None:
    done = run(ALL)
    assert done.returncode == 0, done.stderr


def test_a_typed_session_and_what_is_made_of_it(tmp_path: Path) -> None:
    typed = "confirm both wheels are blocked\naffirm\nnext\nwhere are we\n"
    done = run(COMMAND, "work", str(SHEET), "--typed", "--mute", "--journal", str(tmp_path), typed=typed)
    assert done.returncode == 10, done.stderr
    assert "Traceback" not in done.stderr
    (journal,) = tmp_path.glob("*.jsonl")
    assert "HoldConfirmed" in journal.read_text("utf-8")
    for arguments in (
        ("verify", str(journal)),
        ("record", str(journal)),
        ("check", str(SHEET)),
        ("understand", "next"),
    ):
        again = run(COMMAND, *arguments)
        assert again.returncode == 0, again.stderr


def test_the_taking_away_takes_away() -> None:
    """So that the tests above can fail."""
    assert "fcntl" in run("import fcntl").stderr
    assert "memfd_create" in run("os.memfd_create").stderr
