"""Every command with hostile files, streams, folders and settings: exit code and message as they were accepted.

`expected.txt` holds a line a case. After a wanted change: `BENCH_VOICE_ACCEPT=1 pytest tests/hostile`, then read the
difference. What no acceptance can take in is asserted besides: no traceback, no `[internal]`, nothing that hangs, and
no control sign that reaches the terminal.
"""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from starter import (
    ANY_CONTENT,
    COMMANDS,
    CONTENTS,
    GOOD,
    PLACES,
    UNICODE,
    WRITES,
    Ended,
    Starter,
    make_files,
    shown,
    surroundings,
)

EXPECTED = Path(__file__).resolve().parent / "expected.txt"
CODES = {0, 1, 2, 3, 4, 5, 10}

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with a name")


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Starter]:
    one = Starter(tmp_path_factory.mktemp("hostile"))
    yield one
    one.close()


def fault_of(ended: Ended) -> str:
    """What must never be, whatever was accepted; "" where it is not."""
    if ended.code not in CODES:
        return f"ends with {ended.code}"
    for word in ("Traceback", "[internal]", "MemoryError"):
        if word in ended.out + ended.err:
            return f"shows {word}: {ended.err[-300:]}"
    unseen = {char for char in ended.out + ended.err if unicodedata.category(char) in ("Cc", "Cf", "Cs")} - set("\n\t")
    if unseen:
        return f"prints {unseen}"
    if ended.code not in (0, 1, 10) and not re.search(r"\[[a-z-]+\]\s*$", ended.err):
        return f"its message has no word to look up: {ended.err[-200:]!r}"
    return ""


def compare(found: dict[str, str], section: str) -> None:
    """With the accepted lines of this section."""
    known: dict[str, str] = {}
    if EXPECTED.exists():
        for line in EXPECTED.read_text("utf-8").splitlines():
            key, _, value = line.partition(" => ")
            known[key] = value
    mine = {f"{section} | {key}": value for key, value in found.items()}
    if os.environ.get("BENCH_VOICE_ACCEPT"):
        known = {key: value for key, value in known.items() if not key.startswith(f"{section} | ")} | mine
        EXPECTED.write_text("".join(f"{key} => {value}\n" for key, value in sorted(known.items())), "utf-8")
        return
    accepted = {key: value for key, value in known.items() if key.startswith(f"{section} | ")}
    assert mine == accepted


@pytest.fixture(scope="module")
def files(starter: Starter) -> list[tuple[str, bytes]]:
    return list(make_files(starter.folder))


@pytest.mark.parametrize("place", PLACES)
def test_hostile_files(place: str, starter: Starter, files: list[tuple[str, bytes]]) -> None:
    found: dict[str, str] = {}
    faults: list[str] = []
    for name, path in files:
        if place in WRITES and not path.startswith(os.fsencode(starter.folder)):
            continue
        if place in ANY_CONTENT and name in CONTENTS and name != "a sheet":
            continue
        ended = starter.start(PLACES[place](path))
        found[name] = shown(ended)
        if fault := fault_of(ended):
            faults.append(f"{name}: {fault}")
    assert faults == []
    compare(found, place)


@pytest.mark.parametrize("command", COMMANDS)
def test_hostile_surroundings(command: str, starter: Starter, tmp_path: Path) -> None:
    found: dict[str, str] = {}
    faults: list[str] = []
    for name, options in surroundings(tmp_path).items():
        ended = starter.start(COMMANDS[command], **options)
        found[name] = shown(ended, tmp_path)
        if options.get("stderr", "") is not None and (fault := fault_of(ended)):
            faults.append(f"{name}: {fault}")
        elif ended.code not in CODES:
            faults.append(f"{name}: ends with {ended.code}")
    assert faults == []
    compare(found, command)


def test_what_is_typed(starter: Starter, tmp_path: Path) -> None:
    """A line of 10 MB is left out and the next is taken; what is not seen is shown; ASCII does not end a session."""
    typed = tmp_path / "typed"
    typed.write_text(f"note, {'x' * 10_000_000}\nnote, a{UNICODE}b ä\nnext\n", "utf-8")
    for encoding in ("utf-8", "ascii"):
        ended = starter.start(
            ["work", GOOD, "--typed", "--mute", "--journal", tmp_path / encoding], stdin=str(typed), encoding=encoding
        )
        assert ended.code == 10
        assert fault_of(ended) == ""
        assert "[input-line-long]" in ended.err
        assert "you: note, a\\u202e\\u200b\\u001b[2Jb" in ended.out or encoding == "ascii"
        assert "you: next" in ended.out
        journal = next((tmp_path / encoding).glob("*.jsonl")).read_text("utf-8")
        assert "x" * 100 not in journal
        if encoding == "utf-8":
            assert "\\u202e" in journal or "\u202e" in journal  # as it was said
