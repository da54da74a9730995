"""How fast `understand` is, on one core, and how its cost grows.

    .venv/bin/python -m tests.bench.understand

Prints utterances a second over the rows of tests/speech/table.txt (processor time, so that a busy machine counts
less) at a sheet of 40 steps, then the time against the number of words and of names. Ends with 1 when the rate is
under 5,000 or a curve is steeper than linear (more than 1.25 times the growth of the size).
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace

from bench_voice.core.intents import Expected
from bench_voice.core.sheet import JobSheet, Limit, ReadingSpec, Step
from bench_voice.speech.understand import understand
from tests.speech.bench import SHEET, STEPS
from tests.speech.test_table import ROWS

WANTED_PER_S = 5_000
STEEPEST = 1.25  # times linear, over the whole curve
ROUNDS = 8


def seconds(text: str, expected: Expected, times: int) -> float:
    """Processor seconds for one call: the least of five, so that what else runs here counts little."""
    understand(text, expected)
    least = float("inf")
    for _ in range(5):
        start = time.process_time()
        for _ in range(times):
            understand(text, expected)
        least = min(least, (time.process_time() - start) / times)
    return least


def rate() -> float:
    """Utterances a second over the table at a sheet of 40 steps; the median of the rounds."""
    more = tuple(Step(f"more-{n}", "Do more.") for n in range(40 - len(STEPS)))
    sheet = replace(SHEET, steps=(*SHEET.steps, *more))
    places = {place: Expected.at(sheet, step) for place, step in STEPS.items()}
    rows = [(heard, places[place]) for _, _, place, heard, _ in ROWS]
    rates = []
    for _ in range(ROUNDS + 1):
        start = time.process_time()
        for heard, expected in rows:
            understand(heard, expected)
        rates.append(len(rows) / (time.process_time() - start))
    return sorted(rates[1:])[ROUNDS // 2]


def with_names(count: int) -> Expected:
    """A step among `count` readings; what is said names none of them, so every name is compared."""
    readings = {f"r{n}": ReadingSpec(f"r{n}", f"bearing clearance {n} of shaft", Limit("mm")) for n in range(count)}
    step = Step("s", "Measure.", readings=("r0",))
    return Expected.at(JobSheet("j", "j", "1", "m", "m", (step,), readings=readings), step)


def main() -> int:
    per_s = rate()
    print(f"utterances a second on one core, 40 steps, {len(ROWS)} rows: {per_s:,.0f} (wanted {WANTED_PER_S:,})")
    is_good = per_s >= WANTED_PER_S
    free = Expected.at(SHEET, STEPS["free"])
    curves = {
        "words of talk": [(n, seconds("weather " * n, free, 200)) for n in (10, 20, 40, 80, 160, 320, 640, 1280)],
        "words of a note": [(n, seconds("note " + "seal " * n, free, 200)) for n in (10, 20, 40, 80, 160, 320, 640)],
        "words of numbers": [(n, seconds("four " * n, free, 200)) for n in (3, 6, 12, 24, 48, 96)],
        "words of a long name": [
            (n, seconds("bearing " * n + "four point six", free, 200)) for n in (5, 10, 20, 40, 80, 160)
        ],
        "names of the sheet": [
            (n, seconds("baring clearence nine of shaft four point six", with_names(n), 100))
            for n in (25, 50, 100, 200, 400, 800)
        ],
    }
    for title, curve in curves.items():
        print(f"\n{title}: microseconds a call")
        before: float | None = None
        for size, took in curve:
            growth = "" if before is None else f"  x{took / before:.2f}"
            print(f"  {size:>5}  {took * 1e6:9.1f}{growth}")
            before = took
        # Over the whole curve, not between two neighbours: one call is a few microseconds.
        larger, slower = curve[-1][0] / curve[0][0], curve[-1][1] / curve[0][1]
        print(f"  {larger:.0f} times the size: {slower:.1f} times the time")
        is_good = is_good and slower <= larger * STEEPEST
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main())
