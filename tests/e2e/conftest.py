"""Whole processes on real sound. The mechanic of the demo speaks here too."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SHEET = ROOT / "demo" / "trailer-hub-brake.yaml"
sys.path.insert(0, str(ROOT / "demo"))

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def sheet() -> Path:
    """The trailer's job sheet."""
    return SHEET


@pytest.fixture
def bench_voice(tmp_path: Path) -> Run:
    """Runs `bench-voice ARGUMENTS` as a user does; `typed`: lines on its standard input."""

    def run(*arguments: str | Path, typed: str = "") -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "bench_voice.cli", *map(str, arguments)]
        return subprocess.run(command, input=typed, capture_output=True, text=True, timeout=180, cwd=ROOT, check=False)

    return run


@pytest.fixture
def journals(tmp_path: Path) -> Path:
    """An empty folder for journals."""
    return tmp_path / "journals"
