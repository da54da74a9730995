"""What a session knows of those before it, and what it puts into the record beside the work."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice import cli
from bench_voice.core.flat import Flat, intent_of
from bench_voice.core.intents import Kind
from bench_voice.core.state import State
from bench_voice.records.render import render
from bench_voice.records.sound import SoundKeeper, folder_of
from bench_voice.session import journal as jn
from bench_voice.session.owner import Owner
from bench_voice.sheets.load import load_text
from bench_voice.testing import FakeClock
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

SHEET = """\
sheet: mower
title: Mower check
version: 1
machine: {name: Make-believe mower, id: mower one, marks: serial 4711}
source: Invented for this test.
limits:
  blade: {at least: 2.0, unit: mm, source: invented}
  hours: {unit: h}
readings:
  hour-meter: {limit: hours}
  blade: {limit: blade, plausible: [0, 9]}
steps:
  - {id: meter, say: Read the hour meter., readings: [hour-meter]}
  - {id: oil, say: Change the engine oil., readings: []}
  - {id: blade, say: Measure the blade., readings: [blade]}
  - {id: end, say: Look round., final gate: yes}
"""
FIRST = ("one hundred hours", "next", "next", "four point six", "next", "next")
Work = Callable[..., str]


@pytest.fixture
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Work:
    """One typed session; what was said in it."""
    (tmp_path / "mower.yaml").write_text(SHEET, "utf-8")
    monkeypatch.setenv("TZ", "Europe/Oslo")

    def run(*lines: str, options: tuple[str, ...] = ()) -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
        journals = str(tmp_path / "journals")
        cli.main(["work", str(tmp_path / "mower.yaml"), "--typed", "--mute", "--journal", journals, *options])
        return capsys.readouterr().out

    return run


def newest(tmp_path: Path) -> Path:
    return jn.newest_first(tmp_path / "journals", "*.jsonl")[0]


def test_it_is_told_where_the_machine_was_and_a_meter_that_goes_back_is_asked_about(work: Work, tmp_path: Path) -> None:
    work(*FIRST)
    said = work("ninety nine hours", "negative", "one hundred and ten hours")
    assert "At its newest session it was at one hundred hours" in said
    asked = said.partition("you: ninety nine hours")[2].partition("you: negative")[0]
    assert "?" in asked
    assert [r["value"] for r in json.loads(render(newest(tmp_path), "json"))["readings"]] == ["110"]


def test_a_meter_that_was_changed_is_taken_when_it_is_affirmed(work: Work, tmp_path: Path) -> None:
    work(*FIRST)
    work("three hours", "affirm")
    assert [r["value"] for r in json.loads(render(newest(tmp_path), "json"))["readings"]] == ["3"]


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        ("what was the blade last time", r"Blade, on \d+ \w+ \d{4}: 4\.6 mm\."),
        ("when was the oil changed", r"On \d+ \w+ \d{4}, at 100 h: Change the engine oil\."),
        ("when was the engine oil last changed", r"at 100 h: Change the engine oil\."),
        ("when was the oil renewed", r"at 100 h: Change the engine oil\."),
        ("when was the belt changed", r"Nothing is known of that from earlier sessions\."),
        ("how fast does it wear", r"."),
    ],
)
def test_it_answers_from_the_sessions_before(words: str, answer: str, work: Work) -> None:
    work(*FIRST)
    said = work("one hundred and ten hours", "next", "next", words)
    last = said.partition(f"you: {words}")[2]
    assert re.search(answer, last), last
    assert "Not understood" not in last


def test_what_was_it_last_time_is_about_the_reading_that_is_asked_for(work: Work) -> None:
    work(*FIRST)
    said = work("one hundred and ten hours", "next", "next", "what was it last time")
    assert re.search(r"Blade, on .*: 4\.6 mm\.", said)


def test_with_nothing_before_it_says_so(work: Work) -> None:
    assert "nothing is known of it from earlier sessions" in work("what was the blade last time")


def test_a_question_records_nothing(work: Work, tmp_path: Path) -> None:
    work("what was the blade last time", "when was the oil changed")
    assert json.loads(render(newest(tmp_path), "json"))["readings"] == []


def test_who_marks_use_and_zone_stand_in_the_record(work: Work, tmp_path: Path) -> None:
    work(options=("--who", "the workshop's second bench", "--at", "one hundred and five hours"))
    body = json.loads(render(newest(tmp_path), "json"))
    wanted = {"who": "the workshop's second bench", "machine_marks": "serial 4711", "distance": "105 h"}
    assert {key: body[key] for key in wanted} == wanted
    assert body["zone"] == "Europe/Oslo"
    page = render(newest(tmp_path), "html")
    assert "serial 4711" in page
    assert re.search(r"\d\d:\d\d CES?T \(UTC\+0[12]:00\)", page)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_who_works_here_is_asked_once(work: Work, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only where somebody sits at a terminal; the lines of a pipe are no answer."""
    shown = Terminal()
    monkeypatch.setattr("sys.stderr", shown)
    work("one hundred hours")
    assert "Who works here?" not in shown.getvalue()
    sheet, journals = str(tmp_path / "mower.yaml"), str(tmp_path / "journals")
    for lines, who in ((["the second bench", "next"], "the second bench"), (["next"], "the second bench")):
        monkeypatch.setattr("sys.stdin", Terminal("\n".join(lines) + "\n"))
        cli.main(["work", sheet, "--typed", "--mute", "--new", "--journal", journals])
        assert json.loads(render(newest(tmp_path), "json"))["who"] == who
    assert shown.getvalue().count("Who works here?") == 1


