"""Journals that people have on their disks, made before the journal was changed: they open, go on, and give the record
that they gave then. Never write them anew.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from session_driver import fingerprint
from typed_work import Bench

from bench_voice.core.state import State
from bench_voice.records.kept import replayed
from bench_voice.records.render import render
from bench_voice.session import journal as jn

KEPT = Path(__file__).resolve().parent / "kept_sessions"
JOURNALS = sorted(KEPT.glob("*.jsonl"))
each = pytest.mark.parametrize("path", JOURNALS, ids=lambda path: path.stem)


def test_there_are_five() -> None:
    assert [path.stem for path in JOURNALS] == ["corrections", "markings", "plain", "stopped", "torn"]


@each
def test_it_opens_with_the_state_it_had(path: Path) -> None:
    state: State = replayed(jn.read(path))
    assert fingerprint(state) == path.with_suffix(".state").read_text().strip()


def _holds(now: Any, then: Any) -> bool:
    """Whether all that was there then is there now. Keys may be added, never changed or lost."""
    if isinstance(then, dict):
        return isinstance(now, dict) and all(key in now and _holds(now[key], then[key]) for key in then)
    if isinstance(then, list):
        return isinstance(now, list) and len(now) == len(then) and all(map(_holds, now, then))
    return bool(now == then)


@each
def test_it_gives_the_record_it_gave(path: Path) -> None:
    then = json.loads(path.with_suffix(".json").read_text("utf-8"))
    assert then["started"]
    assert _holds(json.loads(render(path, "json")), then)
    table = list(csv.DictReader(io.StringIO(render(path, "csv"))))
    assert _holds(table, list(csv.DictReader(io.StringIO(path.with_suffix(".csv").read_text("utf-8")))))


@each
def test_it_goes_on_and_stays_whole(path: Path, bench: Bench) -> None:
    """One that has ended does not come back; an open one is gone on with in the same file."""
    found = jn.read(path)
    bench.journals.mkdir()
    stem = jn.session_stem(found.header["sheet"], found.header["machine"])
    copy = bench.journals / f"{stem}--20260105T080000000000Z.jsonl"
    shutil.copyfile(path, copy)
    done = bench.work("where are we", text=found.header["sheet_text"])
    assert done.code == 10
    assert done.bench[0].startswith("Back again:") is not found.is_ended
    after = jn.read(copy)
    assert after.lines[: len(found.lines)] == found.lines
    assert (len(after.lines) > len(found.lines)) is not found.is_ended
    assert after.torn == b""
    assert ("The end of the journal was cut off." in done.bench[0]) is bool(found.torn)
