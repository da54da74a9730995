"""Verdicts on several values together, the spread of points and left against right: what was said of them at the bench
is in every form of the record, and so is why something had to be decided on.
"""

from __future__ import annotations

import csv
import io
import json
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.core import events as ev
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.records.logbook import as_text, rows
from bench_voice.records.readings import Difference, differences
from bench_voice.records.render import render
from bench_voice.records.words import SIDES, difference_limit_words, difference_words
from bench_voice.session import journal as jn
from bench_voice.sheets import pages
from bench_voice.sheets.load import load_text
from bench_voice.testing import Bench, reading, small_sheet, step

TEXT = """\
sheet: round
title: Drums and tyres
version: 1
machine: {name: Make-believe cart, id: cart one}
source: Invented.
for each:
  side: [left, right]
limits:
  drum: {at most: 203.0, unit: mm, source: invented}
  tyre: {between: [2.8, 3.4], unit: bar, source: invented}
  count: {unit: count}
instruments:
  gauge: {name: drum gauge, uncertainty: 0.05}
readings:
  left-drum: {limit: drum, points: 2, instrument: gauge, spread: 0.3, plausible: [150, 260]}
  <side>-pressure: {limit: tyre, pair within: 0.2, plausible: [0, 8]}
  turns: {limit: count, points: 3, spread: 1}
looks:
  big-belt:
steps:
  - id: drums
    say: Measure the left drum.
    readings: [left-drum]
  - id: tyres
    say: Measure the tyres.
    readings: [left-pressure, right-pressure]
  - id: turns
    say: Count the turns.
    readings: [turns]
  - id: belt
    say: Look at the belt.
    looks: [big-belt]
  - id: end
    say: Put the tools away.
    final gate: yes
"""
SHEET = load_text(TEXT, "round.yaml")
DEMO = Path(__file__).resolve().parents[2] / "demo" / "trailer-hub-brake.yaml"
UNEVEN = ["left drum 200.1 mm", "left drum 200.9 mm"]
ROUND = ["left drum 200.1 mm", "left drum 200.2 mm"]
TO_TYRES = [*ROUND, "next"]
TO_TURNS = [*TO_TYRES, "left pressure 3.0 bar", "right pressure 3.1 bar", "next"]
TURNS = ["turns 2", "turns 2", "turns 4", "judged, nuts of two makes"]


class Records:
    """The record of a typed session, in every form."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.bench = Bench(SHEET)
        for one in words:
            self.bench.type(one)
        writer = jn.JournalWriter.create(folder, "round--cart-one--1", TEXT, SHEET)
        for at_ms, event in self.bench.journal.lines:
            writer.append((event,), at_ms)
        writer.close()
        self.path = writer.path
        self.body: dict[str, Any] = json.loads(render(self.path, "json"))
        self.csv = list(csv.DictReader(io.StringIO(render(self.path, "csv"))))
        self.tables = Tables(render(self.path, "html")).found
        self.logbook = as_text(rows(folder, None)).splitlines()

    def together(self, *names: str) -> list[tuple[Any, ...]]:
        return [tuple(row[name] for name in names) for row in self.body["differences"]]


class Tables(HTMLParser):
    """Rows of cells by the heading above them; `gone` rows begin with a "-"."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: dict[str, list[list[str]]] = {}
        self._tag = self._heading = ""
        self.feed(page)
        # When something was differs from one run's machine to the next.
        for name, lines in self.found.items():
            times = [at for at, head in enumerate(lines[0]) if head == "When"]
            for row in lines:
                shift = row[0] == "-"
                row[:] = [cell for at, cell in enumerate(row) if at - shift not in times]
            self.found[name] = lines
        self.found["Readings"] = next((v for k, v in self.found.items() if k.startswith("Every value")), [])

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._tag = tag
        if tag in ("h2", "summary"):
            self._heading = ""
        elif tag == "tr":
            gone = any(name == "class" and "gone" in (value or "").split() for name, value in attrs)
            self.found.setdefault(self._heading, []).append(["-"] if gone else [])
        elif tag in ("td", "th"):
            self.found[self._heading][-1].append("")

    def handle_endtag(self, tag: str) -> None:
        self._tag = ""

    def handle_data(self, data: str) -> None:
        if self._tag in ("h2", "summary"):
            self._heading += data
        elif self._tag in ("td", "th"):
            self.found[self._heading][-1][-1] += data


DRUM_LIMIT = "at most 203.0 mm; points differ by at most 0.3 mm"
SPREAD_ROW = ["left drum", "1 to 2", "differ by 0.8 mm", "points differ by at most 0.3 mm", "out", "as-found", ""]