@pytest.mark.parametrize("words", ["many", "five millimetres", "12"])
def test_what_is_no_distance_is_refused(words: str, work: Work, tmp_path: Path) -> None:
    work(options=("--at", words))
    assert not list((tmp_path / "journals").glob("*.jsonl"))


def test_the_owner_keeps_the_sound_of_what_it_took_once_it_is_on_disk(tmp_path: Path) -> None:
    sheet = load_text(SHEET, "mower.yaml")
    lock = jn.SessionLock.take(tmp_path, "mower--one")
    writer = jn.JournalWriter.create(tmp_path, "mower--one--1", SHEET, sheet, lock)
    owner = Owner(State(sheet), writer, Speaker(load_language("en")), FakeClock(), lambda said: None)
    owner.keep_sound = SoundKeeper(writer.path, "readings").keep
    owner.begin()
    value = Decimal(100)
    reading = intent_of(
        Flat(Kind.READING, name="hour-meter", value=value, unit="h", in_limit_unit=value, heard="a hundred")
    )
    owner.take(reading, b"\1\0" * 800)
    owner.take(intent_of(Flat(Kind.WHERE, heard="where are we")), b"\1\0" * 800)
    writer.close()
    lock.release()
    (kept,) = sorted(folder_of(writer.path).iterdir())
    line = next(line for line in jn.read(writer.path).lines if type(line.event).__name__ == "ReadingRecorded")
    assert kept.name == f"{line.seq:06d}-reading.flac"


# -- the trend, from journal to page

# NIST Statistical Reference Datasets, linear regression, Norris: data and certified values. [seen]
NORRIS_X = """0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0
228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"""
NORRIS_Y = """0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7
228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"""
CERTIFIED = {
    "slope": 1.00211681802045,
    "intercept": -0.262323073774029,
    "standard deviation of the slope": 0.429796848199937e-03,
    "standard deviation of the intercept": 0.232818234301152,
    "residual standard deviation": 0.884796396144373,
    "R squared": 0.999993745883712,
}


def test_the_trend_on_the_page_is_the_certified_one(tmp_path: Path) -> None:
    """Every value is spoken into a session of its own; the figures are read off the machine's page."""
    text = SHEET.replace("at least: 2.0, unit: mm", "at most: 2000, unit: mm").replace("plausible: [0, 9]", "points: 1")
    sheet = load_text(text, "mower.yaml")
    for number, (x, y) in enumerate(zip(NORRIS_X.split(), NORRIS_Y.split(), strict=True)):
        stem = f"mower--mower-one--20260101T0000{number:02d}000000Z"
        lock = jn.SessionLock.take(tmp_path, "mower--mower-one")
        writer = jn.JournalWriter.create(tmp_path, stem, text, sheet, lock)
        clock = FakeClock()
        clock.pass_(3600 * number)
        owner = Owner(State(sheet), writer, Speaker(load_language("en")), clock, lambda said: None)
        owner.begin()
        for kind, name, value, unit in (
            (Kind.READING, "hour-meter", x, "h"), (Kind.NEXT, None, None, None), (Kind.NEXT, None, None, None),
            (Kind.READING, "blade", y, "mm"),
        ):  # fmt: skip
            amount = None if value is None else Decimal(value)
            owner.take(intent_of(Flat(kind, name=name, value=amount, unit=unit, in_limit_unit=amount, heard="said")))
        writer.close()
        lock.release()
    out = tmp_path / "machine.html"
    assert cli.main(["logbook", "mower one", "--journal", str(tmp_path), "--page", str(out)]) == 0
    page = out.read_text("utf-8").replace("<wbr>", "")
    shown = dict(re.findall(r"<dt>([^<]+)</dt><dd>([^<]+)</dd>", page.partition("<figcaption>")[2]))
    for name, certified in CERTIFIED.items():
        assert float(shown[name]) == pytest.approx(certified, rel=5e-10), name
