"""One process at a time: who comes second is told who holds the session since when, and nothing is written twice."""

from __future__ import annotations

import io
import os
import re
import sys
import time
from pathlib import Path

import pytest
from typed_work import Bench, mower

from bench_voice import cli
from bench_voice.core import events as ev
from bench_voice.errors import JournalError
from bench_voice.session import journal as jn

STEM = jn.session_stem("small-job", "mower one")


def test_the_loser_is_told_who_holds_it_since_when(bench: Bench) -> None:
    bench.work("next")
    lock = jn.SessionLock.take(bench.journals, STEM)
    for more in ((), ("--new",)):
        done = bench.work("next", more=more)
        assert done.code == 5
        assert done.bench == []
        told = re.search(rf"\(process {os.getpid()}, since (\d\d:\d\d) UTC on (\d{{4}}-\d\d-\d\d)\)", done.errors[-1])
        assert told, done.errors
        assert f"{told[2]} {told[1]}" <= time.strftime("%Y-%m-%d %H:%M", time.gmtime())
        assert "[journal-locked]" in done.errors[-1]
        assert "room" not in done.errors[-1]
    assert len(list(bench.journals.glob("*.jsonl"))) == 1
    assert bench.work("next", text=mower(machine="mower two")).code == 10, "another machine is not held up"
    lock.release()
    assert bench.work("where are we").code == 10


def test_what_was_read_before_another_wrote_is_not_gone_on_with(bench: Bench) -> None:
    """The hash of the line before would be a stale one, and the journal damaged for ever."""
    bench.work("next")
    read_early = jn.read(bench.newest)
    bench.work("note, in between")
    with pytest.raises(JournalError, match="since it was read") as caught:
        jn.JournalWriter.reopen(read_early)
    assert caught.value.slug == "journal-locked"
    assert bench.work("where are we").code == 10, "its lock is free again"
    jn.read(bench.newest)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that begin at the same moment")
def test_six_starts_at_the_same_moment_make_one_session(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each tries until it was let in, and says one sentence: one session, every sentence once, the chain whole."""
    monkeypatch.undo()  # each process has its own clock
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    sheet, journals = tmp_path / "sheet.yaml", tmp_path / "journals"
    sheet.write_text(mower())
    start_reading, start_writing = os.pipe()
    children = []
    for number in range(6):
        pid = os.fork()
        if pid == 0:
            os.close(start_writing)
            os.read(start_reading, 1)  # until the others stand here too
            sys.stdout = sys.stderr = io.StringIO()
            code, deadline = 5, time.monotonic() + 60
            while code == 5 and time.monotonic() < deadline:
                sys.stdin = io.StringIO(f"note, number {number}\n")
                code = cli.main(["work", str(sheet), "--typed", "--mute", "--journal", str(journals)])
            os._exit(code)
        children.append(pid)
    os.close(start_reading)
    os.close(start_writing)
    codes = [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in children]
    assert codes == [10] * 6
    (path,) = journals.glob("*.jsonl")
    events = [line.event for line in jn.read(path).lines]
    notes = sorted(event.text for event in events if isinstance(event, ev.NoteTaken))
    assert notes == [f"number {number}" for number in range(6)]
    assert sum(isinstance(event, ev.SessionStarted) for event in events) == 1
