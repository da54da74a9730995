""" "How long will it last?" and "what will it be at ...?": whole typed sessions one after the other, their journals the
machine's history."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice import cli
from bench_voice.core.flat import flat_of
from bench_voice.core.history import Series
from bench_voice.core.intents import Expected, Kind
from bench_voice.hearing.agree import Act, agree
from bench_voice.ports import Heard
from bench_voice.records.logbook import rows
from bench_voice.records.render import render
from bench_voice.sheets.load import load_sheet

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


def test_what_it_will_be_at_an_hour(shop: Shop) -> None:
    """The same stone: 38.0 at 400 h, 0.5 mm in 100 h, so 37.0 at 600 h; 20.0, its limit, at 4000 h."""
    for hours, stone in ((100, "39.5"), (200, "39.0"), (300, "38.5")):
        shop.measured(hours, stone)
    now = (400, "38.0 millimetres")
    said = shop.asked(*now, "what will the stone be at six hundred hours")
    assert "Stone: Thirty seven point zero millimetres expected at six hundred hours." in said
    assert "From: least squares." in said
    assert "Check against the machine's manual." in said
    for other in (
        "what will it be at 600 hours",
        "what will stone be at 600 hours",
        "what will the stone measure at 600 hours",
    ):
        assert shop.asked(*now, other).split("bench: ")[1:] == said.split("bench: ")[1:], other
    assert "the limit is reached before that, at four thousand hours" in shop.asked(
        *now, "what will it be at 5000 hours"
    )
    assert "newest reading was at four hundred hours already" in shop.asked(*now, "what will it be at 300 hours")
    assert "kilometres" in shop.asked(*now, "what will it be at 600 kilometres"), "another kind of unit is asked about"
    journal = max(shop.journals.glob("*.jsonl"), key=lambda path: path.stat().st_mtime_ns)
    assert [one["value"] for one in json.loads(render(journal, "json"))["readings"]] == ["400", "38.0"]


def test_what_it_will_be_without_a_history(shop: Shop) -> None:
    assert "No earlier readings to go by: stone." in shop.asked(100, "what will the stone be at 600 hours")


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


@pytest.mark.parametrize("first", ["", "stone two hundred hours"])
def test_two_free_ears_ask_it_whatever_the_grammar_heard(first: str, tmp_path: Path) -> None:
    """The first ear has no grammar for it, as for "how long will the stone last"; the free ears need none."""
    (tmp_path / "mill.yaml").write_text(SHEET, "utf-8")
    sheet = load_sheet(tmp_path / "mill.yaml")
    pairs = ((Decimal(100), Decimal("39.5")), (Decimal(200), Decimal("39.0")), (Decimal(300), Decimal("38.5")))
    series = Series("stone", 0, "hours", "h", pairs, low=Decimal("20.0"))
    expected = replace(Expected.at(sheet, sheet.steps[1]), wear=(series,))
    words = "what will the stone be at six hundred hours"
    evidence = {"speech_s": 2.5, "words": float(len(first.split()))}
    heard = (
        Heard("pocketsphinx", first, evidence=evidence),
        *(Heard(ear, "", 0.0, evidence={"speech_s": 2.5}, free_words=words) for ear in ("whisper", "whisper-tiny")),
    )
    decision = agree(expected, heard)
    assert decision.kind is Act.RECORD
    assert decision.intent is not None
    assert (decision.intent.kind, flat_of(decision.intent).name) == (Kind.QUERY, "stone")
    assert "Thirty seven point zero millimetres expected at six hundred hours" in flat_of(decision.intent).detail
