"""Stages of tightening in the record: each that was left with "next", with what the sheet wanted."""

from __future__ import annotations

import json
import re
from pathlib import Path

from bench_voice.core.state import State
from bench_voice.records.render import render
from bench_voice.session import journal as jn
from bench_voice.session.owner import Owner
from bench_voice.sheets.load import load_text
from bench_voice.speech.understand import understand
from bench_voice.testing import FakeClock
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

SHEET = """\
sheet: cap
title: Cap of the pump
version: 1
machine: {name: Make-believe pump, id: pump one}
source: Invented.
torques:
  cap: {stages: [10, 20, {turn: 90}], unit: N*m, condition: dry, thread: M eight, order: [1, 3, 2]}
steps:
  - id: cap
    say: Screw the cap on.
    torque: cap
  - id: end
    say: Put the tools away.
    final gate: yes
"""


def journal(folder: Path, *words: str) -> Path:
    sheet, clock, language = load_text(SHEET, "cap.yaml"), FakeClock(), load_language("en")
    writer = jn.JournalWriter.create(folder, "cap", SHEET, sheet)
    owner = Owner(State(sheet), writer, Speaker(language), clock, lambda said: None)
    owner.begin()
    for one in words:
        clock.pass_(60)
        owner.take(understand(one, owner.state.expected(), language))
    writer.close()
    return next(folder.glob("*.jsonl"))


def test_each_stage_that_was_left_is_there(tmp_path: Path) -> None:
    path = journal(tmp_path, "next", "next", "next", "next")
    rows = json.loads(render(path, "json"))["tightened"]
    assert [(r["stage"], r["stages"], r["target"], r["turn"], r["unit"]) for r in rows] == [
        (1, 3, "10", None, "N*m"),
        (2, 3, "20", None, "N*m"),
        (3, 3, None, "90", "deg"),
    ]
    assert {(r["torque"], r["condition"], r["thread"], tuple(r["order"])) for r in rows} == {
        ("cap", "dry", "M eight", ("1", "3", "2"))
    }
    html = render(path, "html")
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", html)
    at = cells.index("2 of 3")
    assert cells[at : at + 4] == ["2 of 3", "20 N·m", "M eight, dry", "1, 3, 2"]
    assert cells[cells.index("3 of 3") + 1] == "a further 90°"


def test_a_stage_that_was_not_left_is_not(tmp_path: Path) -> None:
    path = journal(tmp_path, "next")
    assert [row["stage"] for row in json.loads(render(path, "json"))["tightened"]] == [1]
