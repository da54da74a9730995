"""The assistant's own voice comes back into the microphone, through the real detector and the real ears. Half an hour
of it at each level is measured by tests/bench/own_voice.py; a live echo on a virtual card is part of tests/live."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "bench"))

from own_voice import SHEET, every_phrase, fed_back

from bench_voice.sheets.load import load_sheet

# What would do harm if it were taken: hold phrases, what passes them, what moves on.
HARMFUL = ("confirm", "affirm", "next")


@pytest.mark.parametrize("echo_db", [-20.0, 0.0])
def test_nothing_it_says_is_taken_for_the_person(echo_db: float) -> None:
    said = [text for text in every_phrase(load_sheet(SHEET)) if any(word in text.lower() for word in HARMFUL)]
    assert len(said) > 20
    count, heard, taken = fed_back(echo_db, 2.0, iter(said))
    assert count > 5
    assert (heard, taken) == (0, [])
