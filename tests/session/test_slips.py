"""Slips that must cost nothing: a sheet that is edited in mid job and has faults now, a question without a sheet, a
recording that is far too long."""

from __future__ import annotations

import io
import json
import wave
from pathlib import Path

import pytest

from bench_voice import cli
from bench_voice.commands.work import _ids_in
from bench_voice.rehearsal.prompts import prompts
from bench_voice.rehearsal.take import LONGEST_TAKE_S, FromFolder
from bench_voice.sheets.load import load_sheet
from bench_voice.sheets.pages import start_sheet_text
from bench_voice.words.phrases import load_language


def work(sheet: Path, *more: str, typed: str, monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    return cli.main(["work", str(sheet), "--typed", "--mute", "--journal", str(sheet.parent / "journals"), *more])


@pytest.mark.parametrize("slip", ["\tx: [\n", "\nsteps: []\n", "\nnonsense: 1\n"])
def test_an_edited_sheet_with_new_faults_stops_no_session(
    slip: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "job.yaml"
    sheet.write_text(start_sheet_text(), "utf-8")
    assert work(sheet, typed="note, first\n", monkeypatch=monkeypatch) == 10
    sheet.write_text(start_sheet_text() + slip, "utf-8")
    assert work(sheet, typed="note, second\n", monkeypatch=monkeypatch) == 10
    said = capsys.readouterr()
    assert "[sheet-changed]" in said.err
    assert "[sheet-" in said.err.replace("[sheet-changed]", "")
    assert "Back again" in said.out
    (journal,) = (tmp_path / "journals").glob("*.jsonl")
    assert {"first", "second"} <= set(" ".join(journal.read_text("utf-8").split('"')).split())
    # A new session needs a sheet without faults, and so does the first one.
    assert work(sheet, "--new", typed="", monkeypatch=monkeypatch) == 3
    journal.unlink()
    assert work(sheet, typed="", monkeypatch=monkeypatch) == 3


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ("sheet: a-b\nmachine:\n  name: X\n  id: one two  # plate\n", ("a-b", "one two")),
        ("sheet: 'a'\nmachine: {name: X, id: \"p 1\"}\n", ("a", "p 1")),
        ("sheet: a\nmachine:\n\n  # which\n  id: p\n", ("a", "p")),
        ("sheet: a\n", None),
        ("machine: {id: p}\n", None),
        ("", None),
    ],
)
def test_which_session_a_broken_text_is_of(text: str, ids: tuple[str, str] | None) -> None:
    assert _ids_in(text) == ids


@pytest.mark.parametrize(
    "words", ["next", "go back", "say again", "where are we", "what is left", "affirm", "carry on"]
)
def test_without_a_sheet_there_is_no_step(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["understand", words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["said"] == "No job sheet is named here, so there is no step."


def test_a_recording_that_is_far_too_long_is_not_copied(tmp_path: Path) -> None:
    with wave.open(str(tmp_path / "1.wav"), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        file.writeframes(bytes(2 * 16000 * (round(LONGEST_TAKE_S) + 1)))
    sheet = tmp_path / "job.yaml"
    sheet.write_text(start_sheet_text(), "utf-8")
    loaded = load_sheet(sheet)
    told: list[str] = []
    takes = FromFolder(tmp_path, told.append)
    prompt = next(one for one in prompts(loaded, load_language("en")).prompts if one.number == 1)
    assert takes.take(prompt, 1) is None
    assert told
    assert "[sound-long]" in told[0]
