"""The forms of a record."""

from __future__ import annotations

import json
from pathlib import Path

from bench_voice.records.kept import Job, not_begun, open_job
from bench_voice.records.summary import summary

FORMS = ("html", "csv", "json", "ics", "vtt", "chapters")


def render(path: Path, form: str, *, mark: int | None = None, film_ms: int = 0) -> str:
    """The record of a journal as one of `FORMS`. Raises JournalError, and UsageError for a mark that is not there.

    `mark`, `film_ms`: of captions and chapters, see `exports.captions`.
    """
    job = open_job(path)
    text = of_job(job, form, mark, film_ms)
    if not job.file.n_events:
        raise not_begun(path)
    return text


def of_job(job: Job, form: str, mark: int | None = None, film_ms: int = 0) -> str:
    match form:
        case "json":
            return json.dumps(summary(job), ensure_ascii=False, indent=2) + "\n"
        case "csv":
            from bench_voice.records.exports.table import table

            return table(job)
        case "ics":
            from bench_voice.records.exports.calendar import calendar

            return calendar(job)
        case "vtt" | "chapters":
            from bench_voice.records.exports import captions

            return (captions.captions if form == "vtt" else captions.chapters)(job, mark, film_ms)
        case "html":
            from bench_voice.records.view import html

            return html(job)
    raise ValueError(form)