# -- the spread of the points


def test_points_that_differ_too_much_and_the_decision_on_them_are_in_every_form(tmp_path: Path) -> None:
    made = Records(tmp_path, *UNEVEN, "next", "judged it is round enough", "next")
    refused = [event.why for event in made.bench.journal.events if isinstance(event, ev.NextRefused)]
    assert refused == ["failed"], "at the bench it held the step"
    assert made.bench.state.step.id == "tyres", "and the decision let it go on"

    readings = made.tables["Readings"][1:]
    assert [row[:5] for row in readings[:2]] == [
        ["left drum", "1", "200.1 mm", DRUM_LIMIT, "good"],
        ["left drum", "2", "200.9 mm", DRUM_LIMIT, "good"],
    ]
    assert readings[2:] == [[*SPREAD_ROW, "stands"]]
    assert made.tables["Decided on"][1:] == [
        ["left drum", "out: points differ by 0.8 mm, at most 0.3 mm", "it is round enough", "stands"]
    ]

    (row,) = made.body["differences"]
    numbers = [one["seq"] for one in made.body["readings"]]
    assert row == {
        "seq": numbers[1], "step": "drums", "reading": "left-drum", "name": "left drum", "stage": "as-found",
        "side": "spread", "differ_by": "0.8", "at_most": "0.3", "unit": "mm", "margin": "-0.5", "verdict": "out",
        "points": numbers, "other": None, "other_points": [], "state": "stands",
    }  # fmt: skip
    (decision,) = made.body["decisions"]
    assert (decision["what"], decision["name"], decision["reason"]) == ("left-drum", "left drum", "it is round enough")
    assert (decision["verdict"], decision["side"]) == ("out", "spread")

    for found in (made.body["readings"], made.csv):
        assert [(r["spread_at_most"], r["spread_differ_by"], r["spread_verdict"]) for r in found] == [
            ("0.3", "0.8", "out")
        ] * 2
        assert [r["verdict"] for r in found] == ["good"] * 2, "each by itself, as before"
        assert not any(r["pair_at_most"] or r["pair_differ_by"] or r["pair_verdict"] for r in found)
    assert made.logbook[1:] == [
        "    left-drum 1: 200.1 mm, good",
        "    left-drum 2: 200.9 mm, good",
        "    left-drum, points differ by 0.8 mm, at most 0.3 mm: out",
        "    decision: left drum: it is round enough",
    ]


def test_points_that_are_near_enough_or_doubtful_are_told_too(tmp_path: Path) -> None:
    (tmp_path / "good").mkdir()
    (tmp_path / "near").mkdir()
    good = Records(tmp_path / "good", *ROUND)
    assert good.together("differ_by", "margin", "verdict", "state") == [("0.1", "0.2", "good", "stands")]
    assert good.tables["Readings"][3][2:5] == ["differ by 0.1 mm", "points differ by at most 0.3 mm", "good"]
    # The gauge's 0.05 is 0.07 of a difference: 0.26 is too near to 0.3 to be called good.
    near = Records(tmp_path / "near", "left drum 200.10 mm", "left drum 200.36 mm", "judged, it will do")
    assert near.together("differ_by", "verdict") == [("0.26", "borderline")]
    assert near.body["decisions"][0]["verdict"] == "borderline"
    assert near.body["decisions"][0]["why"] == "borderline: points differ by 0.26 mm, at most 0.3 mm"


def test_one_point_alone_has_no_spread_but_its_limit_is_told(tmp_path: Path) -> None:
    made = Records(tmp_path, UNEVEN[0])
    assert made.body["differences"] == []
    assert made.tables["Readings"][1][3] == DRUM_LIMIT
    assert (made.csv[0]["spread_at_most"], made.csv[0]["spread_differ_by"]) == ("0.3", "")


def test_a_reading_without_a_limit_of_its_own_still_has_one_of_its_spread(tmp_path: Path) -> None:
    made = Records(tmp_path, *TO_TURNS, *TURNS)
    assert [row[2:5] for row in made.tables["Readings"][-4:]] == [
        ["2", "points differ by at most 1", "noted"],
        ["2", "points differ by at most 1", "noted"],
        ["4", "points differ by at most 1", "noted"],
        ["differ by 2", "points differ by at most 1", "out"],
    ]
    assert made.body["decisions"][0]["why"] == "out: points differ by 2, at most 1"


def test_what_a_point_and_the_spread_fail_is_both_told(tmp_path: Path) -> None:
    made = Records(tmp_path, "left drum 202 mm", "left drum 203.5 mm", "judged, new ones are ordered")
    assert made.body["decisions"][0]["why"] == (
        "out: point 2, 203.5 mm, at most 203.0 mm; out: points differ by 1.5 mm, at most 0.3 mm"
    )


