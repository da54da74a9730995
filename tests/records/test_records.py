"""What people keep of a session: of a finished, a stopped and an open journal."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path

import icalendar
import pytest

from bench_voice.core.intents import Kind, Remark
from bench_voice.core.state import State
from bench_voice.errors import JournalError
from bench_voice.records.logbook import as_text, rows
from bench_voice.records.render import render
from bench_voice.session import journal as jn
from bench_voice.session.owner import Owner
from bench_voice.sheets.load import load_text
from bench_voice.speech.understand import understand
from bench_voice.testing import FakeClock
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

LONG = "After 50 km check the wheel nuts; then, when cold, the “hub” temperature – both sides, and write it down here"
SHEET = f"""\
sheet: hub
title: Hub & drum check
version: 1
machine: {{name: Make-believe trailer, id: trailer one}}
source: Invented for this test; no book stands behind it.
limits:
  lining: {{at least: 2.0, unit: mm, source: invented}}
readings:
  lining: {{limit: lining, plausible: [0, 8]}}
items:
  tape: {{kind: temporary}}
steps:
  - id: block
    say: Block the wheels.
    hold: confirm both wheels are blocked
    fit: [tape]
  - id: measure
    say: Measure the lining.
    readings: [lining]
  - id: end
    say: Take the tape off.
    take off: [tape]
    final gate: yes
    follow up: {LONG}
