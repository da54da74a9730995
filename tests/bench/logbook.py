"""The logbook with 100, 1,000 and 10,000 sessions of 60 readings, on both stores, beside reading the journals anew.

    python tests/bench/logbook.py [SIZE ...]      figures; exit code 1 where a bar is missed at the largest size
    python tests/bench/logbook.py outage [KILLS]  PostgreSQL killed so often in the middle of a catch-up (50)

Bars: a machine's page in 0.3 s, a search in 0.3 s, rebuilt at 20,000 events a second. The first two without the start
of the interpreter. "cpu" is the time of this process alone, which writes; journals are read by others beside it.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "records"))

from logbook_sessions import write_session
from postgres import Server, binaries

from bench_voice.errors import JournalError
from bench_voice.records.book import ask, content, fill
from bench_voice.records.book.connect import open_book
from bench_voice.records.logbook import kept_rows, rows
from bench_voice.records.machine_page import machine_page

PAGE_S, SEARCH_S, EVENTS_S = 0.3, 0.3, 20_000
SIZES, EACH = (100, 1000, 10_000), 24  # sessions in all, and of one machine
_READ_ALL = 1000  # journals read one by one beside it: of more only a part, in proportion


def cpu_s() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def timed(act: Callable[[], Any], times: int = 1) -> tuple[Any, float, float]:
    """What it gives, and the best seconds by the clock and of the processor."""
    found, best = None, (float("inf"), float("inf"))
    for _ in range(times):
        cpu, begun = cpu_s(), time.perf_counter()
        found = act()
        best = min(best, (time.perf_counter() - begun, cpu_s() - cpu))
    return found, *best


def figures(folder: Path, url: str | None, size: int) -> bool:
    store = "PostgreSQL" if url else "SQLite"
    book = open_book(folder, url)
    filled, wall, cpu = timed(lambda: fill.rebuild(book, folder))
    rate = filled.events / wall
    print(f"{size:6} sessions, {store:10}  rebuild {wall:6.1f} s ({cpu:.1f} s cpu), {rate:,.0f} events/s", end="")
    print(f", {filled.events / cpu:,.0f} events a cpu second")

    def page() -> str:
        machine = ask.machines(book, "trailer-7")[0].id
        ids, total = ask.session_ids(book, machine)
        return machine_page(kept_rows(book, ids), machine, total, [])

    _, page_s, page_cpu = timed(page, 5)
    hits, search_s, search_cpu = timed(lambda: ask.search(book, "hub cap 99"), 5)
    _, value_s, value_cpu = timed(lambda: ask.search(book, "", reading="tail"), 5)
    again = timed(lambda: fill.catch_up(book, folder))[1]
    print(
        f"{'':18}{store:10}  page {page_s:.3f} s ({page_cpu:.3f} cpu), search {search_s:.3f} s ({search_cpu:.3f} cpu),",
        end="",
    )
    print(f" readings {value_s:.3f} s ({value_cpu:.3f} cpu), nothing new {again:.3f} s, {len(hits[0])} hits")
    book.close()
    return max(page_s, search_s, value_s) <= PAGE_S and rate >= EVENTS_S


def measure(sizes: list[int]) -> int:
    server = Server() if binaries() else None
    is_good = True
    try:
        for size in sizes:
            with tempfile.TemporaryDirectory() as name:
                folder = Path(name)
                machines = max(8, size // EACH)
                for number in range(size):
                    write_session(folder, f"trailer-{number % machines}", number // machines)
                part = min(size, _READ_ALL)
                few = folder / "few"
                few.mkdir()
                for path in sorted(folder.glob("*.jsonl"))[:part]:
                    (few / path.name).symlink_to(path)
                wall = timed(partial(rows, few, "trailer-7"))[1] * size / part
                print(f"{size:6} sessions, journals read each time: {wall:.1f} s")
                is_good = figures(folder, None, size)
                if server is not None:
                    is_good &= figures(folder, server.new_database(), size)
    finally:
        if server is not None:
            server.stop()
    return 0 if is_good else 1


def outage(kills: int) -> int:
    """The catch-up goes on after every kill, and in the end both stores hold the same."""
    server = Server()
    fill._BATCH = 4
    try:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            for number in range(kills * 4 + 20):
                write_session(folder, f"trailer-{number % 5}", number // 5)
            url, done = server.new_database(), 0

            def progress(read: int, of: int) -> None:
                nonlocal done
                if done < kills:
                    server.kill()
                    done += 1

            while True:
                try:
                    book = open_book(folder, url)
                    fill.catch_up(book, folder, on_progress=progress)
                    break
                except JournalError as error:
                    if error.slug != "logbook-away":
                        raise
                    server.start()
            plain = open_book(folder)
            fill.catch_up(plain, folder)
            is_same = content.digest(book) == content.digest(plain)
            print(f"{done} kills; the logbook {'equals' if is_same else 'DIFFERS FROM'} the journals.")
            return 0 if is_same and done == kills else 1
    finally:
        server.stop()


if __name__ == "__main__":
    if sys.argv[1:2] == ["outage"]:
        sys.exit(outage(int(sys.argv[2]) if len(sys.argv) > 2 else 50))
    sys.exit(measure([int(one) for one in sys.argv[1:]] or list(SIZES)))
