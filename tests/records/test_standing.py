"""What became of what was said: withdrawn, superseded, judged by a limit that was corrected, closed. The record never
contradicts the session that it is made from.
"""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.cases import OpenedBy
from bench_voice.core.decide import Events, begin, decide
from bench_voice.core.flat import Flat, intent_of
from bench_voice.core.intents import (
    Command,
    Confirmation,
    Intent,
    ItemChange,
    Judgement,
    Kind,
    Measurement,
    Remark,
    Replacement,
)
from bench_voice.core.sheet import Finding, ItemKind, JobSheet
from bench_voice.core.state import Phase, State
from bench_voice.records.exports.calendar import calendar
from bench_voice.records.exports.table import table
from bench_voice.records.logbook import as_text, rows
from bench_voice.records.summary import Job, summary
from bench_voice.records.view import html
from bench_voice.session import journal as jn
from bench_voice.sheets.load import load_text
from bench_voice.testing import MORNING_MS, Bench, reading, small_sheet, step

TEXT = """\
sheet: drum
title: Drum
version: 1
machine: {name: Make-believe cart, id: cart one}
source: Invented.
limits:
  cast: {unit: mm}
  drum: {at most: 203.0, unit: mm, source: cast in, marked on the part: maximum}
  pad: {at least: 2.0, unit: mm, source: invented}
readings:
  maximum: {limit: cast, marking: yes}
  width: {limit: drum}
  pad: {limit: pad}
looks:
  belt:
items:
  tag: {kind: temporary}
  door:
  seal: {kind: renew}
steps:
  - id: isolate
    say: Hang the tag on the plug.
    hold: confirm cart is blocked and tagged
    fit: [tag]
  - id: open
    say: Take the door off.
    remove: [door, seal]
    looks: [belt]
  - id: measure
    say: Measure the drum.
    readings: [maximum, width]
  - id: pads
    say: Measure the pad.
    readings: [pad]
    follow up: Look at the pad after a month.
  - id: new-pads
    say: New pads are in.
    only if replaced: pad
    follow up: Bed the new pads in.
  - id: close
    say: Close it.
    put back: [door]
    fit new: [seal]
    take off: [tag]
    final gate: yes
    follow up: Check the belt after fifty hours.
"""
SHEET = load_text(TEXT, "drum.yaml")
SIGNED = "Signed off. Every reading is good or decided on, and every register entry is closed."
HOLD = ["confirm cart is blocked and tagged", "affirm"]
TO_OPEN = [*HOLD, "next"]
TO_MEASURE = [*TO_OPEN, "belt good", "next"]
TO_PADS = [*TO_MEASURE, "maximum two hundred and three", "width two hundred and one", "next"]
TO_END = [*TO_PADS, "pad four", "next", "put back door", "fitted seal", "took off tag", "next"]


def job_of(lines: list[tuple[int, ev.Event]], sheet: JobSheet = SHEET) -> Job:
    """As if read from a file, without one."""
    numbered = tuple(jn.Line(seq, at_ms, event) for seq, (at_ms, event) in enumerate(lines, 1))
    file = jn.JournalFile(Path("drum.jsonl"), {}, numbered, b"", "0" * 64, 0)
    return Job(file, sheet)


def lines_of(job: Job) -> tuple[jn.Line, ...]:
    assert isinstance(job.file, jn.JournalFile)
    return job.file.lines


def talk(*words: str) -> Job:
    """A typed session, ten seconds a line: less than a read-back waits."""
    bench = Bench(SHEET)
    for one in words:
        bench.clock.pass_(10)
        bench.type(one)
    return job_of(bench.journal.lines)


def states(job: Job, part: str, *names: str) -> list[tuple[Any, ...]]:
    return [tuple(row[name] for name in (*names, "state")) for row in summary(job)[part]]


# -- withdrawn and superseded

WITHDRAWN = [
    ("belt bad", "looks", ("judgement",), [("bad", "withdrawn")]),
    ("note, a crack", "notes", ("text",), [("a crack", "withdrawn")]),
    ("removed big cover", "register", ("name",), [("tag", "open"), ("big cover", "withdrawn")]),
    ("fitted strap", "register", ("name",), [("tag", "open"), ("strap", "withdrawn")]),
    ("remind me to oil it", "register", ("name",), [("tag", "open"), ("oil it", "withdrawn")]),
]


