"""RFC 5545: one task a follow-up, with a day where the sheet says a time."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta

from icalendar import Alarm, Calendar, Todo

from bench_voice.records.due import due
from bench_voice.records.kept import Job
from bench_voice.records.moments import zone_of
from bench_voice.records.summary import summary
from bench_voice.words.visible import visible


def calendar(job: Job) -> str:
    """Distance and hours are listed plainly in the description: no day is invented for them."""
    body = summary(job)
    ended = datetime.fromisoformat(body["ended"] or "1970-01-01T00:00:00Z")
    day = ended.astimezone(zone_of(body["zone"]).info).date()
    found = Calendar()
    found.add("prodid", "-//bench_voice//record//EN")
    found.add("version", "2.0")
    for number, text in enumerate(body["follow_ups"], 1):
        todo = Todo()
        uid = hashlib.sha256(f"{body['journal']['last_hash']}-{number}".encode()).hexdigest()[:24]
        todo.add("uid", f"{uid}@bench-voice")
        todo.add("dtstamp", ended)
        todo.add("summary", _line(f"{job.sheet.machine}: {text}"))
        when = due(text, day, job.sheet.language)
        lines = [f"{body['title']}, done on {day.isoformat()}."]
        if when.by_use:
            lines.append(f"By use: after {', or after '.join(when.by_use)}.")
        if when.by_use and body["distance"]:
            lines.append(f"The machine was at {body['distance']} then.")
        todo.add("description", "\n".join(map(_line, lines)))
        if when.day is not None:
            todo.add("due", when.day)
            alarm = Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", _line(text))
            alarm.add("trigger", timedelta(hours=8), parameters={"RELATED": "END"})
            todo.add_component(alarm)
        found.add_component(todo)
    return bytes(found.to_ical()).decode()


def _line(text: str) -> str:
    """One line, with escapes for what would not be seen."""
    return " ".join(visible(text).split())
