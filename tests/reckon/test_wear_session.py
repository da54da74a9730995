""" "How long will it last?": whole typed sessions one after the other, their journals the machine's history."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from bench_voice import cli
from bench_voice.records.logbook import rows
from bench_voice.records.render import render

SHEET = """
sheet: mill
title: Mill check
version: "1"
language: en
machine: {name: grain mill, id: mill-1}
source: Invented for this test.
note: All figures are invented.
limits:
  stone: {at least: 20.0, unit: mm, source: invented}
readings:
  hours: {limit: {unit: h}, marking: yes}
  stone: {limit: stone, plausible: [0, 90]}
steps:
  - id: meter
    say: Read the hour meter.
    readings: [hours]
  - id: measure
    say: Measure the stone.
    readings: [stone]
  - id: end
    say: Close the lid and let the mill run for a minute.
    final gate: yes
"""


class Shop:
    """`session(lines)` is one run of `bench-voice work --typed`; returns what it said."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.sheet, self.journals = folder / "mill.yaml", folder / "journals"
        self.sheet.write_text(SHEET, "utf-8")
        monkeypatch.setenv("XDG_CONFIG_HOME", str(folder / "config"))
        self._monkeypatch, self._capsys = monkeypatch, capsys

    def session(self, *lines: str) -> str:
        self._monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
        cli.main(["work", str(self.sheet), "--typed", "--mute", "--new", "--journal", str(self.journals)])
        return self._capsys.readouterr().out

    def measured(self, hours: int, stone: str) -> None:
        out = self.session(f"{hours} hours", "next", f"{stone} millimetres", "next", "next")
        assert "Signed off" in out, out

    def asked(self, hours: int, *lines: str) -> str:
        """The answer to the last line."""
        return self.session(f"{hours} hours", "next", *lines).rsplit("you: ", 1)[1]


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    return Shop(tmp_path, monkeypatch, capsys)


def test_a_straight_line(shop: Shop) -> None:
    """0.5 mm in 100 h, exactly: from 38.0 at 400 h to 20.0 another 3600 h, at 4000 h."""
    for hours, stone in ((100, "39.5"), (200, "39.0"), (300, "38.5")):
        shop.measured(hours, stone)
    said = shop.asked(400, "38.0 millimetres", "how long will it last")
    assert "Stone: Zero point five millimetres for each hundred hours." in said
    assert "The limit in about three thousand six hundred hours, at four thousand hours" in said
    assert "farther ahead than the readings reach back" in said
    assert "From: least squares." in said
    assert "Check against the machine's manual." in said
    assert said == shop.asked(400, "38.0 millimetres", "how long will the stone last").replace("the stone", "it")
    journal = max(shop.journals.glob("*.jsonl"), key=lambda path: path.stat().st_mtime_ns)
    page = render(journal, "html")
    assert "Wear, by the earlier sessions of this machine" in page
    assert "0.5 mm for each hundred hours" in page
    (wear,) = json.loads(render(journal, "json"))["wear"]
    assert (wear["reading"], wear["sessions"], wear["values"]["rate"]) == ("stone", 5, "0.5")
    assert rows(shop.journals, "mill-1")[-1]["wear"] == [wear]


def test_first_time_and_one_reading(shop: Shop) -> None:
    assert "No earlier readings to go by: stone." in shop.asked(100, "how long will it last")
    shop.measured(100, "39.5")
    assert "One reading has no trend" in shop.asked(200, "how long will it last")


def test_two_readings_are_a_rough_rate(shop: Shop) -> None:
    shop.measured(100, "30.0")
    said = shop.asked(200, "25.0 millimetres", "how long will it last")
    assert "Two readings only: a rough rate without an interval." in said
    assert "between" not in said


def test_the_newest_went_up(shop: Shop) -> None:
    for hours, stone in ((100, "39.5"), (200, "39.0"), (300, "38.5")):
        shop.measured(hours, stone)
    said = shop.asked(400, "40.0 millimetres", "how long will it last")
    assert "The newest reading went up: was the part replaced, or misread?" in said
    assert "No forecast" in said


def test_a_renewed_part_begins_anew(shop: Shop) -> None:
    """Worn to 21, then a new stone of 40: its own line, 1 mm in 100 h, not one through both stones."""
    for hours, stone in ((100, "25.0"), (200, "23.0"), (300, "21.0"), (400, "40.0"), (500, "39.0")):
        shop.measured(hours, stone)
    said = shop.asked(600, "38.0 millimetres", "how long will it last")
    assert "Stone: One millimetre for each hundred hours." in said


def test_a_replay_answers_the_same_when_the_logbook_is_gone(shop: Shop) -> None:
    for hours, stone in ((100, "30.0"), (200, "28.0")):
        shop.measured(hours, stone)
    shop.session("300 hours", "next", "26.0 millimetres")
    first = max(shop.journals.glob("*.jsonl"), key=lambda path: path.stat().st_mtime_ns)
    before = json.loads(render(first, "json"))["wear"]
    for path in shop.journals.glob("*.jsonl"):
        if path != first:
            path.unlink()
    assert json.loads(render(first, "json"))["wear"] == before
    assert before[0]["values"]["rate"] == "2"


def test_a_damaged_journal_is_passed_over(shop: Shop) -> None:
    shop.measured(100, "30.0")
    (path,) = shop.journals.glob("*.jsonl")
    path.write_bytes(path.read_bytes().replace(b"30.0", b"31.0", 1))
    assert "No earlier readings" in shop.asked(200, "how long will it last")