@pytest.mark.parametrize(("said", "part", "names", "wanted"), WITHDRAWN, ids=lambda one: str(one)[:20])
def test_what_was_withdrawn_stays_and_is_marked(
    said: str, part: str, names: tuple[str, ...], wanted: list[tuple[str, ...]]
) -> None:
    job = talk(*TO_OPEN, said, "strike that")
    assert isinstance(lines_of(job)[-1].event, ev.Undone), "it was taken, and withdrawn"
    assert states(job, part, *names) == wanted
    struck = re.findall(r'<tr class="gone">.*?</tr>', html(job))
    assert len(struck) == 1
    assert wanted[-1][0] in struck[0]
    assert "withdrawn" in struck[0]


def test_a_withdrawn_decision_is_marked_and_one_that_stands_is_not() -> None:
    words = [*TO_OPEN, "belt bad", "judged, it will do", "strike that", "judged, the foreman has seen it"]
    wanted = [("it will do", "withdrawn"), ("the foreman has seen it", "stands")]
    assert states(talk(*words), "decisions", "reason") == wanted
    assert states(talk(*words), "looks", "judgement") == [("bad", "stands")]


def test_a_correction_takes_the_decision_with_it_and_a_withdrawn_correction_brings_it_back() -> None:
    words = [*TO_PADS, "pad one point six", "judged, it will do", "correction, pad one point five"]
    assert states(talk(*words), "decisions", "what", "reason") == [("pad", "it will do", "reopened")]
    (row,) = summary(talk(*words))["decisions"]
    assert (row["changed"], row["reopened_at"] is not None) == ("value", True)
    assert "reopened" in html(talk(*words))
    assert "another value" in html(talk(*words))
    assert states(talk(*words, "strike that"), "decisions", "what", "reason") == [("pad", "it will do", "stands")]
    again = states(talk(*words, "judged, thin but even"), "decisions", "reason")
    assert again == [("it will do", "reopened"), ("thin but even", "stands")]


def test_a_decision_that_was_reopened_stays_so_when_a_later_one_is_withdrawn() -> None:
    words = [*TO_PADS, "pad one point six", "judged, it will do", "correction, pad one point five"]
    job = talk(*words, "judged, thin but even", "removed big cover", "strike that", "strike that")
    wanted = [("it will do", "reopened"), ("thin but even", "withdrawn")]
    assert states(job, "decisions", "reason") == wanted


def test_a_corrected_marking_reopens_what_was_decided_by_it() -> None:
    words = [*TO_MEASURE, "maximum two hundred and three", "width two hundred and four", "judged, it will do"]
    job = talk(*words, "correction, maximum two hundred")
    assert states(job, "decisions", "what", "changed") == [("width", "limit", "reopened")]
    assert "Not good" in summary(job)["first_line"]


def test_what_was_looked_at_again_or_done_again_is_superseded() -> None:
    assert states(talk(*TO_OPEN, "belt bad", "belt good"), "looks", "judgement") == [
        ("bad", "superseded"),
        ("good", "stands"),
    ]
    assert states(talk(*TO_OPEN, "belt good", "do it again"), "looks", "judgement") == [("good", "superseded")]


def test_a_withdrawn_confirmation_is_marked_and_one_asked_again_too() -> None:
    assert states(talk(*HOLD, "strike that"), "holds", "hold") == [("isolate", "withdrawn")]
    assert states(talk(*HOLD, "strike that", *HOLD), "holds") == [("withdrawn",), ("stands",)]
    assert states(talk(*TO_OPEN, "go back", *HOLD), "holds") == [("asked again",), ("stands",)]


# -- the register


def test_an_entry_opened_by_voice_and_by_its_step_is_one_row() -> None:
    entered = [*TO_OPEN, "removed door", "belt good", "next"]
    assert [row["key"] for row in summary(talk(*entered))["register"]].count("door") == 1
    assert ("door", "open") in states(talk(*entered), "register", "name")
    job = talk(*entered, "put back door")
    row = next(row for row in summary(job)["register"] if row["key"] == "door")
    assert (row["opened"], row["closed"], row["state"]) == ("2026-01-05T08:00:40Z", "2026-01-05T08:01:10Z", "closed")


