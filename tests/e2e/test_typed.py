"""Typed sessions: the whole program but for ears and sound."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from journal import events_of, newest
from script import differences, load, typed_lines

from bench_voice.sheets.pages import start_sheet_text

ROOT = Path(__file__).resolve().parents[2]
Run = Callable[..., subprocess.CompletedProcess[str]]


def test_next_at_a_hold_point_stays_there(bench_voice: Run, sheet: Path, journals: Path) -> None:
    done = bench_voice("work", sheet, "--typed", "--mute", "--journal", journals, typed="next\n")
    assert done.returncode == 10, done.stderr
    last = [line for line in done.stdout.splitlines() if line.startswith("bench: ")][-1]
    assert "confirm both wheels are blocked" in last
    names = [event["event"] for event in events_of(newest(journals))]
    assert names[-1] == "NextRefused"
    assert "StepDone" not in names


@pytest.mark.parametrize(
    "words",
    [
        "confirm wheels are blocked",  # not whole
        "confirm both wheels are blocked i think",  # more than the phrase
        "confirm both wheels are not blocked",
        "are both wheels blocked",
        "confirm trailer is firmly on stands",  # another step's
        "affirm",
        "yes",
        "carry on",
    ],
)
def test_nothing_but_its_own_phrase_passes_a_hold(words: str, bench_voice: Run, sheet: Path, journals: Path) -> None:
    typed = f"{words}\naffirm\nnext\n"
    done = bench_voice("work", sheet, "--typed", "--mute", "--journal", journals, typed=typed)
    assert done.returncode == 10, done.stderr
    names = [event["event"] for event in events_of(newest(journals))]
    assert "HoldConfirmed" not in names
    assert "StepDone" not in names


def test_phrase_alone_does_not_pass(bench_voice: Run, sheet: Path, journals: Path) -> None:
    typed = "confirm both wheels are blocked\nnext\naffirm\nnext\n"
    bench_voice("work", sheet, "--typed", "--mute", "--journal", journals, typed=typed)
    names = [event["event"] for event in events_of(newest(journals))]
    assert "HoldPhraseHeard" in names
    assert "HoldConfirmed" not in names


def test_whole_job_typed_is_signed_off_as_the_script_means(bench_voice: Run, sheet: Path, journals: Path) -> None:
    """The demo's whole script without ears: what differs in `demo/run` then is hearing, not deciding."""
    script_path = ROOT / "demo" / "scripts" / "service.yaml"
    runs = typed_lines(load(script_path))
    codes = []
    for lines in runs:
        text = "\n".join(lines) + "\n"
        done = bench_voice("work", sheet, "--typed", "--mute", "--journal", journals, typed=text)
        codes.append(done.returncode)
    assert differences(load(script_path), events_of(newest(journals))) == []
    assert codes == [10] * (len(runs) - 1) + [0]
    assert len(list(journals.glob("*.jsonl"))) == 1, "a resumed session goes on in its own journal"


def test_record_and_verify_of_a_whole_job(bench_voice: Run, sheet: Path, journals: Path) -> None:
    for lines in typed_lines(load(ROOT / "demo" / "scripts" / "service.yaml")):
        bench_voice("work", sheet, "--typed", "--mute", "--journal", journals, typed="\n".join(lines) + "\n")
    journal = newest(journals)
    assert journal is not None
    assert bench_voice("verify", journal).returncode == 0
    page = bench_voice("record", journal, "--as", "html").stdout
    assert "1.6" in page, "the reading out of limits stands in the record"
    assert "4.9" in page, "and the one after the new shoes"
    assert json.loads(bench_voice("record", journal, "--as", "json").stdout)
    # One digit changed in one line: verify says so.
    text = journal.read_text(encoding="utf-8")
    assert '"1.6"' in text
    journal.write_text(text.replace('"1.6"', '"2.6"', 1), encoding="utf-8")
    damaged = bench_voice("verify", journal)
    assert damaged.returncode == 1
    assert "[journal-damaged]" in damaged.stdout


@pytest.mark.parametrize(
    ("arguments", "code", "slug"),
    [
        (("work", "no-such-sheet.yaml", "--typed", "--mute"), 3, "sheet-missing-file"),
        (("work", "SHEET", "--listen", "no-such.wav", "--mute"), 4, "sound-missing"),
        (("work", "SHEET", "--typed", "--mute", "--journal", "/dev/null/journals"), 5, "journal-unwritable"),
        (("verify", "no-such-journal.jsonl"), 5, "journal-unreadable"),
        (("understand",), 2, "no-words"),
        (("understand", "next", "--list", "many.jsonl"), 2, "list-alone"),
        (("hear", "one.wav", "--list", "many.jsonl"), 2, "list-alone"),
        (("understand", "next", "--sheet", "SHEET", "--step", "nowhere"), 2, "step-unknown"),
        (("hear",), 2, "no-recording"),
        (("record", "no-such-journal.jsonl"), 5, "journal-unreadable"),
    ],
)
def test_bad_input_is_one_message_with_its_slug(
    arguments: tuple[str, ...], code: int, slug: str, bench_voice: Run, sheet: Path, journals: Path
) -> None:
    given = [str(sheet) if part == "SHEET" else part for part in arguments]
    if given[0] == "work" and "--journal" not in given:
        given += ["--journal", str(journals)]
    done = bench_voice(*given)
    assert done.returncode == code, done.stderr
    assert f"[{slug}]" in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_changed_sheet_is_said_and_can_be_started_anew_with_its_readings_kept(
    bench_voice: Run, sheet: Path, journals: Path, tmp_path: Path
) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(sheet.read_text("utf-8"), "utf-8")
    holds = "confirm both wheels are blocked\naffirm\nnext\nconfirm trailer is firmly on stands\naffirm\nnext\n"
    up_to_turns = holds + "good\nnext\ntwo\n"
    bench_voice("work", own, "--typed", "--mute", "--journal", journals, typed=up_to_turns)
    first = newest(journals)
    own.write_text(own.read_text("utf-8").replace("version: 1", "version: 2"), "utf-8")

    went_on = bench_voice("work", own, "--typed", "--mute", "--journal", journals, typed="\n")
    assert "[sheet-changed]" in went_on.stderr
    assert "The sheet has been changed since." in went_on.stdout

    anew = bench_voice("work", own, "--typed", "--mute", "--new", "--journal", journals, typed="\n")
    assert "Step one." in anew.stdout
    record = json.loads(bench_voice("record", newest(journals), "--as", "json").stdout)
    assert newest(journals) != first
    assert [(one["reading"], one["value"]) for one in record["carried_over"]] == [("left-turns", "2")]
    assert record["readings"] == [], "what was measured in the other session is not measured in this one"


def test_a_badly_encoded_line_is_not_understood_and_the_next_one_is(tmp_path: Path) -> None:
    sheet = tmp_path / "own.yaml"
    sheet.write_text(start_sheet_text(), "utf-8")
    done = subprocess.run(
        [
            Path(sys.executable).with_name("bench-voice"),
            "work",
            sheet,
            "--typed",
            "--mute",
            "--journal",
            tmp_path / "kept",
        ],
        input=b"n\xe4chste Notiz\nwhere are we\n",
        capture_output=True,
        timeout=60,
        check=False,
    )
    lines = done.stdout.decode().splitlines()
    assert done.returncode == 10, done.stderr
    assert "bench: Say again?" in lines[2]
    assert lines[-1].startswith("bench: Step one of")
