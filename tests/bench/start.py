"""Measures: start to the first spoken word, and the resident memory of all of its processes.

    .venv/bin/python tests/bench/start.py            all ears, then pocketsphinx alone
    .venv/bin/python tests/bench/start.py --runs 5

Start: from creating the process until the first samples of speech are in the `--say-to` file. Warm: the first run fills
the disk cache and is not counted. Memory: proportional (PSS) and resident set size (RSS) of the process and its
children after it has taken one utterance; RSS counts pages that processes share once for each. Linux only (/proc).
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo"))

from driver import Bench
from mechanic import Workshop, make_mechanic

ROOT = Path(__file__).resolve().parents[2]

SHEET = ROOT / "demo" / "trailer-hub-brake.yaml"
WAV_HEADER_BYTES = 44


def family(pid: int) -> list[int]:
    """The process and all of its descendants."""
    parents: dict[int, int] = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = entry.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        parents[int(entry.parent.name)] = int(fields[1])
    found = [pid]
    for one in found:
        found += [child for child, parent in parents.items() if parent == one]
    return found


def memory_mb(pids: list[int], key: str) -> float:
    """Sum of `Rss:` or `Pss:` over the processes, in MB (2**20 bytes)."""
    total_kb = 0
    for pid in pids:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text()
        total_kb += sum(int(line.split()[1]) for line in text.splitlines() if line.startswith(f"{key}:"))
    return total_kb / 1024


def first_word_s(folder: Path, ears: tuple[str, ...]) -> float:
    """Seconds from the start of the process to the first sound of its voice."""
    said = folder / "said.wav"
    said.unlink(missing_ok=True)
    bench = Bench(SHEET, folder, say_to=said, new=True, options=ears)
    begun = time.monotonic()
    bench.spawn()
    while not said.exists() or said.stat().st_size <= WAV_HEADER_BYTES:
        if time.monotonic() - begun > 60:
            raise SystemExit(f"It said nothing within 60 s.\n{bench.errors}")
        time.sleep(0.005)
    took = time.monotonic() - begun
    bench.kill()
    return took


def memory(folder: Path, ears: tuple[str, ...]) -> tuple[float, float]:
    """(PSS, RSS) in MB after one utterance was taken."""
    bench = Bench(SHEET, folder, say_to=folder / "said.wav", new=True, options=ears)
    bench.start()
    workshop = Workshop()
    sound = workshop.around(make_mechanic().speak("Next."))
    is_ready = False
    for _ in range(10):
        _, is_ready = bench.say(sound, 5.0)
        if is_ready:
            break
        sound = workshop.room(0.6)
    if not is_ready:
        raise SystemExit("It did not answer an utterance.")
    pids = family(bench.pid)
    found = memory_mb(pids, "Pss"), memory_mb(pids, "Rss")
    bench.kill()
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=5)
    options = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for label, ears in (("all ears", ()), ("pocketsphinx alone", ("--engine", "pocketsphinx"))):
            first_word_s(folder, ears)
            times = [first_word_s(folder, ears) for _ in range(options.runs)]
            pss, rss = memory(folder, ears)
            print(
                f"{label}: first word after {statistics.median(times):.2f} s (median of {len(times)},"
                f" worst {max(times):.2f} s); memory {pss:.0f} MB (PSS), {rss:.0f} MB (RSS)"
            )


if __name__ == "__main__":
    main()