def test_a_withdrawn_closing_is_open_again() -> None:
    assert states(talk(*TO_OPEN, "took off tag"), "register", "name") == [("tag", "closed")]
    job = talk(*TO_OPEN, "took off tag", "strike that")
    assert states(job, "register", "name", "closed") == [("tag", None, "open")]
    assert ">STILL OPEN<" in html(job)


def test_an_entry_that_was_closed_and_opened_again_is_as_it_was_when_that_is_withdrawn() -> None:
    words = [*TO_OPEN, "took off tag", "fitted tag"]
    assert states(talk(*words), "register", "name", "closed") == [("tag", None, "open")]
    closed = "2026-01-05T08:00:40Z"
    assert states(talk(*words, "strike that"), "register", "name", "closed") == [("tag", closed, "closed")]


def test_an_opening_withdrawn_after_its_closing_was_is_withdrawn() -> None:
    words = [*TO_OPEN, "removed big cover", "put back big cover", "strike that", "strike that"]
    assert states(talk(*words), "register", "name") == [("tag", "open"), ("big cover", "withdrawn")]


# -- readings by the limit that counts in the end


def drum(job: Job) -> list[tuple[str, ...]]:
    names = ("value", "at_most", "verdict", "verdict_when_taken", "state")
    return [tuple(row[n] for n in names) for row in summary(job)["readings"] if row["reading"] == "width"]


OUT = [*TO_MEASURE, "maximum two hundred", "width two hundred and one point two"]


def test_a_corrected_marking_judges_anew_and_keeps_what_was_said() -> None:
    assert drum(talk(*OUT)) == [("201.2", "200", "out", "out", "stands")]
    job = talk(*OUT, "correction, maximum two hundred and three")
    assert drum(job) == [("201.2", "203", "good", "out", "stands")]
    assert re.search(r"at most 203 mm</td><td[^>]*>good \(when taken: out\)</td>", html(job))
    assert drum(talk(*OUT, "correction, maximum two hundred and three", "strike that")) == drum(talk(*OUT))


def test_an_old_part_is_judged_by_its_own_marking() -> None:
    words = [*OUT, "correction, maximum two hundred and one", "fit new"]
    assert drum(talk(*words)) == [("201.2", "201", "out", "out", "part replaced")]
    words += ["maximum two hundred and four", "width two hundred and one point two"]
    assert drum(talk(*words)) == [
        ("201.2", "201", "out", "out", "part replaced"),
        ("201.2", "204", "good", "good", "stands"),
    ]


def test_a_withdrawn_replacement_replaced_nothing() -> None:
    words = [*TO_PADS, "pad one point six", "fit new", "strike that", "do it again"]
    assert states(talk(*words), "readings", "reading")[-1] == ("pad", "superseded")


def test_a_reading_taken_again_at_a_later_step_is_judged_there() -> None:
    sheet = small_sheet(
        step("before", readings=["cast", "bore"]),
        step("after", readings=["bore"], gate=True),
        readings=[reading("cast", is_marking=True), reading("bore", high="203", from_marking="cast")],
    )
    bench = Bench(sheet)
    for words in ("cast 203", "bore 201", "next", "bore 199", "correction, cast 200"):
        bench.type(words)
    body = summary(job_of(bench.journal.lines, sheet))
    assert [(row["value"], row["verdict"]) for row in body["readings"] if row["reading"] == "bore"] == [
        ("201", "out"),
        ("199", "good"),
    ]
    assert "Not good" not in body["first_line"]


def test_the_logbook_says_the_same(tmp_path: Path) -> None:
    bench = Bench(SHEET)
    for words in (*OUT, "correction, maximum two hundred and three"):
        bench.type(words)
    writer = jn.JournalWriter.create(tmp_path, "drum--cart--1", TEXT, SHEET)
    writer.append(bench.journal.events, MORNING_MS)
    writer.close()
    assert "width 1: 201.2 mm, good" in as_text(rows(tmp_path, None))


# -- follow-ups


def test_follow_ups_are_of_steps_that_were_done() -> None:
    assert summary(talk(*TO_PADS))["follow_ups"] == []
    job = talk(*TO_END)
    assert summary(job)["first_line"] == SIGNED
    assert summary(job)["follow_ups"] == ["Look at the pad after a month.", "Check the belt after fifty hours."]
    assert "Bed the new pads in" not in calendar(job) + html(job)


