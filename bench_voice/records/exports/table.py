"""RFC 4180 CSV, one row a value."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

from bench_voice.records.kept import Job
from bench_voice.records.summary import summary

COLUMNS = (
    "seq", "at", "step", "reading", "name", "point", "value", "unit", "in_limit_unit", "limit_unit", "at_least",
    "at_most", "verdict", "stage", "state", "heard", "verdict_when_taken",
    # Added later: programs may count the columns above.
    "spread_at_most", "spread_differ_by", "spread_verdict", "pair_at_most", "pair_differ_by", "pair_verdict",
    "margin", "uncertainty",
)  # fmt: skip
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?")


def table(job: Job) -> str:
    """A cell that a spreadsheet would run as a formula gets a leading apostrophe; a number stays one."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for row in summary(job)["readings"]:
        writer.writerow([safe(row[name]) for name in COLUMNS])
    return out.getvalue()


def safe(value: Any) -> Any:
    """Formulas begin with =, +, - or @; a tab or line end before one is passed over by some spreadsheets."""
    if not isinstance(value, str) or _NUMBER.fullmatch(value):
        return value
    # Neither a file of text nor a spreadsheet has a place for it.
    text = value.replace("\0", "\ufffd")
    return "'" + text if text.lstrip(" \t\r\n")[:1] in ("=", "+", "-", "@") and text else text
