"""table.txt, row by row: text -> its one meaning. Read by hand; every family names its source."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from bench_voice.core.intents import Kind
from bench_voice.speech.understand import understand
from tests.speech.bench import PLACES, at, canonical

TABLE = Path(__file__).with_name("table.txt")


def rows() -> Iterator[tuple[int, str, str, str, str]]:
    """Line, family, step, heard, meaning."""
    family = place = ""
    for line, text in enumerate(TABLE.read_text(encoding="utf-8").splitlines(), 1):
        if text.startswith("## "):
            family, place, source = (part.strip() for part in text[3:].split("|"))
            assert source, f"line {line}: no source"
        elif text.strip() and not text.startswith("# "):
            heard, arrow, meaning = text.rpartition("=>")
            assert arrow, f"line {line}: no arrow"
            assert meaning.strip(), f"line {line}: no meaning"
            yield line, family, place, heard.strip(), meaning.strip()


ROWS = list(rows())


@pytest.mark.parametrize("family", dict.fromkeys(row[1] for row in ROWS))
def test_family(family: str) -> None:
    wrong = []
    for line, of, place, heard, meaning in ROWS:
        if of == family and (got := canonical(understand(heard, at(place)))) != meaning:
            wrong.append(f"line {line}, {place}: {heard!r} is {got!r}, wanted {meaning!r}")
    assert not wrong, "\n".join(wrong)


def test_the_table_is_as_large_as_promised() -> None:
    """At least 600 rows, at least 200 of them not accepted; no row twice."""
    keys = [(row[2], row[3]) for row in ROWS]
    assert len(set(keys)) >= 600
    assert len({key for key, row in zip(keys, ROWS, strict=True) if row[4] == "-" or row[4].startswith("ask ")}) >= 200
    assert {row[2] for row in ROWS} == set(PLACES)


def test_no_wrong_reading_and_no_false_confirmation() -> None:
    """Said apart from the exact meaning: the two kinds of harm, counted."""
    false_confirmations, wrong_readings = [], []
    for _, _, place, heard, meaning in ROWS:
        intent = understand(heard, at(place))
        if intent.kind is Kind.CONFIRM and not meaning.startswith("confirm "):
            false_confirmations.append(heard)
        if intent.kind in (Kind.READING, Kind.CORRECTION) and canonical(intent) != meaning:
            wrong_readings.append(heard)
    assert (false_confirmations, wrong_readings) == ([], [])
