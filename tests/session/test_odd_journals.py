"""One odd journal: named for what it is, and in nobody else's way."""

from __future__ import annotations

import hashlib
import io
import json
import os
import stat
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest
from journal_mutator import MOST_MB, _share, resealed
from test_newest import header_alone
from typed_work import STOPPED, UNFINISHED, Bench, mower

from bench_voice import cli
from bench_voice.errors import JournalError
from bench_voice.records.logbook import as_text, rows
from bench_voice.records.render import render
from bench_voice.session import journal as jn
from bench_voice.sheets.load import load_text

OTHER = mower(machine="mower two")


def test_three_hundred_bent_journals_through_seven_commands() -> None:
    """The whole of it: `python tests/session/journal_mutator.py` (10,000 seeds). One in fifty has 1 MB."""
    settings = os.environ.get("XDG_CONFIG_HOME")
    try:
        faults, kinds, _ = _share(range(100_001, 100_301))
    finally:
        os.environ.pop("XDG_CONFIG_HOME", None)
        if settings is not None:
            os.environ["XDG_CONFIG_HOME"] = settings
    assert faults == []
    assert {"whole", "journal-damaged", "journal-foreign", "journal-empty"} <= set(kinds), kinds
    assert MOST_MB == 300


def opened(path: Path) -> int:
    """The line that opens the first step."""
    lines = path.read_text("utf-8").splitlines()
    return next(at for at, line in enumerate(lines) if '"type":"StepOpened"' in line)


def changed(path: Path, number: int, change: dict[str, Any], *, is_event: bool = True) -> None:
    """Another value in one line, and every hash reckoned anew."""
    lines = path.read_bytes().splitlines(keepends=True)
    body = json.loads(lines[number])
    (body["event"] if is_event else body).update(change)
    lines[number] = json.dumps(body, sort_keys=True, separators=(",", ":")).encode() + b"\n"
    path.write_bytes(resealed(b"".join(lines)))


def nested(path: Path) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join((*lines[:2], b"[" * 100_000 + b"]" * 100_000 + b"\n", *lines[3:])))


def put(path: Path, **event: Any) -> None:
    """Another event in place of the third, and every hash reckoned anew."""
    lines = path.read_bytes().splitlines(keepends=True)
    body = json.loads(lines[3]) | {"event": event}
    lines[3] = json.dumps(body, sort_keys=True, separators=(",", ":")).encode() + b"\n"
    path.write_bytes(resealed(b"".join(lines)))


def recorded(path: Path, **change: Any) -> None:
    """A reading, good but for `change`."""
    event = {"type": "ReadingRecorded", "step": "pad", "reading": "brake-pad", "point": 0, "value": "4", "unit": "mm"}
    event |= {"in_limit_unit": "4", "heard": "four", "stage": "as-found", "verdict": "good"}
    put(path, **(event | change))