# -- what became of them


def test_a_new_part_leaves_the_spread_that_was_found(tmp_path: Path) -> None:
    made = Records(tmp_path, *UNEVEN, "fit new", *ROUND)
    assert made.together("differ_by", "verdict", "stage", "state") == [
        ("0.8", "out", "as-found", "part replaced"),
        ("0.1", "good", "as-left", "stands"),
    ]
    assert [row[:3] for row in made.tables["Readings"][1:]] == [
        ["left drum", "1", "200.1 mm"],
        ["left drum", "2", "200.9 mm"],
        ["left drum", "1 to 2", "differ by 0.8 mm"],
        ["left drum", "1", "200.1 mm"],
        ["left drum", "2", "200.2 mm"],
        ["left drum", "1 to 2", "differ by 0.1 mm"],
    ]
    assert [r["spread_verdict"] for r in made.csv] == ["out", "out", "good", "good"]
    assert [line for line in made.logbook if "differ" in line] == [
        "    left-drum, points differ by 0.1 mm, at most 0.3 mm: good"
    ]


def test_a_spread_that_was_measured_again_is_struck_through(tmp_path: Path) -> None:
    made = Records(tmp_path, *UNEVEN, "do it again", *ROUND)
    assert made.together("verdict", "state") == [("out", "superseded"), ("good", "stands")]
    assert ["-", *SPREAD_ROW, "superseded"] in made.tables["Readings"]


def test_a_correction_is_judged_in_place_of_the_value_before_it(tmp_path: Path) -> None:
    made = Records(tmp_path, *UNEVEN, "correction, left drum 200.3 mm")
    assert made.together("differ_by", "verdict", "state") == [("0.2", "good", "stands")]
    assert [(r["value"], r["spread_verdict"], r["state"]) for r in made.csv] == [
        ("200.1", "good", "stands"),
        ("200.9", "out", "superseded"),
        ("200.3", "good", "stands"),
    ]
    assert made.tables["Readings"][-1][1] == "1 to 2", "behind the last value of it"


def test_a_spread_goes_with_the_point_that_was_withdrawn(tmp_path: Path) -> None:
    made = Records(tmp_path, *UNEVEN, "strike that")
    assert made.together("verdict", "state") == [("out", "withdrawn")]
    assert ["-", *SPREAD_ROW, "withdrawn"] in made.tables["Readings"]
    assert [(r["value"], r["spread_verdict"]) for r in made.csv] == [("200.1", ""), ("200.9", "out")]
    assert not [line for line in made.logbook if "differ" in line]


# -- left and right


def test_sides_that_differ_are_told_of_both(tmp_path: Path) -> None:
    made = Records(tmp_path, *TO_TYRES, "left pressure 2.9 bar", "right pressure 3.3 bar", "judged, one is new")
    wanted = ["differ by 0.4 bar", "sides differ by at most 0.2 bar", "out", "as-found", "", "stands"]
    tyres = [row for row in made.tables["Readings"] if row[0].endswith("pressure")]
    assert [row[:3] for row in tyres[:2]] == [["left pressure", "1", "2.9 bar"], ["right pressure", "1", "3.3 bar"]]
    assert {row[3] for row in tyres[:2]} == {"2.8 to 3.4 bar; sides differ by at most 0.2 bar"}
    assert tyres[2:] == [[f"{side} pressure", "both sides", *wanted] for side in ("left", "right")]
    assert [(r["reading"], r["other"], r["side"]) for r in made.body["differences"]][1:] == [
        ("left-pressure", "right-pressure", "pair"),
        ("right-pressure", "left-pressure", "pair"),
    ]
    assert [(r["pair_at_most"], r["pair_differ_by"], r["pair_verdict"]) for r in made.csv[2:]] == [
        ("0.2", "0.4", "out")
    ] * 2
    assert made.body["decisions"][0]["why"] == "out: sides differ by 0.4 bar, at most 0.2 bar"
    assert made.body["decisions"][0]["side"] == "pair"
    assert "    right-pressure, sides differ by 0.4 bar, at most 0.2 bar: out" in made.logbook


def test_a_side_that_was_withdrawn_takes_the_comparison_with_it(tmp_path: Path) -> None:
    made = Records(tmp_path, *TO_TYRES, "left pressure 2.9 bar", "right pressure 3.3 bar", "strike that")
    assert made.together("reading", "state")[1:] == [("left-pressure", "withdrawn"), ("right-pressure", "withdrawn")]
    assert made.csv[2]["pair_verdict"] == ""


