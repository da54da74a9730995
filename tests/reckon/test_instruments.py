"""The person's own instruments in a session: their doubt in the verdicts, an overdue one said, kept in the journal."""

from __future__ import annotations

import io
import json
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice import cli
from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.state import State
from bench_voice.core.verdict import Verdict
from bench_voice.errors import UsageError
from bench_voice.reckon import instruments
from bench_voice.records.earlier import instruments_taken
from bench_voice.records.render import render
from bench_voice.sheets.load import load_text
from bench_voice.testing import Bench

TEXT = """
sheet: hoist
title: Hoist brake
version: "1"
language: en
machine: {name: shop hoist, id: hoist-1}
source: Invented for this test.
note: All figures are invented.
instruments:
  calliper: {name: callipers, uncertainty: 0.01}
  wrench: {name: torque wrench, uncertainty: 0.5}
  gauge: {name: dial gauge, uncertainty: 0.005}
limits:
  lining: {at least: 2.00, unit: mm, source: invented}
  bolt: {between: [20, 28], unit: N*m, source: invented}
readings:
  lining: {limit: lining, instrument: calliper, plausible: [0, 20]}
  bolt: {limit: bolt, instrument: wrench, plausible: [5, 80]}
  run-out: {limit: {at most: 0.30, unit: mm, source: invented}, instrument: gauge, plausible: [0, 3]}
steps:
  - id: measure
    say: Measure the lining.
    readings: [lining]
  - id: tighten
    say: Tighten the bolt and read the wrench.
    readings: [bolt]
  - id: turn
    say: Turn the drum and read the gauge.
    readings: [run-out]
  - id: end
    say: Lower the hook and try the brake once.
    final gate: yes
"""
SHEET = load_text(TEXT, "hoist.yaml")
OWN = """
[calliper]
measures = "length"
uncertainty = "0.05 mm"

[torque_wrench]
measures = "torque"
uncertainty = "4 %"
calibration_due = 2027-03-31
"""


def taken(text: str = OWN, today: date = date(2026, 11, 25)) -> ev.InstrumentsTaken:
    return instruments.for_sheet(instruments.parse(text), SHEET, today)


def test_names_are_found_however_they_are_written() -> None:
    found = taken()
    assert [(use.reading, use.instrument) for use in found.uses] == [("lining", "calliper"), ("bolt", "torque_wrench")]
    assert found.missing == ("dial gauge",)
    assert found.overdue == ()


@pytest.mark.parametrize(
    ("value", "with_sheet", "with_own"),
    # The guard band is U (ISO 14253-1): 0.01 of the sheet's callipers, 0.05 of the person's own.
    [("two point zero six", "Good", "Good"), ("two point zero three", "Good", "Borderline"),
     ("one point nine seven", "Out of limits", "Borderline"),
     ("one point nine four", "Out of limits", "Out of limits")],
)  # fmt: skip
def test_the_own_doubt_counts(value: str, with_sheet: str, with_own: str) -> None:
    for known, wanted in (((), with_sheet), ((taken(),), with_own)):
        said = " ".join(Bench(SHEET, known=known).type(f"lining {value}"))
        assert f". {wanted}" in said, said


def test_percent_of_the_reading() -> None:
    """4 % of 20.8 N·m is 0.83: 0.8 from the limit of 20 lies within it, 0.9 at 20.9 (0.84) does not."""
    for words, wanted in (("twenty point eight", "Borderline"), ("twenty point nine", "Good")):
        bench = Bench(SHEET, known=(taken(),))
        bench.type("lining five")
        bench.type("next")
        assert wanted in " ".join(bench.type(words)), words


def test_overdue_and_missing_are_said_at_the_start_and_the_larger_doubt_counts() -> None:
    text = OWN.replace("0.05 mm", "0.002 mm").replace('"0.002 mm"', '"0.002 mm"\ncalibration_due = 2026-11-01')
    found = taken(text)
    assert found.overdue == (ev.Overdue("callipers", 24),)
    assert found.uses[0].absolute == Decimal("0.01"), "no longer assured: the sheet's figure is larger"
    said = Bench(SHEET, known=(found,)).said
    assert said[2] == "The calibration of the callipers is overdue, days: twenty four. I take the larger doubt."
    assert said[3].startswith("The dial gauge is not among your instruments.")
    assert taken(text, date(2026, 11, 1)).overdue == (), "the day itself still holds"


def test_a_replay_judges_as_the_session_did() -> None:
    """The file is not looked at again: what it said stands in the journal."""
    bench = Bench(SHEET, known=(taken(),))
    bench.type("lining two point zero three")
    state = State(SHEET)
    for at_ms, event in bench.journal.lines:
        state = apply(state, event, at_ms)
    assert state.verdict_at("measure", "lining").verdict is Verdict.BORDERLINE
    bench.restart()
    assert bench.state.failed() == ("lining",)


def test_an_instrument_of_another_kind_is_not_the_one() -> None:
    assert "callipers" in taken(OWN.replace('"length"', '"mass"').replace("0.05 mm", "0.05 g")).missing


def test_the_file(tmp_path: Path) -> None:
    path = tmp_path / "instruments.toml"
    assert instruments_taken(SHEET, path, 0) is None, "no file, nothing said"
    path.write_text(OWN, "utf-8")
    found = instruments_taken(SHEET, path, 1_795_600_000_000)
    assert found is not None
    assert len(found.uses) == 2
    path.write_text('[calliper]\nmeasures = "length"\nuncertainty = "fine"\n', "utf-8")
    with pytest.raises(UsageError, match=r"calliper.*uncertainty.*instruments"):
        instruments_taken(SHEET, path, 0)
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(UsageError, match="cannot be read"):
        instruments_taken(SHEET, path, 0)


def test_a_session_of_the_program_takes_the_file_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Overdue is said at the start; the file changes; the session that goes on and its record judge as before."""
    monkeypatch.setattr("platformdirs.user_config_dir", lambda name: str(tmp_path))
    sheet, own, journals = tmp_path / "hoist.yaml", tmp_path / instruments.FILE_NAME, tmp_path / "journals"
    sheet.write_text(TEXT, "utf-8")
    own.write_text(OWN.replace("2027-03-31", "2020-01-31"), "utf-8")

    def session(*lines: str) -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
        cli.main(["work", str(sheet), "--typed", "--mute", "--journal", str(journals)])
        return capsys.readouterr().out

    out = session("lining two point zero three millimetres")
    assert "The calibration of the torque wrench is overdue" in out
    assert "Borderline" in out
    own.write_text('[callipers]\nmeasures = "length"\nuncertainty = "0.001 mm"\n', "utf-8")
    assert "from the limit of at least two point zero zero millimetres. Measure again" in session("next")
    (journal,) = journals.glob("*.jsonl")
    body = json.loads(render(journal, "json"))
    assert [row["verdict"] for row in body["readings"]] == ["borderline"]
    (taken_then,) = body["instruments"]
    assert taken_then["uses"][0]["uncertainty"] == "0.05"
    assert "calibration overdue by" in render(journal, "html")
