"""Where a command writes: never over what it reads, never over a journal; output that is closed, broken or full."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from journal import newest

from bench_voice import cli
from bench_voice.audio.wav import write_wav
from bench_voice.sheets.pages import start_sheet_text

ROOT = Path(__file__).resolve().parents[2]
Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A job sheet of one's own."""
    path = tmp_path / "own.yaml"
    path.write_text(start_sheet_text(), "utf-8")
    return path


@pytest.fixture
def journal(bench_voice: Run, own: Path, journals: Path) -> Path:
    bench_voice("work", own, "--typed", "--mute", "--journal", journals, typed="next\n")
    path = newest(journals)
    assert path is not None
    return path


def refused(done: subprocess.CompletedProcess[str], code: int, slug: str, *kept: tuple[Path, bytes]) -> None:
    assert (done.returncode, done.stdout) == (code, "")
    assert len(done.stderr.splitlines()) == 1
    assert done.stderr.endswith(f"[{slug}]\n")
    for path, content in kept:
        assert path.read_bytes() == content


def test_a_record_is_never_written_over_a_journal(bench_voice: Run, journal: Path, tmp_path: Path) -> None:
    content = journal.read_bytes()
    link, hard, other = tmp_path / "link.html", tmp_path / "hard.html", tmp_path / "other.html"
    link.symlink_to(journal)
    hard.hardlink_to(journal)
    other.write_bytes(content.splitlines(keepends=True)[0] + b"damaged")
    for out in (journal, link, hard, journal.parent / ".." / journal.parent.name / journal.name):
        refused(bench_voice("record", journal, "--out", out), 5, "record-unwritable", (journal, content))
    refused(bench_voice("record", journal, "--out", other), 5, "record-unwritable", (other, other.read_bytes()))
    assert bench_voice("verify", journal).returncode == 0
    page = tmp_path / "record.html"
    for _ in range(2):  # an earlier record is written over
        assert bench_voice("record", journal, "--out", page).returncode == 0
    assert page.read_text("utf-8").startswith("<!doctype html>")


def test_a_page_is_never_written_over_its_sheet_or_pictures(bench_voice: Run, own: Path, journal: Path) -> None:
    picture = own.parent / "ring.png"
    picture.write_bytes(b"\x89PNG\r\n\x1a\npicture")
    own.write_text(own.read_text("utf-8").replace("\n    say:", "\n    picture: ring.png\n    say:", 1), "utf-8")
    assert "picture: ring.png" in own.read_text("utf-8")
    for out in (own, picture, journal):
        kept = (out, out.read_bytes())
        for more in ((), ("--json",)):
            refused(bench_voice("check", own, "--page", out, *more), 2, "check-page-unwritable", kept)
    page = own.parent / "page.html"
    assert bench_voice("check", own, "--page", page).returncode == 0
    assert page.exists()


def test_sound_is_never_written_over_a_sheet_a_recording_or_a_journal(
    bench_voice: Run, own: Path, journal: Path, journals: Path
) -> None:
    recording = own.parent / "mechanic.wav"
    write_wav(recording, bytes(32_000))
    before = sorted(journals.iterdir())
    for out in (own, journal):
        kept = (out, out.read_bytes())
        work = ("work", own, "--typed", "--journal", journals, "--say-to", out)
        refused(bench_voice(*work), 4, "say-to-unwritable", kept)
        refused(bench_voice("check", own, "--read-aloud", "--say-to", out), 4, "say-to-unwritable", kept)
    kept = (recording, recording.read_bytes())
    listen = ("work", own, "--listen", recording, "--journal", journals, "--say-to", recording)
    refused(bench_voice(*listen), 4, "say-to-unwritable", kept)
    assert sorted(journals.iterdir()) == before, "no session was begun"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_under_the_sound_file_is_told(bench_voice: Run, own: Path, journals: Path) -> None:
    refused(bench_voice("check", own, "--read-aloud", "--say-to", "/dev/full"), 4, "say-to-unwritable")
    for how in ("--typed", "--no-sound-check"):
        done = bench_voice("work", own, how, "--journal", journals, "--say-to", "/dev/full")
        refused(done, 4, "say-to-unwritable")


def started(arguments: list[object], **streams: Any) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "bench_voice.cli", *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, timeout=120, check=False, text=True, **streams)


@pytest.mark.parametrize("is_unbuffered", ["", "1"])
def test_streams_that_were_closed_lead_nowhere(
    is_unbuffered: str, own: Path, journals: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONUNBUFFERED", is_unbuffered)

    def without(closed: str, *arguments: object) -> tuple[int, str, str]:
        command = [sys.executable, "-m", "bench_voice.cli", *map(str, arguments)]
        done = subprocess.run(
            ["bash", "-c", f'exec "$@" {closed}', "bash", *command],
            cwd=ROOT, capture_output=True, text=True, timeout=120, check=False,
        )  # fmt: skip
        return done.returncode, done.stdout, done.stderr

    assert without(">&-", "check", own, "--json") == (0, "", "")
    assert without(">&-", "--help") == (0, "", "")
    assert without("2>&-", "understand", "--sheet", own) == (2, "", "")
    assert without(">&- <&- 2>&-", "work", own, "--typed", "--mute", "--journal", journals) == (10, "", "")
    path = newest(journals)
    assert path is not None
    assert without("", "verify", path)[0] == 0, "nothing was printed into the journal"
    assert without(">&-", "record", path) == (0, "", "")


# As a library of the sound card may leave it: then a closed pipe raises instead of ending the process.
SIGPIPE_OFF = """
import signal, sys
from bench_voice import cli
signal.signal = lambda *_: None
sys.argv = ["bench-voice", *sys.argv[1:]]
cli.entry()
"""


@pytest.mark.parametrize("is_unbuffered", ["", "1"])
def test_a_pipe_that_nobody_reads_any_more_is_a_quiet_end(
    is_unbuffered: str, own: Path, journal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONUNBUFFERED", is_unbuffered)
    for arguments in (("check", own), ("check", own, "--json"), ("record", journal), ("check", own, "--debug")):
        reading, writing = os.pipe()
        os.close(reading)
        command = [sys.executable, "-c", SIGPIPE_OFF, *map(str, arguments)]
        done = subprocess.run(
            command, cwd=ROOT, stdout=writing, stderr=subprocess.PIPE, timeout=120, check=False, text=True
        )
        os.close(writing)
        assert (done.returncode, done.stderr) == (141, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("is_unbuffered", ["", "1"])
def test_a_full_disk_under_standard_output_is_told(
    is_unbuffered: str, own: Path, journal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONUNBUFFERED", is_unbuffered)
    with open("/dev/full", "w") as full:
        for arguments in (["check", own], ["check", own, "--json"], ["record", journal]):
            done = started(arguments, stdout=full, stderr=subprocess.PIPE)
            assert done.returncode == 2
            assert done.stderr.startswith("Standard output cannot be written (No space left on device).")
            assert done.stderr.endswith("[output-unwritable]\n")
            assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize(
    ("arguments", "code", "text"),
    [
        (["work", "x.yaml"], 10, "Ended; the session is kept.\n"),
        (["hear", "x.wav"], 130, ""),
        (["self-check"], 130, ""),
        (["check", "x.yaml"], 130, ""),
    ],
)
def test_only_a_session_is_kept_when_it_is_interrupted(
    arguments: list[str], code: int, text: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(args: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, f"_{arguments[0].replace('-', '_')}", interrupted)
    assert cli.main(arguments) == code
    assert capsys.readouterr() == ("", text)
