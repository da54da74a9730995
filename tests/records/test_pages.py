"""The pages in a real browser: nothing outside of them, nothing wider than a phone, nothing that axe-core calls
serious, and no text that is anything but text.
"""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from chromium import Browser, binary
from logbook_sessions import write_session

from bench_voice import cli
from bench_voice.core.flat import Flat, intent_of
from bench_voice.core.intents import Kind
from bench_voice.core.sheet import Caution, Signal
from bench_voice.core.state import State
from bench_voice.records.kept import Job
from bench_voice.records.render import of_job, render
from bench_voice.session import journal as jn
from bench_voice.session.owner import Owner
from bench_voice.sheets.load import load_text
from bench_voice.sheets.page import page as sheet_page
from bench_voice.speech.understand import understand
from bench_voice.testing import FakeClock
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

ROOT = Path(__file__).parents[2]
AXE = ROOT / ".venv" / "npm" / "node_modules" / "axe-core" / "axe.min.js"
KEPT = sorted((ROOT / "tests" / "session" / "kept_sessions").glob("*.jsonl"))
SHEETS = sorted((ROOT / "demo").glob("*.yaml"))
WIDTHS = (360, 800, 1600)
# Elements that stand out of the page to the right; what a wider thing inside may scroll in is none.
_OUTSIDE = """(() => {
  const wide = document.documentElement.clientWidth;
  const stands_out = e => {
    const r = e.getBoundingClientRect();
    return r.width > 0 && (r.right > wide + 1 || r.left < -1) && !e.closest('thead');
  };
  return [...document.querySelectorAll('body *')].filter(stands_out).slice(0, 5).map(e => e.outerHTML.slice(0, 120));
})()"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if binary() is None:
        pytest.skip("Chromium is not installed: tests/run does it on Debian as root")
    found = Browser()
    yield found
    found.close()


@pytest.fixture(scope="module")
def axe() -> str:
    if not AXE.is_file():
        pytest.skip("axe-core is not installed: tests/run does it where npm is")
    return AXE.read_text("utf-8")


def look(browser: Browser, path: Path, rules: str = "") -> None:
    """Every width; with `rules` also what axe-core finds."""
    for width in WIDTHS:
        browser.open(path, width)
        assert browser.problems == []
        assert browser.run(_OUTSIDE) == [], width
        assert browser.run("document.documentElement.scrollWidth") <= width
    if rules:
        for width in (WIDTHS[0], WIDTHS[1]):
            browser.open(path, width)
            browser.run(rules + "\n;1")
            found: list[dict[str, Any]] = browser.run(
                "axe.run().then(r => r.violations.map(v => ({id: v.id, impact: v.impact, at: v.nodes[0].html})))"
            )
            assert [one for one in found if one["impact"] in ("serious", "critical")] == []


@pytest.mark.parametrize("path", KEPT, ids=lambda path: path.stem)
def test_the_record_of_every_kept_session(path: Path, browser: Browser, axe: str, tmp_path: Path) -> None:
    out = tmp_path / "record.html"
    out.write_text(render(path, "html"), "utf-8")
    look(browser, out, axe)


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_the_printed_sheet(path: Path, browser: Browser, axe: str, tmp_path: Path) -> None:
    out = tmp_path / "sheet.html"
    out.write_text(sheet_page(load_text(path.read_text("utf-8"), path.name)), "utf-8")
    look(browser, out, axe)


def test_the_page_of_a_machine(browser: Browser, axe: str, tmp_path: Path) -> None:
    for number in range(6):
        write_session(tmp_path, "trailer-a", number)
    out = tmp_path / "machine.html"
    assert cli.main(["logbook", "trailer-a", "--journal", str(tmp_path), "--page", str(out)]) == 0
    look(browser, out, axe)
    assert browser.run("document.querySelectorAll('svg.curve').length") == 59


@pytest.mark.parametrize(("width", "height"), [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "Letter"])
def test_on_paper_everything_is_there(width: float, height: float, browser: Browser, tmp_path: Path) -> None:
    """What is folded on the screen is printed: the words that were heard are in the PDF's text."""
    path = next(path for path in KEPT if path.stem == "markings")
    out, pdf = tmp_path / "record.html", tmp_path / "record.pdf"
    out.write_text(render(path, "html"), "utf-8")
    browser.open(out)
    browser.paper(pdf, width, height)
    raw = pdf.read_bytes()
    assert raw.startswith(b"%PDF")
    try:
        text = subprocess.run(
            ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
        ).stdout
    except FileNotFoundError:
        pytest.skip("pdftotext is not installed: the PDF was made and not read")
    assert "seven point" in text
    assert text.count("Words heard") >= 1
    assert "Signature" in text


