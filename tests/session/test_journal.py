"""The journal file: cut, bent, full, locked, old, new, foreign. What was accepted is there; what is damaged is said."""

from __future__ import annotations

import errno
import json
import os
import resource
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from session_driver import SHEET, Clock, fingerprint, run

from bench_voice.core import events as ev
from bench_voice.core.cases import (
    Again,
    Answer,
    Basis,
    Changed,
    Hindrance,
    Lapse,
    OpenedBy,
    Opening,
    Refusal,
    Reopening,
    Stage,
)
from bench_voice.core.history import DoneBefore, Earlier, LastValue
from bench_voice.core.intents import Asks, Intent, Kind, Measurement, Question, Remark
from bench_voice.core.sheet import Finding, ItemKind
from bench_voice.core.state import State
from bench_voice.core.verdict import Verdict
from bench_voice.errors import JournalError
from bench_voice.session import journal as jn
from bench_voice.session.owner import Owner
from bench_voice.sheets.load import load_text
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

KEPT = Path(__file__).resolve().parent / "kept"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The journal of a signed-off session."""
    folder = tmp_path_factory.mktemp("whole")
    run(folder)
    (path,) = folder.glob("*.jsonl")
    return path


def short(folder: Path) -> tuple[Owner, jn.JournalWriter, list[str]]:
    """A session at its first step, and what it says."""
    sheet = load_text(SHEET, "bench-supply.yaml")
    writer = jn.JournalWriter.create(folder, "bench-supply--one--0", SHEET, sheet)
    said: list[str] = []
    owner = Owner(State(sheet), writer, Speaker(load_language("en")), Clock(1_767_600_000_000), said.extend)
    owner.begin()
    return owner, writer, said


def note(text: str) -> Intent:
    return Remark(Kind.NOTE, text=text, heard=f"note {text}")


def refused(path: Path) -> JournalError:
    with pytest.raises(JournalError) as caught:
        jn.read(path)
    return caught.value


# -- cut and bent


def test_cut_at_every_byte_reopens_as_a_prefix_or_refuses_with_a_reason(whole: Path, tmp_path: Path) -> None:
    raw, all_lines = whole.read_bytes(), jn.read(whole).lines
    header_end = raw.index(b"\n") + 1
    path = tmp_path / "cut.jsonl"
    for size in range(len(raw) + 1):
        path.write_bytes(raw[:size])
        if size < header_end:
            assert refused(path).slug in ("journal-empty", "journal-damaged"), size
            continue
        found = jn.read(path)
        assert found.lines == all_lines[: len(found.lines)], size
        assert raw[: found.whole_bytes] + found.torn == raw[:size], "a byte is lost"
        if size == len(raw):
            assert found.torn == b""
            assert found.lines == all_lines


def test_a_decision_without_all_of_its_events_was_never_accepted(whole: Path, tmp_path: Path) -> None:
    """ "next" is several events: a death between their lines must not leave a step done and not left."""
    lines = whole.read_bytes().splitlines(keepends=True)
    index = next(i for i, line in enumerate(lines) if b'"StepDone"' in line)
    path = tmp_path / "half.jsonl"
    path.write_bytes(b"".join(lines[: index + 1]))
    found = jn.read(path)
    assert not any(isinstance(line.event, ev.StepDone) for line in found.lines)
    assert b"StepDone" in found.torn


def test_a_torn_end_is_kept_beside_and_the_session_goes_on(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "bench-supply--one--0.jsonl"
    raw = whole.read_bytes()
    lines = raw.splitlines(keepends=True)
    torn = lines[9][:40]
    path.write_bytes(b"".join(lines[:9]) + torn)
    set_aside = jn.read(path).torn
    assert set_aside.endswith(torn)
    state = run(tmp_path)
    assert fingerprint(state) == fingerprint(jn.replay(load_text(SHEET, "x"), jn.read(whole).lines))
    assert set_aside in path.with_suffix(".torn").read_bytes()


def test_one_flipped_bit_anywhere_is_found(whole: Path, tmp_path: Path) -> None:
    raw, path = whole.read_bytes(), tmp_path / "bent.jsonl"
    good = jn.read(whole)
    for place in range(len(raw)):
        bent = bytearray(raw)
        bent[place] ^= 1 << (place % 8)
        path.write_bytes(bytes(bent))
        try:
            found = jn.read(path)
        except JournalError as error:
            assert error.slug in ("journal-damaged", "journal-empty", "journal-newer"), place  # noqa: PT017 (some changes are harmless: it may not raise)
            continue
        # Only the end can still be read: then what is bent is set aside, and said to be torn.
        assert found.torn, place
        assert len(found.lines) < len(good.lines), place


def test_each_bit_of_a_line_in_the_middle_is_found_with_its_sequence_number(whole: Path, tmp_path: Path) -> None:
    lines, path = whole.read_bytes().splitlines(keepends=True), tmp_path / "bent.jsonl"
    for bit in range(len(lines[4]) * 8):
        bent = bytearray(lines[4])
        bent[bit // 8] ^= 1 << (bit % 8)
        path.write_bytes(b"".join((*lines[:4], bytes(bent), *lines[5:])))
        error = refused(path)
        assert error.slug == "journal-damaged"
        assert "sequence 4" in error.what or "sequence 5" in error.what, error.what


@pytest.mark.parametrize("change", ["leave-out", "twice", "swap"])
def test_lines_left_out_doubled_or_swapped_are_found(change: str, whole: Path, tmp_path: Path) -> None:
    lines, path = whole.read_bytes().splitlines(keepends=True), tmp_path / "x.jsonl"
    changed = {
        "leave-out": [*lines[:5], *lines[6:]],
        "twice": [*lines[:6], *lines[5:]],
        "swap": [*lines[:5], lines[6], lines[5], *lines[7:]],
    }[change]
    path.write_bytes(b"".join(changed))
    assert refused(path).slug == "journal-damaged"


# -- full, failing, read-only


def test_failing_fsync_takes_nothing_says_why_and_goes_on_after_mending(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    owner, writer, said = short(tmp_path)
    before, n_said, path = owner.state, len(said), writer.path
    raw = path.read_bytes()

    def no_space(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", no_space)
        with pytest.raises(JournalError, match="No space left") as caught:
            owner.take(note("a first word"))
    assert caught.value.slug == "journal-unwritable"
    assert owner.state == before
    assert len(said) == n_said, "it spoke of what is not on disk"
    # The disk has room again, but this writer has lost its trust: nothing more until the start after.
    with pytest.raises(JournalError, match="Nothing more is taken"):
        owner.take(note("a second word"))
    writer.close()
    assert path.read_bytes() == raw, "what was not accepted must not come back"
    found = jn.read(path)
    writer = jn.JournalWriter.reopen(found)
    writer.append((ev.NoteTaken("mains", "a third word"),), 1_767_600_100_000)
    writer.close()
    assert [line.event for line in jn.read(path).lines][-1] == ev.NoteTaken("mains", "a third word")


def test_a_full_disk_for_real(tmp_path: Path) -> None:
    """RLIMIT_FSIZE: the kernel refuses to let the file grow, in the middle of a line."""
    code = f"""
