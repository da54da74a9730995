"""Live tests need the virtual sound card; where it cannot be had they say what is missing. `tests/run` installs it, as
root on Debian."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from virtual_card import VirtualCard, missing


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    lacks = missing()
    for item in items:
        if lacks and Path(__file__).parent in item.path.parents and "card" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.skip(reason=lacks))


@pytest.fixture
def card() -> Iterator[VirtualCard]:
    """A card with both cables plugged in, and a person whose settings make it speak fast."""
    with VirtualCard() as made:
        folder = made.home / ".config" / "bench-voice"
        folder.mkdir(parents=True)
        (folder / "config.toml").write_text("speed = 240\n")
        yield made
