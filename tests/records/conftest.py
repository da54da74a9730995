"""A PostgreSQL server for the whole run, where one is installed."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "bench")]

from postgres import Server, binaries  # noqa: E402 (found by the line above)


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    if binaries() is None:
        pytest.skip("PostgreSQL is not installed: tests/run does it on Debian as root")
    found = Server()
    yield found
    found.stop()


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest) -> str | None:
    """Where the logbook is: every test that asks for it runs on both stores. None: beside the journals."""
    if request.param == "sqlite":
        return None
    server: Server = request.getfixturevalue("server")
    return server.new_database()


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody's own settings."""
    for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setitem(os.environ, name, str(tmp_path / "home"))
