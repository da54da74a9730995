"""Which session comes back: the newest of its sheet and machine, or none; and which damaged journal is in the way."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typed_work import STOPPED, UNFINISHED, WHOLE, Bench, mower

from bench_voice import cli
from bench_voice.core.cases import Refusal
from bench_voice.core.events import Refused
from bench_voice.core.intents import Kind
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import JournalError
from bench_voice.session import journal as jn
from bench_voice.sheets.load import load_text

BACK = "Back again: Small job."
OTHER = mower(machine="mower two")


def header_alone(path: Path, text: str, sheet: JobSheet) -> None:
    """A journal with a first line and no event."""
    header = {"format": 1, "sheet": sheet.id, "machine": sheet.machine_id, "sheet_version": sheet.version}
    header |= {"sheet_text": text, "sheet_hash": jn.sheet_hash(text)}
    path.write_bytes(jn.sealed({**header, "seq": 0, "at_ms": 1_767_600_000_000, "prev": "0" * 64})[0])


def passed_over(lines: list[str]) -> list[str]:
    return [line for line in lines if "[journal-passed-over]" in line]


# -- the newest, or none


def test_an_open_session_comes_back(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    again = bench.work("took off red tag", "next")
    assert again.bench[0].startswith(BACK)
    assert again.code == 0


@pytest.mark.parametrize("end", [WHOLE, STOPPED])
def test_what_was_abandoned_does_not_come_back_after_a_newer_one_has_ended(end: tuple[str, ...], bench: Bench) -> None:
    bench.work(*UNFINISHED)
    bench.new(*end)
    third = bench.work("brake pad four")
    assert third.bench[0].startswith("Small job, Make-believe mower.")
    assert "Step one." in third.bench[0]
    assert len(list(bench.journals.glob("*.jsonl"))) == 3


def test_of_two_open_ones_the_newer_comes_back(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    bench.new("next")
    again = bench.work()
    assert again.bench[0].startswith(BACK)
    assert "Step two." in again.bench[0]


def test_a_newer_session_of_another_machine_or_sheet_ends_nothing_here(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    assert bench.work(*WHOLE, text=OTHER).code == 0
    assert bench.work(*WHOLE, text=mower(sheet="small-job-two")).code == 0
    assert bench.work().bench[0].startswith(BACK)


def test_a_clock_that_went_back_makes_no_session_older_than_it_is(bench: Bench) -> None:
    """A machine without a clock of its own may begin in the past: the last one begun is still the newest."""
    bench.new(*WHOLE)
    first = bench.newest
    bench.now_ms -= 400 * 86_400_000
    bench.new(*UNFINISHED)
    assert bench.newest != first
    assert bench.work().bench[0].startswith(BACK)


def test_a_start_that_came_to_nothing_leaves_no_journal_and_hides_no_session(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    before = sorted(bench.journals.glob("*.jsonl"))
    sheet_file, journals = str(bench.folder / "sheet.yaml"), str(bench.journals)
    assert cli.main(["work", sheet_file, "--new", "--mute", "--listen", "nosuch.wav", "--journal", journals]) == 4
    assert sorted(bench.journals.glob("*.jsonl")) == before
    sheet = load_text(mower(), "sheet.yaml")
    name = jn.new_name(bench.journals, sheet.id, sheet.machine_id, bench.now_ms)
    header_alone(bench.journals / f"{name}.jsonl", mower(), sheet)  # as a start that was killed once left it
    assert bench.work().bench[0].startswith(BACK)


def test_what_comes_after_an_end_does_not_open_it_again(bench: Bench) -> None:
    bench.work(*WHOLE)
    writer = jn.JournalWriter.reopen(jn.read(bench.newest))
    writer.append((Refused(Kind.NEXT, Refusal.ENDED),), bench.now_ms)
    writer.close()
    assert jn.find_open(bench.journals, "small-job", "mower one") is None


# -- damaged ones


def test_a_damaged_newest_one_refuses(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    bench.bend(2)
    done = bench.work()
    assert done.code == 5
    assert "[journal-damaged]" in done.errors[-1]
    assert done.bench == []


def test_a_damaged_one_is_passed_over_once_a_newer_one_is_there(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    bent = bench.bend(2)
    assert bench.new(*UNFINISHED).code == 10
    back = bench.work("took off red tag", "next")
    assert back.bench[0].startswith(BACK)
    assert back.code == 0
    after = bench.work()
    assert after.bench[0].startswith("Small job, Make-believe mower.")
    for done in (back, after):
        (line,) = passed_over(done.errors)
        assert line.startswith(str(bent))


def test_a_damaged_one_of_another_machine_is_passed_over(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    bench.work(*UNFINISHED, text=OTHER)
    bent = bench.bend(2)
    done = bench.work()
    assert done.bench[0].startswith(BACK)
    (line,) = passed_over(done.errors)
    assert line.startswith(str(bent))
    assert bench.work(text=OTHER).code == 5


def set_first_line(path: Path, line: bytes) -> None:
    rest = path.read_bytes().partition(b"\n")[2]
    path.write_bytes(line + b"\n" + rest)


@pytest.mark.parametrize(
    ("name", "first", "may_be"),
    [
        # Nothing of the first line can be read: the file's name tells.
        ("small-job--mower-one--20260105T080000000000Z", b"\0" * 80, True),
        ("small-job--mower-two--20260105T080000000000Z", b"\0" * 80, False),
        # Neither tells: it is held to be this machine's.
        ("small-job--20260105T080000000000Z", b"\0" * 80, True),
        ("small-job--copy--mower-two--20260105T080000000000Z", b"\0" * 80, True),
        # What can still be read of a damaged line, where the name tells nothing.
        ("small-job--renamed", b'{"at_ms":1,"machine":"mower two","sheet_te', False),
        ("small-job--renamed", b'{"at_ms":1,"machine":"mower one","sheet_te', True),
        # They contradict each other: one of them is damaged, and nobody knows which.
        ("small-job--mower-one--20260105T080000000000Z", b'{"at_ms":1,"machine":"mower twp","sheet_te', True),
        ("small-job--mower-two--20260105T080000000000Z", b'{"at_ms":1,"machine":"mower one","sheet_te', True),
        ("small-job--mower-two--20260105T080000000000Z", b'{"at_ms":1,"machine":"mower two","sheet_te', False),
        # The words stand in the sheet's text as well.
        ("small-job--renamed", rb'{"at_ms":1,"sheet_text":"\"machine\":\"mower two\""', True),
    ],
)
def test_whose_a_damaged_first_line_is(name: str, first: bytes, may_be: bool, bench: Bench) -> None:
    bench.work(*UNFINISHED)
    path = bench.newest.rename(bench.journals / f"{name}.jsonl")
    set_first_line(path, first)
    told: list[JournalError] = []
    if may_be:
        with pytest.raises(JournalError) as caught:
            jn.find_open(bench.journals, "small-job", "mower one", told.append)
        assert caught.value.slug == "journal-damaged"
        assert told == []
    else:
        assert jn.find_open(bench.journals, "small-job", "mower one", told.append) is None
        assert [error.where for error in told] == [str(path)]


def test_a_whole_first_line_tells_more_than_the_name(bench: Bench) -> None:
    bench.work(*UNFINISHED)
    bench.bend(2)
    bench.newest.rename(bench.journals / "small-job--mower-two--20260105T080000000000Z.jsonl")
    assert bench.work().code == 5


def test_a_journal_that_cannot_be_opened_is_told_by_its_name(bench: Bench) -> None:
    """A folder of its name: no user can read that as a file, root neither."""
    bench.work(*UNFINISHED)
    bench.work(*UNFINISHED, text=OTHER)
    path = bench.newest
    path.unlink()
    path.mkdir()
    assert bench.work().bench[0].startswith(BACK)
    assert bench.work(text=OTHER).code == 5


def test_one_of_a_newer_version_is_in_the_way_of_its_own_machine_only(bench: Bench) -> None:
    bench.work(text=OTHER)
    path = bench.newest
    header = json.loads(path.read_bytes().splitlines()[0])
    header.pop("hash")
    path.write_bytes(jn.sealed({**header, "format": jn.FORMAT + 1})[0])
    refused = bench.work(text=OTHER)
    assert refused.code == 5
    assert "[journal-newer]" in refused.errors[-1]
    assert bench.work().code == 10


# -- how long ago


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, None),
        (-600, None),
        (1, "You left it one minute ago."),
        (119, "You left it one hundred and nineteen minutes ago."),
        (121, "You left it two hours ago."),
        (47 * 60 + 59, "You left it forty seven hours ago."),
        (48 * 60 + 1, "You left it two days ago."),
        (400 * 24 * 60 + 1, "You left it four hundred days ago."),
    ],
)
def test_it_says_how_long_the_session_was_left(minutes: int, words: str | None, bench: Bench) -> None:
    bench.work("next")
    bench.now_ms += minutes * 60_000
    said = bench.work().bench[0]
    if words is None:
        assert said.startswith(f"{BACK} Red tag is still on.")
    else:
        assert said.startswith(f"{BACK} {words} Red tag is still on.")
