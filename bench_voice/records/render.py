"""The forms of a record: JSON, one plain HTML page, CSV of readings, iCalendar follow-ups, WebVTT captions."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path
from typing import Any

from bench_voice.core import replies
from bench_voice.core.signs import quantity
from bench_voice.core.state import State
from bench_voice.records.kept import Job, not_begun, open_job
from bench_voice.records.summary import summary
from bench_voice.records.words import SIDES, bounds_words, differ_by_words, difference_limit_words
from bench_voice.session import journal as jn
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.visible import on_page as escape
from bench_voice.words.visible import visible
from bench_voice.words.wording import worded


def render(path: Path, form: str) -> str:
    """The record of a journal as `form`: html, json, csv, ics or vtt. Raises JournalError."""
    job = open_job(path)
    text = _FORMS[form](job)
    if not job.file.n_events:
        raise not_begun(path)
    return text


def as_json(job: Job) -> str:
    return json.dumps(summary(job), ensure_ascii=False, indent=2) + "\n"


_SHORT = 14  # characters of a cell that is not broken
_STYLE = """
body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#111;background:#fff}
h1{margin-bottom:0}.first{border:2px solid #111;padding:.6rem .8rem;font-weight:600}.bad{background:#111;color:#fff}
table{border-collapse:collapse;width:100%;margin:.5rem 0 1.5rem}th,td{text-align:left;padding:.25rem .6rem;
border-bottom:1px solid #bbb;vertical-align:top}td.n{text-align:right;font-variant-numeric:tabular-nums}
td.s{white-space:nowrap}tr.gone td{color:#666;text-decoration:line-through}@media print{body{margin:0}}
"""


def html(job: Job) -> str:
    """One page without scripts or outside files; everything that came from speech or the sheet is escaped."""
    body = summary(job)
    journal = body["journal"]
    bad = " bad" if body["first_line"].startswith("NOT") else ""
    parts = [
        f"<h1>{escape(body['title'])}</h1>",
        f"<p>{escape(body['machine'])} · {_when(body['started'])} to {_when(body['ended'])}</p>",
        f'<p class="first{bad}">{escape(body["first_line"])}</p>',
        *(f"<p>{escape(one)}</p>" for one in _cut_off(body)),
        _table(
            "Readings",
            ("Reading", "Point", "Value", "Limit", "Verdict", "Stage", "Heard", "State"),
            *_readings(body),
        ),
        _table(
            "Wear, by the earlier sessions of this machine",
            ("Reading", "Point", "Sessions", "What it says"),
            [(row["name"], row["point"] + 1, row["sessions"], row["text"]) for row in body["wear"]],
        ),
        _table(
            "Instruments",
            ("Instrument", "What"),
            [
                row
                for taken in body["instruments"]
                for row in (
                    *((late["instrument"], f"calibration overdue by {late['days']} days") for late in taken["overdue"]),
                    *(
                        (name, "not among the person's instruments; the sheet's figure was taken")
                        for name in taken["missing"]
                    ),
                )
            ],
        ),
        _table(
            "Looked at",
            ("What", "Judgement", "Note", "State"),
            [(r["name"], r["judgement"], r["note"], r["state"]) for r in body["looks"]],
            _gone(body["looks"]),
        ),
        _table(
            "Carried over from the earlier session, not measured in this one",
            ("Reading", "Point", "Value", "Stage"),
            [(r["reading"], r["point"] + 1, quantity(r["value"], r["unit"]), r["stage"]) for r in body["carried_over"]],
        ),
        _table(
            "Decided on",
            ("What", "Why it had to be", "Reason", "State"),
            [(r["name"], r["why"], r["reason"], _decision_state(r)) for r in body["decisions"]],
            _gone(body["decisions"]),
        ),
        _table(
            "Hold points confirmed",
            ("When", "Phrase", "State"),
            [(_when(r["at"]), r["phrase"], r["state"]) for r in body["holds"]],
            _gone(body["holds"]),
        ),
        _table(
            "Register",
            ("Item", "Kind", "Opened", "Closed"),
            [(r["name"], r["kind"], _when(r["opened"]), _closed(r)) for r in body["register"]],
            _gone(body["register"]),
        ),
        _table(
            "Tightened, as the sheet has it",
            ("When", "Torque", "Stage", "To", "Thread", "Order"),
            [
                (
                    _when(row["at"]),
                    row["torque"],
                    f"{row['stage']} of {row['stages']}",
                    quantity(row["target"], row["unit"]) if row["turn"] is None else f"a further {row['turn']}°",
                    ", ".join(text for text in (row["thread"], row["condition"]) if text),
                    ", ".join(row["order"]),
                )
                for row in body["tightened"]
            ],
        ),
        _table(
            "Notes",
            ("When", "Note", "State"),
            [(_when(r["at"]), r["text"], r["state"]) for r in body["notes"]],
            _gone(body["notes"]),
        ),
        _table("To do later", ("What",), [(text,) for text in body["follow_ups"]]),
        f"<p>{escape(body['note'])} {escape(body['source'])}</p>",
        "<p>Limits come from the machine's own workshop manual; local rules and licensed practice come first.</p>",
        f"<p><small>Journal {escape(journal['name'])}, {journal['events']} events, last hash "
        f"<code>{journal['last_hash']}</code>. Kept on paper, it shows later whether this is the journal it was: "
        "bench-voice verify JOURNAL --hash.</small></p>",
    ]
    return (
        f'<!doctype html>\n<html lang="{escape(job.sheet.language)}"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width"><title>{escape(body["title"])}</title>'
        f"<style>{_STYLE}</style></head><body>\n" + "\n".join(part for part in parts if part) + "\n</body></html>\n"
    )


def _cut_off(body: dict[str, Any]) -> list[str]:
    """What of the journal was being written when its process ended, and never counted."""
    found = [
        f"{_when(row['at'])}: the end of the journal had been cut off ({row['torn_bytes']} bytes set aside). What was "
        "said last before that is not in it."
        for row in body["interruptions"]
        if row["torn_bytes"]
    ]
    if torn := body["journal"]["torn_bytes"]:
        found.append(f"The end of this journal is cut off ({torn} bytes). What was said last is not in it.")
    return found


def _readings(body: dict[str, Any]) -> tuple[list[tuple[Any, ...]], list[bool]]:
    """Rows of the values, and after the last value of each difference a row of what they say together."""
    # A difference has the number of its last value: sorting keeps it behind that one.
    both = sorted([*body["readings"], *body["differences"]], key=lambda row: row["seq"])
    return [_together(row) if "side" in row else _value(row) for row in both], _gone(both)


def _value(row: dict[str, Any]) -> tuple[Any, ...]:
    return (
        row["name"],
        row["point"] + 1,
        quantity(row["value"], row["unit"]),
        _limit(row),
        _verdict(row),
        row["stage"],
        row["heard"],
        row["state"] + (" (correction)" if row["is_correction"] else ""),
    )


def _together(row: dict[str, Any]) -> tuple[Any, ...]:
    which = f"1 to {len(row['points'])}" if row["side"] == "spread" else "both sides"
    limit = difference_limit_words(row["side"], row["at_most"], row["unit"])
    return (row["name"], which, differ_by_words(row), limit, row["verdict"], row["stage"], "", row["state"])


def _limit(row: dict[str, Any]) -> str:
    unit = row["limit_unit"]
    own = bounds_words(row["at_least"], row["at_most"], unit)
    limits = ((side, row[f"{side}_at_most"]) for side in SIDES)
    found = [own, *(difference_limit_words(side, most, unit) for side, most in limits if most is not None)]
    return "; ".join(filter(None, found)) or "none"


def _verdict(row: dict[str, Any]) -> str:
    """With what was said at the time, where a limit has been corrected since."""
    first = row["verdict_when_taken"]
    return str(row["verdict"]) if row["verdict"] == first else f"{row['verdict']} (when taken: {first})"


def _closed(row: dict[str, Any]) -> str:
    if row["state"] == "closed":
        return _when(row["closed"])
    return "OPEN" if row["state"] == "open" else "withdrawn"


def _gone(rows: list[dict[str, Any]]) -> list[bool]:
    """Struck through: what does not count any more. An old part's values and an earlier confirmation did their work."""
    return [row["state"] in ("withdrawn", "superseded", "reopened") for row in rows]


def _when(at: str | None) -> str:
    """ "2026-05-04 09:30 UTC": to the minute; the journal has the rest."""
    return f"{at[:10]} {at[11:16]} UTC" if at else ""


def _cell(content: object) -> str:
    """Short ones stay on one line: a quantity, a stage, a time."""
    text = str(content)
    mark = ' class="s"' if len(text) <= _SHORT else ""
    return f"<td{mark}>{escape(text)}</td>"


def _decision_state(row: dict[str, Any]) -> str:
    """ "reopened 2026-01-05T08:00:00Z: another limit"."""
    if not row["changed"]:
        return str(row["state"])
    what = {"value": "another value", "limit": "another limit", "pair": "the other side changed"}[row["changed"]]
    at = f" {row['reopened_at']}" if row["reopened_at"] else ""
    return f"reopened{at}: {what}" if row["state"] == "reopened" else f"{row['state']} (reopened{at}: {what})"


def _table(title: str, head: tuple[str, ...], rows: list[tuple[Any, ...]], gone: list[bool] | None = None) -> str:
    if not rows:
        return ""
    cells = "".join(f"<th>{escape(name)}</th>" for name in head)
    lines = []
    for number, row in enumerate(rows):
        mark = ' class="gone"' if gone and gone[number] else ""
        lines.append(f"<tr{mark}>" + "".join(map(_cell, row)) + "</tr>")
    return f"<h2>{escape(title)}</h2>\n<table><tr>{cells}</tr>\n" + "\n".join(lines) + "\n</table>"


def table(job: Job) -> str:
    """RFC 4180 CSV, one row a value. A cell that a spreadsheet would run as a formula gets a leading apostrophe."""
    out = io.StringIO()
    names = (
        "seq", "at", "step", "reading", "name", "point", "value", "unit", "in_limit_unit", "limit_unit", "at_least",
        "at_most", "verdict", "stage", "state", "heard", "verdict_when_taken",
        # Added later: programs may count the columns above.
        "spread_at_most", "spread_differ_by", "spread_verdict", "pair_at_most", "pair_differ_by", "pair_verdict",
    )  # fmt: skip
    writer = csv.writer(out)
    writer.writerow(names)
    for row in summary(job)["readings"]:
        writer.writerow([_safe(row[name]) for name in names])
    return out.getvalue()


def _safe(value: Any) -> Any:
    is_text = isinstance(value, str) and value[:1] in ("=", "+", "@")
    return "'" + value if is_text else value


def calendar(job: Job) -> str:
    """RFC 5545: one VTODO a follow-up. They depend on distance, so no date is invented: only DTSTAMP."""
    follow_ups = summary(job)["follow_ups"]
    stamp = datetime.fromtimestamp(job.file.last_ms / 1000, UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//bench_voice//record//EN"]
    for number, text in enumerate(follow_ups, 1):
        uid = hashlib.sha256(f"{job.file.last_hash}-{number}".encode()).hexdigest()[:24]
        summary_text = visible(f"{job.sheet.machine}: {text}")
        for old, new in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
            summary_text = summary_text.replace(old, new)
        lines += ["BEGIN:VTODO", f"UID:{uid}@bench-voice", f"DTSTAMP:{stamp}", f"SUMMARY:{summary_text}", "END:VTODO"]
    lines.append("END:VCALENDAR")
    return "".join(_folded(line) for line in lines)


def _folded(line: str) -> str:
    """At most 75 octets a line, folded with CRLF and a space, never inside a character."""
    out, size = "", 0
    for char in line:
        width = len(char.encode())
        if size + width > 75:
            out, size = out + "\r\n ", 1
        out, size = out + char, size + width
    return out + "\r\n"


def captions(job: Job) -> str:
    """WebVTT: what the assistant said, at the time of the session."""
    speaker = Speaker(load_language(job.sheet.language))
    cues, start = ["WEBVTT", ""], None
    for at_ms, turn in groupby(_lines(job), key=lambda one: one[0].at_ms):
        lines = list(turn)
        start = at_ms if start is None else start
        with jn.as_foreign(job.file.path, lines[0][0].seq):
            said = " ".join(worded(speaker, replies.after(lines[0][1], tuple(line.event for line, _ in lines))))
        if said:
            begin = at_ms - start
            cues += [
                f"{_clock(begin)} --> {_clock(begin + 2000)}",
                escape(" ".join(said.replace("-->", "to").split())),
                "",
            ]
    return "\n".join(cues)


def _lines(job: Job) -> Iterator[tuple[jn.Line, State]]:
    """Each line with the state before it."""
    return ((line, before) for line, before, _ in job.fold() if line is not None)


def _clock(ms: int) -> str:
    seconds, ms = divmod(max(0, ms), 1000)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{ms:03d}"


_FORMS: dict[str, Callable[[Job], str]] = {
    "json": as_json, "html": html, "csv": table, "ics": calendar, "vtt": captions,
}  # fmt: skip