import resource, signal, sys
sys.path[:0] = {[str(Path(__file__).resolve().parent)]!r}
from pathlib import Path
from test_journal_helpers import fill
fill(Path({str(tmp_path)!r}))
"""
    helper = tmp_path / "test_journal_helpers.py"
    helper.write_text(
        """
import resource, signal
from session_driver import SHEET
from bench_voice.core import events as ev
from bench_voice.errors import JournalError
from bench_voice.session import journal as jn
from bench_voice.sheets.load import load_text

def fill(folder):
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    writer = jn.JournalWriter.create(folder, "bench-supply--one--0", SHEET, load_text(SHEET, "x"))
    resource.setrlimit(resource.RLIMIT_FSIZE, (5000, 5000))
    accepted = 0
    try:
        while True:
            writer.append((ev.NoteTaken("mains", "word " * 9),), 2)
            accepted += 1
    except JournalError as error:
        print(accepted, error.slug)
"""
    )
    done = subprocess.run(
        [sys.executable, "-c", code.replace("sys.path[:0] = [", f"sys.path[:0] = [{str(tmp_path)!r}, ")],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    accepted, slug = done.stdout.split()
    assert slug == "journal-unwritable"
    found = jn.read(next(tmp_path.glob("*.jsonl")))
    assert len(found.lines) == int(accepted) > 0
    assert found.torn == b"", "the half line was taken back"


def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    """A file where the folder should be; a folder without permission where the tests do not run as root."""
    (tmp_path / "file").write_text("")
    sheet = load_text(SHEET, "x")
    with pytest.raises(JournalError) as caught:
        jn.JournalWriter.create(tmp_path / "file", "x", SHEET, sheet)
    assert caught.value.slug == "journal-unwritable"
    if os.geteuid() != 0:
        closed = tmp_path / "closed"
        closed.mkdir(mode=0o500)
        with pytest.raises(JournalError) as caught:
            jn.JournalWriter.create(closed, "x", SHEET, sheet)
        assert caught.value.slug == "journal-unwritable"


def test_a_journal_that_became_read_only(whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = Path(shutil.copy(whole, tmp_path))
    found = jn.read(path)

    def refuses(self: Path, *args: object, **kwargs: object) -> object:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(Path, "open", refuses)
    with pytest.raises(JournalError, match="Permission denied") as caught:
        jn.JournalWriter.reopen(found)
    assert caught.value.slug == "journal-unwritable"


# -- who else


def test_two_processes_cannot_write_one_journal(tmp_path: Path) -> None:
    _, writer, _ = short(tmp_path)
    code = (
        "import sys\nfrom pathlib import Path\nfrom bench_voice.errors import JournalError\n"
        "from bench_voice.session import journal as jn\n"
        "try:\n    jn.JournalWriter.reopen(jn.read(Path(sys.argv[1])))\n"
        "except JournalError as error:\n    print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(writer.path)], capture_output=True, text=True, check=False, timeout=60
    )
    assert "[journal-locked]" in done.stdout, done.stderr
    assert f"process {os.getpid()}" in done.stdout, "it does not say who holds it"
    writer.close()
    again = subprocess.run(
        [sys.executable, "-c", code, str(writer.path)], capture_output=True, text=True, check=False, timeout=60
    )
    assert again.stdout == "", "the lock outlived its holder"


# -- old, new, empty, foreign


def reseal(path: Path, change: dict[str, object]) -> None:
    """Writes the header anew with `change` in it, rightly hashed, and drops the rest."""
    header = json.loads(path.read_bytes().splitlines()[0])
    header.pop("hash")
    path.write_bytes(jn.sealed({**header, **change})[0])


def test_a_newer_format_is_refused_and_says_so(whole: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(whole, tmp_path))
    reseal(path, {"format": jn.FORMAT + 1})
    error = refused(path)
    assert error.slug == "journal-newer"
    assert f"format {jn.FORMAT + 1}" in error.what


def test_an_event_of_a_newer_version_is_refused_with_its_number(whole: Path, tmp_path: Path) -> None:
    lines = whole.read_bytes().splitlines(keepends=True)
    body = json.loads(lines[3])
    body.pop("hash")
    body["event"] = {"type": "SomethingOfTomorrow"}
    path = tmp_path / "tomorrow.jsonl"
    path.write_bytes(b"".join(lines[:3]) + jn.sealed(body)[0] + b"")
    assert "sequence 3" in refused(path).what


def test_an_empty_journal_is_refused_and_another_session_is_not_held_up(tmp_path: Path) -> None:
    path = tmp_path / "bench-supply--one--9.jsonl"
    path.write_bytes(b"")
    assert refused(path).slug == "journal-empty"
    assert jn.find_open(tmp_path, "bench-supply", "supply one") is None


def test_a_first_line_that_is_cut_off_is_no_reason_to_delete_the_file(tmp_path: Path) -> None:
    path = tmp_path / "bench-supply--one--9.jsonl"
    path.write_bytes(b'{"format": 1, "sheet": "be')
    error = refused(path)
    assert error.slug == "journal-empty"
    assert "cut off" in error.what
    assert "delete" not in error.mend


def test_a_journal_of_another_machine_or_sheet_is_not_taken(tmp_path: Path) -> None:
    _, writer, _ = short(tmp_path)
    writer.close()
    assert jn.find_open(tmp_path, "bench-supply", "supply one") is not None
    assert jn.find_open(tmp_path, "bench-supply", "supply two") is None
    assert jn.find_open(tmp_path, "bench", "supply one") is None


def test_an_ended_session_is_not_gone_on_with(whole: Path) -> None:
    assert jn.find_open(whole.parent, "bench-supply", "supply one") is None


def test_no_file_is_an_error_for_people(tmp_path: Path) -> None:
    assert refused(tmp_path / "none.jsonl").slug == "journal-unreadable"


@pytest.mark.parametrize("path", sorted(KEPT.glob("*.jsonl")), ids=lambda path: path.stem)
def test_kept_old_journals_go_on_replaying(path: Path) -> None:
    """Never write these anew: they are what people have on their disks."""
    found = jn.read(path)
    state = jn.replay(load_text(found.header["sheet_text"], path.name), found.lines)
    assert fingerprint(state) == path.with_suffix(".txt").read_text().strip()


def test_intents_in_kept_lines_are_read_and_written_as_they_were() -> None:
    """What a question was about, its options and an answer's figures, as journals hold them since format 1."""
    lines = (KEPT / "events-with-intents.json-lines").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 9
    for line in lines:
        event = jn.decode(json.loads(line))
        assert json.dumps(jn.encode(event), sort_keys=True) == line
        if isinstance(event, ev.Asked):
            assert isinstance(event.question, Question)
    correction = jn.decode(json.loads(lines[0]))
    assert isinstance(correction, ev.Asked)
    assert correction.question.is_about_correction


