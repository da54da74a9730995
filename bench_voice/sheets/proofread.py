from __future__ import annotations

from bench_voice.core.sheet import JobSheet
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.spread import Places


def proofread(sheet: JobSheet, places: Places) -> list[Fault]:
    return []