# -- why else something had to be decided on


def test_a_value_out_of_limits_and_a_bad_look_are_named_as_they_are_spoken(tmp_path: Path) -> None:
    out = ["left pressure 2.6 bar", "judged, pump is on its way", "right pressure 2.7 bar", "judged, this one too"]
    made = Records(tmp_path, *TO_TYRES, *out, "next", *TURNS, "next", "big belt bad", "judged, seen")
    assert made.tables["Decided on"] == [
        ["What", "Why it had to be", "Reason", "What became of it"],
        ["left pressure", "out: 2.6 bar, 2.8 to 3.4 bar", "pump is on its way", "stands"],
        ["right pressure", "out: 2.7 bar, 2.8 to 3.4 bar", "this one too", "stands"],
        ["turns", "out: points differ by 2, at most 1", "nuts of two makes", "stands"],
        ["big belt", "looked bad", "seen", "stands"],
    ]
    assert [(r["what"], r["verdict"], r["side"]) for r in made.body["decisions"]] == [
        ("left-pressure", "out", "low"),
        ("right-pressure", "out", "low"),
        ("turns", "out", "spread"),
        ("big-belt", "bad", "look"),
    ]


def test_a_job_where_nothing_is_compared_says_nothing_of_it(tmp_path: Path) -> None:
    made = Records(tmp_path, "next")
    assert made.body["differences"] == made.body["decisions"] == made.csv == []
    assert not [line for line in made.logbook if "differ" in line or "decision" in line]


# -- promised names and words


def test_the_columns_that_were_there_keep_their_places(tmp_path: Path) -> None:
    head = render(Records(tmp_path, *UNEVEN).path, "csv").split("\r\n")[0]
    before = (
        "seq,at,step,reading,name,point,value,unit,in_limit_unit,limit_unit,at_least,at_most,verdict,stage,state,heard,"
        "verdict_when_taken,"
    )
    assert head.startswith(before)


@pytest.mark.parametrize("sheet", [SHEET, load_text(DEMO.read_text("utf-8"), DEMO.name)])
def test_the_limits_are_worded_as_on_the_printed_sheet(sheet: JobSheet) -> None:
    worded = 0
    for spec in sheet.readings.values():
        limits = zip(SIDES, (spec.spread, spec.pair_within), strict=True)
        own = [difference_limit_words(side, most, spec.unit) for side, most in limits if most is not None]
        assert own == pages.difference_words(spec)
        worded += len(own)
    assert worded >= 4


def test_a_difference_is_never_rounded_toward_passing() -> None:
    """0.0118 inches, 0.30001… mm: more than 0.3, so "0.3" or "0.30" must not be shown."""
    row = {"side": "spread", "unit": "mm", "at_most": "0.3", "differ_by": "0.3000101", "margin": "-0.0000101"}
    assert difference_words(row) == "points differ by 0.31 mm, at most 0.3 mm"


TENTHS = st.integers(-40, 40).map(lambda number: Decimal(200) + Decimal(number) / 40)


@settings(max_examples=60, deadline=None)
@given(st.lists(TENTHS, min_size=2, max_size=3), TENTHS)
def test_differences_are_the_cores_own(values: list[Decimal], other: Decimal) -> None:
    """By arithmetic of its own: largest less smallest, mean less mean; and the core's verdict where it tells one."""
    name = ("bore", "twin")
    sheet = small_sheet(
        step("measure", readings=name, gate=True),
        readings=[
            reading(name[0], high="203", points=3, spread="0.3", pair=name[1], pair_within="0.2", uncertainty="0.05"),
            reading(name[1], high="203", uncertainty="0.05"),
        ],
    )
    bench = Bench(sheet)
    for one in (f"twin {other} mm", *(f"bore {value} mm" for value in values)):
        bench.type(one)
    state: State = bench.state
    assert state.taken_at("measure", "bore").values == tuple(values), "all was taken"
    found: dict[str, Difference] = {one.side: one for one in differences(state, "measure", "bore")}
    assert Decimal(found["spread"].row["differ_by"]) == max(values) - min(values)
    assert ("pair" in found) == (len(values) == 3), "sides are compared when all points are there"
    if "pair" in found:
        apart = abs(sum(values, Decimal(0)) / 3 - other)
        assert abs(Decimal(found["pair"].row["differ_by"]) - apart) < Decimal("1e-20")
    whole = state.verdict_at("measure", "bore")
    if whole.side in found:
        assert (found[whole.side].verdict, found[whole.side].margin) == (whole.verdict.value, whole.margin)
    else:
        assert all(one.verdict == "good" or whole.verdict.value == "out" for one in found.values())
