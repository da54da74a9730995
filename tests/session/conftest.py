"""Makes the helpers of this folder importable (pytest runs with --import-mode=importlib)."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from typed_work import Bench


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Bench:
    """Typed sessions in one folder of journals."""
    return Bench(tmp_path, monkeypatch, capsys)
