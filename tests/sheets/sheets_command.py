"""`bench-voice check` as a process."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def check(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "bench_voice.cli", "check", *arguments]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, cwd=ROOT)