def test_a_follow_up_comes_with_its_condition() -> None:
    replaced = [*TO_PADS, "pad one point six", "fit new", "pad four", "next", "next"]
    assert "Bed the new pads in." in summary(talk(*replaced))["follow_ups"]


def test_a_follow_up_goes_with_its_condition() -> None:
    """The step was done, then the new part was withdrawn."""
    words = [*TO_PADS, "pad one point six", "fit new", "pad four", "next", "next", "go back", "go back"]
    job = talk(*words, "strike that", "strike that", "judged, it will do", "next")
    assert "new-pads" in job.state.done & job.state.passed_over
    assert summary(job)["follow_ups"] == ["Look at the pad after a month."]


# -- signed off


def test_signed_off_with_something_open_is_not_believed() -> None:
    """A journal of a version that signed off with less: the first line is reckoned."""
    opened = ev.ItemOpened("door", "door", ItemKind.PART, OpenedBy.STEP)
    events: Events = (*begin(State(SHEET)), opened, ev.SignedOff())
    job = job_of([(MORNING_MS, event) for event in events])
    assert summary(job)["first_line"].startswith(
        "NOT TO BE USED. It was signed off all the same. Still open: door (part)."
    )
    assert "Not settled: confirm cart is blocked and tagged, belt, maximum, width, pad" in html(job)
    assert re.search(r'<p class="outcome not".*?<span>NOT TO BE USED', html(job), re.S)


def test_a_register_alone_that_is_open_is_not_believed_either() -> None:
    lines = list(lines_of(talk(*TO_END)))
    opened = ev.ItemOpened("part-99", "big cover", ItemKind.PART, OpenedBy.VOICE)
    events = [(line.at_ms, line.event) for line in lines[:-1]]
    job = job_of([*events, (lines[-1].at_ms, opened), (lines[-1].at_ms, lines[-1].event)])
    wanted = "NOT TO BE USED. It was signed off all the same. Still open: big cover (part)."
    assert summary(job)["first_line"] == wanted


def amount(text: str) -> dict[str, Any]:
    return {"value": Decimal(text), "in_limit_unit": Decimal(text)}


_CLOSING = {
    ItemKind.TEMPORARY: Kind.TAKEN_OFF,
    ItemKind.PART: Kind.PUT_BACK,
    ItemKind.RENEW: Kind.FITTED,
    ItemKind.REMINDER: Kind.DONE,
}


class Session:
    """Intents in, lines out; no parser, so that many sessions are tried."""

    def __init__(self) -> None:
        self.state, self.lines = State(SHEET), []  # type: State, list[tuple[int, ev.Event]]
        self._add(begin(self.state))

    def _add(self, events: Events) -> Events:
        at_ms = MORNING_MS + 1000 * len(self.lines)
        for event in events:
            self.lines.append((at_ms, event))
            self.state = apply(self.state, event, at_ms)
        return events

    def say(self, intent: Intent) -> Events:
        return self._add(decide(self.state, intent, MORNING_MS + 1000 * len(self.lines)))

    def answer(self) -> Intent:
        """What gets on from here, as somebody says it who wants to be finished."""
        state, held = self.state, self.state.held()
        match state.phase():
            case Phase.HOLD if held:
                return Confirmation(hold=held.id, heard=held.phrase)
            case Phase.READ_BACK:
                return Command(Kind.AFFIRM, heard="affirm")
            case Phase.ASKED | Phase.STOPPING:
                return Command(Kind.NEGATIVE, heard="negative")
            case Phase.STAND_BY:
                return Command(Kind.CARRY_ON)
            case Phase.FAILED:
                return Remark(Kind.JUDGED, text="it will do")
            case Phase.READING:
                return Measurement(Kind.READING, name=state.waits()[0], heard="a number", **amount("202"))
            case Phase.LOOK:
                return Judgement(finding=Finding.GOOD)
        for entry in state.register.values():
            known = entry.key if entry.key in SHEET.items else None
            return intent_of(Flat(_CLOSING[entry.kind], name=known, text="" if known else entry.name, heard=entry.name))
        return Command(Kind.NEXT, heard="next")

    def finish(self) -> None:
        for _ in range(300):
            if self.state.ended:
                return
            events = self.say(self.answer())
            if any(isinstance(event, ev.NextRefused) for event in events):
                # Something of an earlier step was withdrawn: walk all of it again.
                while any(isinstance(event, ev.StepOpened) for event in self.say(Command(Kind.BACK))):
                    pass