# -- hostile text

LONG = "W" * 10_000
HOSTILE = [
    "<script>document.title='run'</script>",
    "<img src=x onerror=\"document.title='run'\">",
    "\"'><svg/onload=document.title='run'>",
    "</title></style></textarea><script>document.title='run'</script>",
    "{{ 7*7 }}{% for x in y %}",
    "left \u202e thgir \u2066 \u200f end",
    "a\u0000b\u0007c",
    "&lt;b&gt; &amp; <!-- -->",
    LONG,
]


SHEET = """\
sheet: hub
title: Hub check
version: 1
machine: {name: Make-believe trailer, id: one}
source: Invented.
limits:
  lining: {at least: 2.0, unit: mm, source: invented}
cautions:
  hot: {signal: danger, hazard: The hub is hot., consequence: It burns., avoid: Wear gloves.}
readings:
  lining: {limit: lining}
looks:
  hose:
items:
  tape: {kind: temporary}
steps:
  - {id: measure, say: Measure the lining., cautions: [hot], readings: [lining], looks: [hose], fit: [tape]}
  - {id: end, say: Take the tape off., take off: [tape], final gate: yes, follow up: Look again in a year.}
"""


def hostile(folder: Path, text: str) -> Job:
    """The text wherever a person can say it; and wherever a sheet has text, past the proofreader, which refuses it."""
    sheet = load_text(SHEET, "hub.yaml")
    lock = jn.SessionLock.take(folder, "hub--one")
    language = load_language("en")
    clock = FakeClock()
    writer = jn.JournalWriter.create(folder, "hub--one--20260101T000000000000Z", SHEET, sheet, lock)
    owner = Owner(State(sheet), writer, Speaker(language), clock, lambda said: None)
    owner.begin()
    clean = "".join(char for char in text if not 0xD800 <= ord(char) < 0xE000)
    for intent in (
        intent_of(Flat(Kind.NOTE, text=clean, heard=clean)),
        understand("one point six millimetres", owner.state.expected(), language),
        intent_of(Flat(Kind.JUDGED, name="lining", text=clean, heard=clean)),
        intent_of(Flat(Kind.REMINDER, text=clean, heard=clean)),
        intent_of(Flat(Kind.JUDGEMENT, name="hose", text="doubtful", detail=clean, heard=clean)),
        intent_of(Flat(Kind.UNKNOWN, heard=clean)),
    ):
        clock.pass_(5)
        owner.take(intent)
    writer.close()
    lock.release()
    caution = Caution(Signal.DANGER, text, text, text)
    steps = tuple(replace(one, say=text, follow_up=text, cautions=(caution,)) for one in sheet.steps)
    readings = {key: replace(one, name=text, instrument=text) for key, one in sheet.readings.items()}
    sheet = replace(sheet, title=text, machine=text, machine_id=text, source=text, note=text, machine_marks=text)
    return Job(jn.read(writer.path), replace(sheet, steps=steps, readings=readings))


@pytest.mark.parametrize("number", range(len(HOSTILE)))
def test_hostile_text_stays_text(number: int, browser: Browser, tmp_path: Path) -> None:
    job = hostile(tmp_path, HOSTILE[number])
    out = tmp_path / "record.html"
    out.write_text(of_job(job, "html"), "utf-8")
    look(browser, out)
    assert browser.run("document.title") != "run"
    assert browser.run("document.querySelectorAll('script, img, [onload], [onerror]').length") == 0
    machine = tmp_path / "machine.html"
    assert cli.main(["logbook", "one", "--journal", str(tmp_path), "--page", str(machine)]) == 0
    look(browser, machine)
    assert browser.run("document.title") != "run"
    for form in ("csv", "json", "ics", "vtt", "chapters"):
        assert of_job(job, form).encode()


def test_what_was_said_is_shown_as_it_was(browser: Browser, tmp_path: Path) -> None:
    out = tmp_path / "record.html"
    out.write_text(of_job(hostile(tmp_path, HOSTILE[0]), "html"), "utf-8")
    browser.open(out)
    assert HOSTILE[0] in browser.run("document.body.textContent")