def test_what_the_odd_ones_are_made_from_is_good(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    recorded(bench.newest)
    assert cli.main(["verify", str(bench.newest)]) == 0


ODD = {
    "nested": (nested, "journal-damaged"),
    "half a pair": (lambda path: changed(path, opened(path), {"step": "\ud800"}), "journal-foreign"),
    "unknown step": (lambda path: changed(path, opened(path), {"step": "nowhere"}), "journal-foreign"),
    "unknown event": (lambda path: changed(path, 2, {"type": "SomethingElse"}), "journal-foreign"),
    "text for a number": (lambda path: changed(path, 2, {"at_ms": "noon"}, is_event=False), "journal-foreign"),
    "year 300000": (lambda path: changed(path, 2, {"at_ms": 10**16}, is_event=False), "journal-foreign"),
    "another format": (lambda path: changed(path, 0, {"format": 9}, is_event=False), "journal-newer"),
    "no format": (lambda path: changed(path, 0, {"format": "x"}, is_event=False), "journal-foreign"),
    "no sheet": (lambda path: changed(path, 0, {"sheet_text": "- 1"}, is_event=False), "journal-foreign"),
    "unknown hold": (
        lambda path: put(path, type="HoldConfirmed", hold="nowhere", heard=""),
        "journal-foreign",
    ),
    "unknown kind of item": (
        lambda path: put(path, type="ItemOpened", key="k", name="k", kind="odd", by="voice"),
        "journal-foreign",
    ),
    "a unit that is none": (lambda path: recorded(path, unit="cubit"), "journal-foreign"),
    "a point before the first": (lambda path: recorded(path, point=-1), "journal-foreign"),
    "a number without end": (
        lambda path: recorded(path, value="1e999999", in_limit_unit="1e999999"),
        "journal-foreign",
    ),
}  # fmt: skip


@pytest.mark.parametrize("odd", ODD)
def test_it_is_named_and_stops_no_other(odd: str, bench: Bench, capsys: pytest.CaptureFixture[str]) -> None:
    bench.work(*UNFINISHED, text=OTHER)
    bench.work(*UNFINISHED)
    path = bench.newest
    bend, slug = ODD[odd]
    bend(path)
    assert cli.main(["verify", str(path)]) == 1
    assert f"[{slug}]" in capsys.readouterr().out
    assert cli.main(["record", str(path)]) == 5
    found = rows(bench.journals, None)
    assert [row.get("slug") or row["machine_id"] for row in found] == ["mower two", slug]
    refused = bench.work()
    assert refused.code == 5, "its own machine is told, since what it left open is not known"
    assert f"[{slug}]" in refused.errors[-1]
    assert bench.work(text=OTHER).bench[0].startswith("Back again:")
    begun = bench.new()
    assert begun.code == 10
    assert "[journal-passed-over]" in begun.errors[-1]


# -- a header alone


def test_a_header_alone_hides_nothing_that_was_left_open(bench: Bench) -> None:
    bench.work("next", *STOPPED)
    sheet = load_text(mower(), "sheet.yaml")
    name = jn.new_name(bench.journals, sheet.id, sheet.machine_id, bench.now_ms)
    header_alone(bench.journals / f"{name}.jsonl", mower(), sheet)
    assert "The session before left this open. Noted: red tag is on and must come off." in bench.work().bench[0]


def test_a_header_alone_is_no_session_in_logbook_and_record(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    path = bench.journals / "small-job--mower-one--20270105T080000000000Z.jsonl"
    header_alone(path, mower(), load_text(mower(), "sheet.yaml"))
    assert len(rows(bench.journals, None)) == 1
    with pytest.raises(JournalError, match="No session began"):
        render(path, "json")
    assert cli.main(["verify", str(path)]) == 0


def test_a_session_is_on_disk_with_its_first_decision(tmp_path: Path) -> None:
    """A process that ends while its ears load leaves no journal behind."""
    sheet = load_text(mower(), "sheet.yaml")
    writer = jn.JournalWriter.create(tmp_path, "one", mower(), sheet)
    assert list(tmp_path.glob("*.jsonl")) == []
    writer.close()


# -- damage and torn ends


@pytest.fixture
def ended(bench: Bench) -> Path:
    bench.work(*UNFINISHED)
    return bench.newest


def test_no_flipped_bit_of_the_last_line_passes_for_a_torn_end(ended: Path) -> None:
    raw = ended.read_bytes()
    last = raw.rstrip(b"\n").rfind(b"\n") + 1
    for bit in range(8 * last, 8 * len(raw)):
        data = bytearray(raw)
        data[bit // 8] ^= 1 << (bit % 8)
        ended.write_bytes(bytes(data))
        with pytest.raises(JournalError) as caught:
            jn.read(ended)
        assert caught.value.slug == "journal-damaged", bit


def test_a_torn_end_is_named_everywhere_and_said_at_the_resume(
    ended: Path, bench: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    ended.write_bytes(ended.read_bytes()[:-30])
    n_torn = len(jn.read(ended).torn)
    assert cli.main(["verify", str(ended)]) == 1
    assert f"its end is torn ({n_torn} bytes)" in capsys.readouterr().out
    assert f"The end of this journal is cut off ({n_torn} bytes)" in render(ended, "html")
    assert json.loads(render(ended, "json"))["journal"]["torn_bytes"] == n_torn
    assert "is cut off" in as_text(rows(bench.journals, None))
    again = bench.work()
    assert "The end of the journal was cut off. Say the last again." in again.bench[0]
    # And for good, when nothing of it is left in the file.
    assert json.loads(render(ended, "json"))["interruptions"][-1]["torn_bytes"] == n_torn
    assert "had been cut off" in render(ended, "html")
    assert "cut off" not in bench.work().bench[0]


# -- files that are none, and whose they are


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_in_place_of_a_journal_or_a_lock_is_not_waited_for(ended: Path, bench: Bench) -> None:
    os.mkfifo(bench.journals / "small-job--mower-two--20270105T080000000000Z.jsonl")
    os.mkfifo(bench.journals / "small-job--mower-one.holder")
    (bench.journals / "small-job--mower-one.lock").unlink(missing_ok=True)
    os.mkfifo(bench.journals / "small-job--mower-one.lock")
    assert "a pipe, a device or a folder" in as_text(rows(bench.journals, None))
    refused = bench.work("where are we")
    assert (refused.code, "[journal-lock-odd]" in refused.errors[-1]) == (5, True)
    (bench.journals / "small-job--mower-one.lock").unlink()
    assert bench.work("where are we").code == 10


def test_a_link_in_place_of_the_lock_is_not_followed(ended: Path, bench: Bench) -> None:
    precious = bench.folder / "precious.txt"
    precious.write_text("do not touch")
    for name in ("small-job--mower-one.lock", "small-job--mower-one.holder"):
        (bench.journals / name).unlink(missing_ok=True)
        (bench.journals / name).symlink_to(precious)
    done = bench.work("where are we")
    assert done.code == 5
    assert "[journal-lock-odd]" in done.errors[-1]
    (bench.journals / "small-job--mower-one.lock").unlink()
    assert bench.work("where are we").code == 10
    assert precious.read_text() == "do not touch"


@pytest.mark.skipif(os.name != "posix", reason="permissions are POSIX here")
def test_journals_are_for_their_person_alone(bench: Bench) -> None:
    old = os.umask(0)
    try:
        bench.work(*UNFINISHED)
        path = bench.newest
        path.write_bytes(path.read_bytes()[:-9])
        bench.work()
    finally:
        os.umask(old)
    assert stat.S_IMODE(bench.journals.stat().st_mode) == 0o700
    modes = {one.name: stat.S_IMODE(one.stat().st_mode) for one in bench.journals.iterdir()}
    assert any(name.endswith(".torn") for name in modes)
    assert set(modes.values()) == {0o600}, modes


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs another user's process")
def test_a_folder_that_cannot_be_listed_begins_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """As another user where the tests run as root, whom no permission stops."""
    with tempfile.TemporaryDirectory() as name:
        folder, nobody = Path(name), 65534
        monkeypatch.setenv("XDG_CONFIG_HOME", name)
        (folder / "sheet.yaml").write_text(mower())
        (folder / "journals").mkdir()
        os.chmod(folder, 0o755)
        os.chmod(folder / "sheet.yaml", 0o644)
        if os.geteuid() == 0:
            os.chown(folder / "journals", nobody, nobody)
        os.chmod(folder / "journals", 0o300)
        out = os.open(folder / "out", os.O_CREAT | os.O_RDWR)
        pid = os.fork()
        if pid == 0:
            if os.geteuid() == 0:
                os.setuid(nobody)
            os.dup2(out, 2)
            sys.stderr = os.fdopen(2, "w", closefd=False)
            sys.stdin = io.StringIO()
            argv = ["work", str(folder / "sheet.yaml"), "--typed", "--mute", "--journal", str(folder / "journals")]
            code = cli.main(argv)
            sys.stderr.flush()
            os._exit(code)
        status = os.waitpid(pid, 0)[1]
        os.close(out)
        os.chmod(folder / "journals", 0o700)
        assert os.waitstatus_to_exitcode(status) == 5
        assert "[journal-unreadable]" in (folder / "out").read_text()
        assert list((folder / "journals").glob("*.jsonl")) == []


# -- the sheet kept


def test_a_kept_sheet_that_was_changed_is_damage(ended: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Somebody widened the limit and reckoned every hash of the chain anew, but for the sheet's own."""
    lines = ended.read_bytes().splitlines()
    header = json.loads(lines[0])
    was = header["sheet_hash"]
    header["sheet_text"] = header["sheet_text"].replace("at least: 2.0", "at least: 0.1")
    raw = resealed(b"\n".join((json.dumps(header).encode(), *lines[1:])) + b"\n")
    assert hashlib.sha256(header["sheet_text"].encode()).hexdigest() in raw.decode()
    changed_back = raw.splitlines(keepends=True)
    body = json.loads(changed_back[0])
    body.pop("hash")
    changed_back[0] = jn.sealed({**body, "sheet_hash": was})[0]
    ended.write_bytes(b"".join(changed_back))
    assert cli.main(["verify", str(ended)]) == 1
    assert "the sheet kept in it is not the one" in capsys.readouterr().out