SAID = [
    *(Measurement(Kind.READING, heard="a number", **amount(text)) for text in ("1.6", "199", "201.2", "203")),
    *(
        Measurement(Kind.CORRECTION, name=name, heard="a number", **amount(text))
        for name in (None, "maximum", "width", "pad")
        for text in ("1.5", "200", "204")
    ),
    *(Judgement(finding=Finding(text)) for text in ("good", "bad")),
    *(
        intent_of(Flat(kind, name=name, heard=name))
        for kind in (Kind.FITTED, Kind.TAKEN_OFF, Kind.REMOVED, Kind.PUT_BACK)
        for name in ("tag", "door", "seal")
    ),
    ItemChange(Kind.REMOVED, text="big cover", heard="big cover"),
    ItemChange(Kind.PUT_BACK, text="big cover", heard="big cover"),
    ItemChange(Kind.REMINDER, text="oil it", heard="oil it"),
    ItemChange(Kind.DONE, text="oil it", heard="oil it"),
    Remark(Kind.JUDGED, text="it will do"),
    Remark(Kind.NOTE, text="a crack", heard="a crack"),
    Replacement(),
    Command(Kind.REDO),
    Command(Kind.BACK),
    Command(Kind.NEXT),
]
UNDO = Command(Kind.UNDO, heard="strike that")
# None: what gets on from here. Half of all, since otherwise hardly any session would leave its first step.
TURNS = st.lists(st.one_of(st.none(), st.none(), st.sampled_from(SAID), st.just(UNDO)), max_size=40)


@settings(max_examples=100, deadline=None)
@given(TURNS)
def test_a_signed_off_record_never_shows_anything_open(turns: list[Intent | None]) -> None:
    session = Session()
    for intent in turns:
        session.say(intent or session.answer())
    agrees(job_of(session.lines))
    session.finish()
    assert session.state.ended == "signed-off"
    job = job_of(session.lines)
    agrees(job)
    body = summary(job)
    assert body["first_line"] == SIGNED
    assert [row for row in body["register"] if row["closed"] is None or row["state"] == "open"] == []
    assert "OPEN" not in html(job)
    decided = {(row["step"], row["what"]) for row in body["decisions"] if row["state"] == "stands"}
    for row in body["readings"]:
        if row["state"] == "stands" and row["verdict"] in ("out", "borderline"):
            assert (row["step"], row["reading"]) in decided, "every reading is good or decided on"
    looks = [row for row in body["looks"] if row["state"] == "stands"]
    assert [row["look"] for row in looks] == ["belt"]
    assert looks[0]["judgement"] == "good" or ("open", "belt") in decided
    assert [row["hold"] for row in body["holds"] if row["state"] == "stands"] == ["isolate"]
    assert ("Bed the new pads in." in body["follow_ups"]) == ("pad" in job.state.replaced)


def agrees(job: Job) -> None:
    """The record and the state say the same of an open session too, and every event has its row."""
    body, events = summary(job), {line.seq: line.event for line in lines_of(job)}
    assert {row["key"] for row in body["register"] if row["closed"] is None} == set(job.state.register)
    assert len({row["key"] for row in body["register"]}) == len(body["register"])
    opened = {event.key for event in events.values() if isinstance(event, ev.ItemOpened)}
    assert opened <= {row["key"] for row in body["register"]}
    undone = {event.seq for event in events.values() if isinstance(event, ev.Undone)}
    kinds: dict[str, tuple[type, ...]] = {
        "readings": (ev.ReadingRecorded, ev.ReadingCorrected),
        "looks": (ev.LookJudged,),
        "decisions": (ev.ReadingDecided,),
        "notes": (ev.NoteTaken,),
    }
    for part, types in kinds.items():
        taken = {seq for seq, event in events.items() if isinstance(event, types)}
        assert {row["seq"] for row in body[part]} == taken
        assert {row["seq"] for row in body[part] if row["state"] == "withdrawn"} == taken & undone
    assert {(row["step"], row["look"]) for row in body["looks"] if row["state"] == "stands"} == set(job.state.looked)
    found = list(csv.DictReader(io.StringIO(table(job))))
    assert [(row["seq"], row["verdict"], row["state"]) for row in found] == [
        (str(row["seq"]), row["verdict"], row["state"]) for row in body["readings"]
    ]
