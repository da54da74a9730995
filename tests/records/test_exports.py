"""What other programs read of a record: read by their own libraries, and back as it was."""

from __future__ import annotations

import io
import json
from datetime import date
from pathlib import Path

import icalendar
import pandas
import pytest
import soundfile
import webvtt
from jsonschema import Draft202012Validator
from logbook_sessions import write_session

from bench_voice import cli
from bench_voice.core import events as ev
from bench_voice.errors import UsageError
from bench_voice.records import sound
from bench_voice.records.due import due
from bench_voice.records.exports.captions import MOST_CPS
from bench_voice.records.exports.schema import record_schema, schema_text
from bench_voice.records.exports.table import COLUMNS, safe
from bench_voice.records.render import render
from bench_voice.session import journal as jn

KEPT = sorted((Path(__file__).parents[1] / "session" / "kept_sessions").glob("*.jsonl"))
ENDS = [
    "=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "  =cmd|' /C calc'!A0", "''=1", "-",
]  # fmt: skip
by_name = pytest.mark.parametrize("path", KEPT, ids=lambda path: path.stem)


# -- JSON by its schema


def test_the_shipped_schema_is_the_one_of_the_code() -> None:
    shipped = Path(sound.__file__).with_name("record.schema.json").read_text("utf-8")
    assert shipped == schema_text()
    Draft202012Validator.check_schema(json.loads(shipped))


@by_name
def test_the_json_of_every_kept_session_fits_the_schema(path: Path) -> None:
    body = json.loads(render(path, "json"))
    assert [error.message for error in Draft202012Validator(record_schema()).iter_errors(body)] == []


def test_the_schema_is_closed(tmp_path: Path) -> None:
    body = json.loads(render(write_session(tmp_path, "trailer-a", 1), "json"))
    validator = Draft202012Validator(record_schema())
    assert validator.is_valid(body)
    assert not validator.is_valid(body | {"more": 1})
    body["readings"][0]["value"] = 4.6
    assert not validator.is_valid(body), "a number loses digits"


def test_the_command_prints_the_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["record", "--schema"]) == 0
    assert json.loads(capsys.readouterr().out) == record_schema()
    assert cli.main(["record"]) == 2
    assert capsys.readouterr().err.endswith("[no-journal]\n")


# -- CSV by pandas


@by_name
def test_pandas_reads_the_table_as_the_json_has_it(path: Path) -> None:
    found = pandas.read_csv(io.StringIO(render(path, "csv")), dtype=str, keep_default_na=False)
    rows = json.loads(render(path, "json"))["readings"]
    assert list(found.columns) == list(COLUMNS)
    wanted = [["" if row[name] is None else str(row[name]) for name in COLUMNS] for row in rows]
    assert found.values.tolist() == wanted


@pytest.mark.parametrize("text", ENDS)
def test_no_cell_begins_as_a_formula(text: str) -> None:
    """OWASP, CSV injection: =, +, -, @, tab and carriage return at the beginning (from memory)."""
    shown = str(safe(text))
    assert shown.lstrip(" \t\r\n")[:1] not in ("=", "+", "-", "@")
    assert shown in (text, f"'{text}")


@pytest.mark.parametrize("text", ["-5", "-0.50", "+3", "1e-5", "12"])
def test_a_number_stays_one(text: str) -> None:
    assert safe(text) == text


# -- iCalendar by its library, with days


@pytest.mark.parametrize(
    ("text", "day", "by_use"),
    [
        ("After 12 months look at the lining.", "2027-01-31", ()),
        ("After twelve months or 10,000 km look at the lining.", "2027-01-31", ("10000 km",)),
        ("After the first fifty kilometres, check the wheel nuts.", None, ("50 km",)),
        ("Change the oil again after 100 hours.", None, ("100 h",)),
        ("Check again in a year, or after a fall.", "2027-01-31", ()),
        ("After a month, tighten it again.", "2026-02-28", ()),
        ("Every two weeks: grease.", "2026-02-14", ()),
        ("Within 10 days, or after 20 hours.", "2026-02-10", ("20 h",)),
        ("It was changed two years ago.", None, ()),
        ("After work, wash your hands.", None, ()),
        ("After one hundred and twenty five kilometres, look.", None, ("125 km",)),
    ],
)
def test_a_follow_up_has_a_day_where_it_says_a_time(text: str, day: str | None, by_use: tuple[str, ...]) -> None:
    """The calendar's arithmetic: a month after the 31st of January is February's last day (RFC 5545 leaves it out; a
    person means it)."""
    found = due(text, date(2026, 1, 31))
    assert (found.day.isoformat() if found.day else None, found.by_use) == (day, by_use)


def test_german_follow_ups_have_a_day_too() -> None:
    assert due("Nach zwölf Monaten wieder messen.", date(2026, 1, 31), "de").day == date(2027, 1, 31)