def test_there_is_a_kept_journal_of_every_format() -> None:
    formats = {jn.read(path).header["format"] for path in KEPT.glob("*.jsonl")}
    assert formats == set(range(1, jn.FORMAT + 1))


# -- order, codec


def test_every_event_is_on_disk_before_it_is_spoken_of(tmp_path: Path) -> None:
    checked = []

    def say(sentences: tuple[str, ...]) -> None:
        (path,) = tmp_path.glob("*.jsonl")
        checked.append(len(jn.read(path).lines))

    run(tmp_path, say)
    (path,) = tmp_path.glob("*.jsonl")
    lines = jn.read(path).lines
    # Each decision has one time here (the clock moves at every look), so the last event of each time is its end.
    ends = [i for i, line in enumerate(lines, 1) if i == len(lines) or lines[i].at_ms != line.at_ms]
    assert checked == ends


def test_every_kind_of_event_comes_back_as_it_was() -> None:
    from decimal import Decimal

    question = Question(
        asks=Asks.WHICH_NUMBER,
        options=(Measurement(Kind.READING, name="ripple", value=Decimal("4.60"), unit="mV"),),
        is_offer=True,
    )
    cases = (
        Again.MEASURE, Answer.OTHER, Basis.PAIR, Changed.NOTE, Hindrance.HOLD, Lapse.OTHER, Opening.NEXT, Refusal.NO_ROW,
        Reopening.UNDO, OpenedBy.VOICE, Stage.AS_LEFT, Verdict.OUT, Finding.BAD, ItemKind.PART, Kind.NEXT,
    )  # fmt: skip
    samples: dict[str, object] = {
        "str": "words – “ä”", "int": 3, "int | None": 3, "bool": True, "Decimal": Decimal("4.60"), "float | None": 0.5,
        "tuple[str, ...]": ("a", "b"), "Question": question, "Intent | None": question,
        **{type(one).__name__: one for one in cases},
        "tuple[InstrumentUse, ...]": (ev.InstrumentUse("ripple", "meter", Decimal("0.10"), Decimal("1.0")),),
        "tuple[Overdue, ...]": (ev.Overdue("meter", 12),),
        "tuple[Series, ...]": (ev.Series("ripple", 0, "hours", "h", ((Decimal("10.0"), Decimal("4.60")),)),),
        "Basis": Basis.LIMIT,
        "Decimal | None": Decimal("4200.0"),
        "Earlier": Earlier(
            (LastValue("ripple", 0, Decimal("4.60"), "mV", 7),), (DoneBefore("Change it.", 8, Decimal("1.0"), "h"),),
            "hours", Decimal("2.50"), "h", 9,
        ),
            "tuple[Carried, ...]": (ev.Carried("s", "ripple", 0, Decimal("4.60"), "mV", Stage.AS_FOUND),),
    }  # fmt: skip
    for cls in ev.EVENT_TYPES.values():
        event = cls(**{name: samples[str(kind)] for name, kind in getattr(cls, "__annotations__", {}).items()})
        back = jn.decode(json.loads(json.dumps(jn.encode(event))))
        assert back == event
        assert str(back) == str(event), "digits were lost"


def test_limits_of_the_process_are_as_they_were() -> None:
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY
