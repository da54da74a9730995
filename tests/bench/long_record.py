"""What a record costs: of a session with thousands of reminders, and of one with 800,000 events.

    python tests/bench/long_record.py [EVENTS]

Each size runs in a process of its own. Bars: time in proportion to the events (four times as many take at most six
times as long), and the 800,000 events in at most 400 MB.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from bench_voice.core import events as ev
from bench_voice.core.cases import OpenedBy, Opening
from bench_voice.core.intents import Kind
from bench_voice.core.sheet import ItemKind
from bench_voice.records.render import render
from bench_voice.session import journal as jn
from bench_voice.sheets.load import load_text

SHEET = """\
sheet: long
title: A long job
version: 1
machine: {name: Make-believe generator, id: generator two}
source: Invented for this measurement.
steps:
  - id: end
    say: Look round.
    final gate: yes
"""
MOST_MB, MOST_TIMES = 400, 6


def reminders(n: int) -> Iterator[ev.Event]:
    for number in range(n):
        yield ev.ItemOpened(
            f"reminder-{number}", f"oil bearing {number}", ItemKind.REMINDER, OpenedBy.VOICE, "remind me"
        )


def talk(n: int) -> Iterator[ev.Event]:
    for number in range(n):
        yield ev.Told(Kind.WHERE) if number % 2 else ev.NotUnderstood(f"the radio said {number}")


def write(folder: Path, kind: str, n: int) -> Path:
    """Without an fsync for each: only reading is measured."""
    writer = jn.JournalWriter.create(folder, f"{kind}--{n}", SHEET, load_text(SHEET, "long.yaml"))
    writer.append((ev.SessionStarted("long", "generator two"), ev.StepOpened("end", Opening.START)), 0)
    writer.close()
    seq, last = writer.n_events, writer.last_hash
    with writer.path.open("ab") as file:
        for event in {"reminders": reminders, "talk": talk}[kind](n):
            seq += 1
            raw, last = jn.sealed({"event": jn.encode(event), "seq": seq, "at_ms": seq * 1000, "prev": last})
            file.write(raw)
    return writer.path


def measured(path: Path) -> tuple[float, float]:
    """Processor seconds and peak MB of one record."""
    start = time.process_time()
    render(path, "html")
    return time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> int:
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 800_000
    found: dict[tuple[str, int], tuple[float, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for kind, size in (("reminders", 1_000), ("reminders", 4_000), ("reminders", 16_000), ("talk", n)):
            path = write(Path(folder), kind, size)
            with multiprocessing.get_context("spawn").Pool(1) as pool:
                took_s, most_mb = found[kind, size] = pool.apply(measured, (path,))
            print(f"{kind:9} {size:7d} events, {path.stat().st_size / 1e6:6.1f} MB: {took_s:7.2f} s, {most_mb:5.0f} MB")
    times = found["reminders", 16_000][0] / found["reminders", 4_000][0]
    print(f"four times the reminders take {times:.1f} times as long")
    return 0 if times <= MOST_TIMES and found["talk", n][1] <= MOST_MB else 1


if __name__ == "__main__":
    sys.exit(main())
