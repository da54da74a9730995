"""Every event is on disk before its words are printed: the process is killed at each of them, and compared."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from journal import events_of, newest
from script import load, typed_lines

ROOT = Path(__file__).resolve().parents[2]
SHEET = ROOT / "demo" / "trailer-hub-brake.yaml"
# The session up to the first kill of the demo's script: from there on it is resumed, which the second test does.
LINES = [line for lines in typed_lines(load(ROOT / "demo" / "scripts" / "service.yaml"))[:1] for line in lines]


class Typed:
    """A typed session fed line by line."""

    def __init__(self, journals: Path) -> None:
        command = [sys.executable, "-m", "bench_voice.cli", "work", str(SHEET), "--typed", "--mute"]
        self._child = subprocess.Popen(
            [*command, "--journal", str(journals)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            bufsize=1,
            cwd=ROOT,
        )

    def reply(self) -> str:
        """The next line it says; "" when it has ended."""
        assert self._child.stdout is not None
        for line in self._child.stdout:
            if line.startswith("bench: "):
                return line.removeprefix("bench: ").strip()
        return ""

    def type(self, words: str) -> None:
        assert self._child.stdin is not None
        self._child.stdin.write(f"{words}\n")
        self._child.stdin.flush()

    def kill(self) -> None:
        self._child.kill()
        self._child.wait()
        assert self._child.stdin is not None
        assert self._child.stdout is not None
        self._child.stdout.close()
        self._child.stdin.close()


def plain(events: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Without what depends on when it happened."""
    return [{k: v for k, v in event.items() if k not in ("gap_ms", "due_ms")} for event in events]


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[dict[str, Any]], list[int], list[str]]:
    """The undisturbed session: its events, how many there are after each line (0: the beginning), what was said."""
    folder = tmp_path_factory.mktemp("reference")
    session = Typed(folder)
    said = [session.reply()]
    counts = [len(events_of(newest(folder)))]
    for line in LINES:
        session.type(line)
        said.append(session.reply())
        counts.append(len(events_of(newest(folder))))
    session.kill()
    return plain(events_of(newest(folder))), counts, said


def test_the_session_has_what_is_to_be_lost(reference: tuple[list[dict[str, Any]], list[int], list[str]]) -> None:
    events, counts, said = reference
    assert all(said), "every line is answered"
    assert counts == sorted(counts)
    assert {"HoldConfirmed", "ReadingRecorded", "ReadingCorrected", "ItemOpened"} <= {e["event"] for e in events}


@pytest.mark.parametrize("n_lines", range(len(LINES) + 1))
def test_killed_when_its_words_appear_nothing_is_lost(
    n_lines: int, tmp_path: Path, reference: tuple[list[dict[str, Any]], list[int], list[str]]
) -> None:
    """The moment the answer to line n is on standard output the process gets SIGKILL: its events must be on disk."""
    events, counts, said = reference
    session = Typed(tmp_path)
    answer = session.reply()
    for line in LINES[:n_lines]:
        session.type(line)
        answer = session.reply()
    session.kill()
    assert answer == said[n_lines]
    assert plain(events_of(newest(tmp_path))) == events[: counts[n_lines]]


def test_comes_back_at_the_same_step_with_the_register(
    tmp_path: Path, reference: tuple[list[dict[str, Any]], list[int], list[str]]
) -> None:
    events, _, _ = reference
    session = Typed(tmp_path)
    session.reply()
    for line in LINES:
        session.type(line)
        session.reply()
    session.kill()
    again = Typed(tmp_path)
    answer = again.reply()
    again.kill()
    journal = events_of(newest(tmp_path))
    assert len(list(tmp_path.glob("*.jsonl"))) == 1
    assert plain(journal)[: len(events)] == events
    assert journal[len(events)]["event"] == "SessionResumed"
    steps = [event["step"] for event in events if event["event"] == "StepOpened"]
    assert [e for e in journal[len(events) :] if e["event"] == "StepOpened"] == []
    number = 1 + step_ids().index(steps[-1])
    assert f"Step {in_words(number)}." in answer
    assert "cable tape" in answer.lower(), "it says what is still on"


def step_ids() -> list[str]:
    from bench_voice.sheets.load import load_sheet

    return [step.id for step in load_sheet(SHEET).steps]


def in_words(number: int) -> str:
    """By a library that is not ours."""
    from num2words import num2words

    return str(num2words(number)).replace("-", " ")