"""
START = ["confirm both wheels are blocked", "affirm", "next"]
SCRIPTS = {
    "finished": [
        *START,
        "note <script>alert(1)</script> & \"more\"",
        "one point six millimetres",
        "fit new",
        "four point eight millimetres",
        "correction four point six zero millimetres",
        "next",
        "took off tape",
        "next",
    ],
    "stopped": [*START, "one point six millimetres", "stop the job", "affirm"],
    "open": [*START, "note half done"],
}  # fmt: skip

Made = Callable[[str], Path]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """A journal by the name of its script."""
    folder, language = tmp_path_factory.mktemp("journals"), load_language("en")
    sheet = load_text(SHEET, "hub.yaml")
    paths = {}
    for number, (name, script) in enumerate([*SCRIPTS.items(), ("finished again", SCRIPTS["finished"])]):
        clock = FakeClock()
        clock.pass_(number * 86_400)
        writer = jn.JournalWriter.create(folder, f"hub--trailer-one--{number}", SHEET, sheet)
        owner = Owner(State(sheet), writer, Speaker(language), clock, lambda said: None)
        owner.begin()
        for words in script:
            clock.pass_(5)
            # Typed notes lose their signs in the parser; a hand-made intent stands for any other way in.
            intent = understand(words, owner.state.expected(), language)
            if words.startswith("note <"):
                intent = Remark(Kind.NOTE, words.removeprefix("note "), heard=intent.heard)
            owner.take(intent)
        writer.close()
        paths[name] = writer.path
    return lambda name: paths[name]


def test_the_scripts_end_as_they_are_named(made: Made) -> None:
    assert [json.loads(render(made(name), "json"))["status"] for name in SCRIPTS] == ["signed-off", "stopped", "open"]


# -- JSON


def test_json_holds_every_value_and_what_became_of_it(made: Made) -> None:
    body = json.loads(render(made("finished"), "json"))
    assert [(r["value"], r["unit"], r["stage"], r["state"], r["is_correction"]) for r in body["readings"]] == [
        ("1.6", "mm", "as-found", "part replaced", False),
        ("4.8", "mm", "as-left", "superseded", False),
        ("4.60", "mm", "as-left", "stands", True),
    ]
    assert [r["verdict"] for r in body["readings"]] == ["out", "good", "good"]
    assert body["register"] == [
        {"key": "tape", "name": "tape", "kind": "temporary", "state": "closed"}
        | {k: body["register"][0][k] for k in ("opened", "closed")}
    ]
    assert body["register"][0]["closed"]
    assert body["holds"][0]["phrase"] == "confirm both wheels are blocked"


@pytest.mark.parametrize("name", ["stopped", "open"])
def test_the_first_line_of_an_unfinished_job_says_not_to_be_used_and_why(name: str, made: Made) -> None:
    first = json.loads(render(made(name), "json"))["first_line"]
    assert first.startswith("NOT TO BE USED.")
    assert "tape" in first
    assert ("stopped" in first) == (name == "stopped")


def test_a_finished_job_does_not_say_so(made: Made) -> None:
    assert "NOT TO BE USED" not in render(made("finished"), "html")


# -- HTML


class Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.paragraphs: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.parametrize("name", list(SCRIPTS))
def test_html_runs_nothing_and_loads_nothing(name: str, made: Made) -> None:
    page = Page()
    page.feed(render(made(name), "html"))
    assert not {"script", "img", "link", "iframe", "object"} & set(page.tags)
    assert not [a for a in page.attributes if a[0] in ("src", "href") or a[0].startswith("on")]
    assert "Hub & drum check" in page.text, "what the sheet says is text"


def test_html_shows_a_note_as_it_was_said(made: Made) -> None:
    raw = render(made("finished"), "html")
    page = Page()
    page.feed(raw)
    assert "<script>alert(1)</script>" in page.text
    assert "<script" not in raw


def test_html_says_first_that_it_is_not_to_be_used(made: Made) -> None:
    raw = render(made("stopped"), "html")
    first_table = raw.index("<table")
    assert 0 < raw.index("NOT TO BE USED") < first_table


# -- CSV: RFC 4180


def test_csv_comes_back_as_the_json_says(made: Made) -> None:
    text = render(made("finished"), "csv")
    assert text.count("\r\n") == text.count("\n"), "RFC 4180: lines end in CRLF"
    found = list(csv.DictReader(io.StringIO(text)))
    body = json.loads(render(made("finished"), "json"))["readings"]
    assert len(found) == len(body)
    for row, wanted in zip(found, body, strict=True):
        assert Decimal(row["value"]) == Decimal(wanted["value"])
        assert row["value"] == wanted["value"], "digits are kept"
        for key in ("reading", "unit", "verdict", "stage", "state", "heard", "step"):
            assert row[key] == wanted[key]


def test_csv_of_no_readings_is_a_head_only(made: Made) -> None:
    assert len(list(csv.reader(io.StringIO(render(made("open"), "csv"))))) == 1


# -- iCalendar: RFC 5545


def unfolded(text: str) -> list[str]:
    """RFC 5545, 3.1: a CRLF and one space or tab after it are taken out."""
    return re.sub("\r\n[ \t]", "", text).split("\r\n")[:-1]


def test_ics_lines_end_in_crlf_and_have_75_octets_at_most(made: Made) -> None:
    """RFC 5545, 3.1."""
    text = render(made("finished"), "ics")
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75
    assert any(line.startswith(" ") for line in text.split("\r\n")), "this one is long enough to be folded"


def test_ics_has_what_the_standard_demands_once(made: Made) -> None:
    """RFC 5545, 3.6 (PRODID and VERSION once), 3.6.2 (UID and DTSTAMP once in a VTODO), 3.3.5 (UTC form)."""
    lines = unfolded(render(made("finished"), "ics"))
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    names = [line.split(":")[0] for line in lines]
    assert names.count("PRODID") == names.count("VERSION") == 1
    assert names.count("BEGIN") == names.count("END") == 2
    assert names.count("UID") == names.count("DTSTAMP") == names.count("SUMMARY") == 1
    stamp = next(line for line in lines if line.startswith("DTSTAMP"))
    assert re.fullmatch(r"DTSTAMP:\d{8}T\d{6}Z", stamp)


def test_ics_text_is_escaped_and_comes_back(made: Made) -> None:
    """RFC 5545, 3.3.11: backslash, semicolon, comma and newline are escaped in TEXT."""
    line = next(one for one in unfolded(render(made("finished"), "ics")) if one.startswith("SUMMARY:"))
    raw = line.removeprefix("SUMMARY:")
    assert not re.search(r"(?<!\\)[;,]", raw)
    back = re.sub(r"\\([\\;,])", r"\1", raw.replace("\\n", "\n"))
    assert back == f"Make-believe trailer: {LONG}"


def test_ics_names_itself_the_same_each_time_and_other_sessions_otherwise(made: Made) -> None:
    assert render(made("finished"), "ics") == render(made("finished"), "ics")
    names = ("finished", "finished again")
    uids = {next(one for one in unfolded(render(made(name), "ics")) if one.startswith("UID")) for name in names}
    assert len(uids) == len(names)


@pytest.mark.parametrize("name", ["stopped", "open"])
def test_ics_has_nothing_of_a_step_that_was_not_done(name: str, made: Made) -> None:
    assert "VTODO" not in render(made(name), "ics")


def test_ics_is_read_by_a_library_of_others(made: Made) -> None:
    calendar = icalendar.Calendar.from_ical(render(made("finished"), "ics"))
    (todo,) = calendar.walk("VTODO")
    assert str(todo["SUMMARY"]) == f"Make-believe trailer: {LONG}"
    assert calendar.errors == todo.errors == []


# -- WebVTT


def test_vtt_cues_are_in_order_and_in_words(made: Made) -> None:
    """W3C WebVTT: the head, then cues `hh:mm:ss.ttt --> hh:mm:ss.ttt`, start times not going back."""
    text = render(made("finished"), "vtt")
    head, *cues = text.split("\n\n")
    assert head == "WEBVTT"
    starts = []
    for cue in filter(None, (c.strip() for c in cues)):
        times, *words = cue.split("\n")
        found = re.fullmatch(r"(\d\d:\d\d:\d\d\.\d{3}) --> (\d\d:\d\d:\d\d\.\d{3})", times)
        assert found, times
        assert found[1] < found[2]
        assert words
        assert "-->" not in "".join(words)
        said = re.sub(r"^<v (Bench|You)>", "", "".join(words))
        assert "<" not in said, "a cue's text would take it for a tag"
        starts.append(found[1])
    assert starts == sorted(starts)
    assert "You confirm that both wheels are" in text
    assert "<v You>confirm both wheels are blocked" in text


# -- all


@pytest.mark.parametrize("form", ["html", "json", "csv", "ics", "vtt"])
def test_a_damaged_journal_makes_no_record(form: str, made: Made, tmp_path: Path) -> None:
    path = tmp_path / "damaged.jsonl"
    path.write_bytes(made("finished").read_bytes().replace(b'"1.6"', b'"2.6"', 1))
    with pytest.raises(JournalError) as caught:
        render(path, form)
    assert caught.value.slug == "journal-damaged"


def test_the_logbook_has_a_row_a_session_and_says_what_cannot_be_read(made: Made, tmp_path: Path) -> None:
    for name in SCRIPTS:
        (tmp_path / made(name).name).write_bytes(made(name).read_bytes())
    (tmp_path / "hub--trailer-one--9.jsonl").write_bytes(b"")
    found = rows(tmp_path, None)
    assert [row.get("status") for row in found] == ["signed-off", "stopped", "open", None]
    assert "[journal-empty]" in found[-1]["error"]
    assert [r["value"] for r in found[0]["readings"]] == ["4.60"], "only what stands"
    text = as_text(found)
    assert text.count("NOT TO BE USED") == 2
    assert rows(tmp_path, "trailer two") == [found[-1]]