def test_the_calendar_has_the_day_and_the_use(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import logbook_sessions

    text = logbook_sessions.sheet_text("trailer-z").replace(
        "Check the wheel nuts after 50 km.", "After 12 months or 10000 km measure again."
    )
    monkeypatch.setattr(logbook_sessions, "sheet_text", lambda machine: text)
    path = write_session(tmp_path, "trailer-z", 0)
    calendar = icalendar.Calendar.from_ical(render(path, "ics"))
    (todo,) = calendar.walk("VTODO")
    done = date.fromisoformat(json.loads(render(path, "json"))["ended"][:10])
    assert abs((icalendar.vDate.from_ical(todo["DUE"].to_ical()) - done).days - 365) <= 2
    assert "after 10000 km" in str(todo["DESCRIPTION"])
    assert "The machine was at" in str(todo["DESCRIPTION"])
    assert len(calendar.walk("VALARM")) == 1
    assert calendar.errors == todo.errors == []


# -- WebVTT by another reader


def ms(clock: str) -> int:
    hours, minutes, seconds = clock.split(":")
    return round(1000 * (3600 * int(hours) + 60 * int(minutes) + float(seconds)))


@by_name
@pytest.mark.parametrize("form", ["vtt", "chapters"])
def test_captions_are_read_and_neither_overlap_nor_rush(path: Path, form: str, tmp_path: Path) -> None:
    out = tmp_path / "x.vtt"
    out.write_text(render(path, form), "utf-8")
    cues = webvtt.read(str(out)).captions
    assert cues
    ends = 0
    for cue in cues:
        start, end = ms(cue.start), ms(cue.end)
        assert ends <= start < end
        ends = end
        if form == "vtt":
            assert len(cue.text) <= MOST_CPS * (end - start) / 1000
            assert len(cue.text.splitlines()) <= 2
    if form == "vtt":
        assert {cue.voice for cue in cues} == {"Bench", "You"}, "both sides"


def test_captions_begin_at_the_mark_that_the_film_shows(tmp_path: Path) -> None:
    path = next(path for path in KEPT if path.stem == "corrections")
    body = json.loads(render(path, "json"))
    plain, moved = (tmp_path / name for name in ("plain.vtt", "moved.vtt"))
    plain.write_text(render(path, "chapters"), "utf-8")
    moved.write_text(render(path, "chapters", mark=1, film_ms=100_000), "utf-8")
    seen = (
        date_ms(body["marks"][0]["at"]) - date_ms(body["started"]),
        100_000,
    )
    shift = seen[1] - seen[0]
    first, later = (ms(webvtt.read(str(one))[-1].start) for one in (plain, moved))
    assert abs(later - first - shift) < 1000, "the summary tells whole seconds"
    with pytest.raises(UsageError, match="no mark 2") as caught:
        render(path, "vtt", mark=2)
    assert caught.value.slug == "no-mark"


def date_ms(iso: str) -> int:
    from datetime import datetime

    return round(datetime.fromisoformat(iso).timestamp() * 1000)


# -- sound


NOTE, READ = ev.NoteTaken("s", "dent"), ev.ReadingRecorded.__name__


def test_sound_is_kept_as_wanted_linked_and_forgotten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_session(tmp_path, "trailer-a", 1)
    pcm = b"\x01\x00\xff\x7f" * 8000
    note = next(line for line in _lines(path) if isinstance(line.event, ev.ReadingRecorded))
    events = (note.event,)
    kept = {choice: sound.SoundKeeper(path, choice).keep(pcm, note.seq, events) for choice in sound.CHOICES}
    assert [choice for choice, found in kept.items() if found] == ["readings", "all"]
    assert sound.SoundKeeper(path, "notes").keep(pcm, 3, (NOTE,)) is not None
    data, rate = soundfile.read(kept["all"], dtype="int16")
    assert (data.tobytes(), rate) == (pcm, 16_000), "nothing is lost"
    page = render(path, "html")
    assert f'href="{path.stem}.sound/{note.seq:06d}-reading.flac"' in page
    assert cli.main(["forget", "--older-than", "1", "--journal", str(tmp_path)]) == 0
    assert capsys.readouterr().out == "No sound is that old.\n"
    assert cli.main(["forget", "--older-than", "0", "--journal", str(tmp_path)]) == 0
    assert capsys.readouterr().out.startswith(f"{path.stem}: 2 recordings, ")
    assert not sound.folder_of(path).exists()
    assert path.exists()


def test_sound_that_cannot_be_kept_costs_no_session(tmp_path: Path) -> None:
    path = write_session(tmp_path, "trailer-a", 1)
    sound.folder_of(path).write_text("in the way")
    told: list[str] = []
    keeper = sound.SoundKeeper(path, "all", on_problem=told.append)
    assert keeper.keep(b"\0\0" * 100, 1, (NOTE,)) is None
    assert keeper.keep(b"\0\0" * 100, 2, (NOTE,)) is None
    assert len(told) == 1
    assert told[0].endswith("[sound-not-kept]")


def _lines(path: Path) -> tuple[jn.Line, ...]:
    return jn.read(path).lines
