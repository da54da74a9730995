"""SIGKILL at every event boundary of a whole session and at 200 random moments: nothing accepted is lost or doubled.

The session runs in a forked process (see session_driver); what it had said is what counted as accepted.
"""

from __future__ import annotations

import os
import select
import signal
import time
import traceback
from pathlib import Path
from random import Random
from typing import Any

import pytest
from session_driver import dies, fingerprint, run

from bench_voice.core import events as ev
from bench_voice.session import journal as jn


def in_a_process(
    folder: Path, die_at: tuple[int, str] | None = None, kill_after_s: float | None = None
) -> tuple[int, int]:
    """(how many events the process had spoken about, its wait status). Killed from outside after `kill_after_s`."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            os.close(reading)
            if die_at:
                dies(*die_at)

            def say(sentences: tuple[str, ...]) -> None:
                lines = sum(path.read_bytes().count(b"\n") for path in folder.glob("*.jsonl"))
                os.write(writing, (lines - 1).to_bytes(4, "big"))

            run(folder, say)
            os._exit(0)
        except BaseException:
            traceback.print_exc()
            os._exit(99)
    os.close(writing)
    told, deadline = b"", None if kill_after_s is None else time.monotonic() + kill_after_s
    while True:
        left = None if deadline is None else max(0.0, deadline - time.monotonic())
        ready, _, _ = select.select([reading], [], [], left)
        if not ready:
            os.kill(pid, signal.SIGKILL)
            deadline = None
            continue
        chunk = os.read(reading, 4096)
        if not chunk:
            break
        told += chunk
    os.close(reading)
    status = os.waitpid(pid, 0)[1]
    assert not (os.WIFEXITED(status) and os.WEXITSTATUS(status) == 99), "the session raised"
    return (int.from_bytes(told[-4:], "big") if told else 0), status


def work(events: list[ev.Event]) -> list[ev.Event]:
    """What was done, without what every restart adds and what is asked anew after it."""
    talk = (ev.SessionStarted, ev.SessionResumed, ev.HoldPhraseHeard, ev.HoldLapsed, ev.QuestionClosed)
    opened: set[str] = set()
    kept: list[ev.Event] = []
    for event in events:
        if isinstance(event, ev.StepOpened):
            if event.step in opened:
                continue
            opened.add(event.step)
        if not isinstance(event, talk):
            kept.append(event)
    return kept


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, list[ev.Event], int]:
    """Fingerprint of the end, the work done, and how many writes it takes, when nothing happens."""
    folder = tmp_path_factory.mktemp("whole")
    writes, real = [0], os.fsync

    def counting(fd: Any) -> None:
        writes[0] += 1
        real(fd)

    os.fsync = counting
    try:
        end = fingerprint(run(folder))
    finally:
        os.fsync = real
    return end, work([line.event for line in only(folder).lines]), writes[0]


def only(folder: Path) -> jn.JournalFile:
    """The journal; one whose header was never whole holds nothing and stays aside."""
    return jn.read(max(folder.glob("*.jsonl"), key=lambda path: path.stat().st_size))


def goes_on(folder: Path, told: int, undisturbed: tuple[str, list[ev.Event], int]) -> None:
    """After a death: what was spoken about is there, and the session ends where the undisturbed one ends."""
    if any(folder.glob("*.jsonl")) and next(folder.glob("*.jsonl")).stat().st_size and told:
        assert len(only(folder).lines) >= told, "an accepted event is lost"
    end = fingerprint(run(folder))
    assert end == undisturbed[0]
    done = work([line.event for line in only(folder).lines])
    assert done == undisturbed[1], "an event twice, or another one"


# The first decision is the first write, its header with it; the folder itself is synced after it.
@pytest.mark.parametrize("how", ["before", "after", "half"])
def test_sigkill_at_every_write(how: str, tmp_path: Path, undisturbed: tuple[str, list[ev.Event], int]) -> None:
    n_writes = undisturbed[2]
    assert n_writes >= 15
    for n in (1, *range(3, n_writes + 1)) if how == "half" else range(1, n_writes + 1):
        folder = tmp_path / str(n)
        told, status = in_a_process(folder, die_at=(n, how))
        assert os.WIFSIGNALED(status), n
        assert os.WTERMSIG(status) == signal.SIGKILL
        goes_on(folder, told, undisturbed)


def test_sigkill_at_200_random_moments(tmp_path: Path, undisturbed: tuple[str, list[ev.Event], int]) -> None:
    times = []
    for number in range(5):  # the quickest: one that was held up would make most kills come too late
        started = time.monotonic()
        in_a_process(tmp_path / f"measured{number}")
        times.append(time.monotonic() - started)
    whole_s = min(times)
    rng, killed = Random(20260105), 0
    for number in range(200):
        folder = tmp_path / str(number)
        folder.mkdir()
        told, status = in_a_process(folder, kill_after_s=rng.uniform(0, whole_s * 0.8))
        killed += os.WIFSIGNALED(status)
        if not any(folder.glob("*.jsonl")):
            continue  # died before there was a journal: nothing was accepted
        if is_ended(folder):
            continue
        assert os.WIFSIGNALED(status), "ended by itself with an open journal"
        goes_on(folder, told, undisturbed)
    assert killed >= 100, f"only {killed} of 200 were killed in time"


def is_ended(folder: Path) -> bool:
    if not any(b"\n" in path.read_bytes() for path in folder.glob("*.jsonl")):
        return False  # no whole header: nothing was accepted
    return only(folder).is_ended


def test_killed_again_and_again_in_one_session(tmp_path: Path, undisturbed: tuple[str, list[ev.Event], int]) -> None:
    """Each process gets a few writes further than the one before."""
    told = 0
    for _ in range(40):
        told, status = in_a_process(tmp_path, die_at=(4, "half"))
        if not os.WIFSIGNALED(status):
            break
    goes_on(tmp_path, told, undisturbed)
