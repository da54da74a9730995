"""A whole session in a process of its own, which may be told to die in the middle of writing.

    python session_driver.py FOLDER [--die-at N before|after|half]

Talks the script below to a journal in FOLDER, each time from where the journal stands, and prints the state it came
to as one line. Dying is SIGKILL to itself at the N-th fsync: `before` it, `after` it, or `half`: after half of the
bytes of that write.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench_voice.core.state import State
from bench_voice.session import journal as jn
from bench_voice.session.owner import Owner
from bench_voice.sheets.load import load_text
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

SHEET = """\
sheet: bench-supply
title: Check of a bench supply
version: 1
machine: {name: Make-believe bench supply, id: supply one}
source: Invented for this test; no book stands behind it.
limits:
  ripple: {at most: 5.0, unit: mV, source: invented}
readings:
  ripple: {limit: ripple, plausible: [0, 50]}
items:
  dummy-load: {kind: temporary}
  lid:
steps:
  - id: mains
    say: Pull the mains plug.
    hold: {phrase: confirm the mains plug is out, again: no}
  - id: open
    say: Take the lid off and hang the dummy load on.
    remove: [lid]
    fit: [dummy-load]
  - id: measure
    say: Measure the ripple.
    readings: [ripple]
  - id: close
    say: Put the lid back.
    put back: [lid]
  - id: end
    say: Take the dummy load off.
    take off: [dummy-load]
    final gate: yes
"""

# Where the session stands decides what is said next, so a process that was killed goes on where it was.
ANSWERS: dict[str, Callable[[State], str]] = {
    "hold": lambda state: "confirm the mains plug is out",
    "read-back": lambda state: "affirm",
    "reading": lambda state: "nine point zero millivolts",
    "failed": lambda state: "fit new" if "ripple" not in state.replaced else "judged within the rework sheet",
    "close": lambda state: "put back lid" if "lid" in state.register else "next",
    "gate": lambda state: "took off dummy load",
    "ready": lambda state: "next",
}


class Clock:
    """One second further at each look, from where the journal ends: the same journal, the same times."""

    def __init__(self, ms: int) -> None:
        self.ms = ms

    def now_ms(self) -> int:
        self.ms += 1000
        return self.ms


def fingerprint(state: State) -> str:
    """What must be the same after an interruption, in one line."""
    taken = {"/".join(key): [str(p.value) for p in t.points] for key, t in state.taken.items() if t.points}
    parts = (
        state.step.id,
        sorted(state.confirmed),
        taken,
        sorted(state.register),
        sorted(state.replaced),
        str(state.ended or ""),
    )
    return repr(parts)


def dies(n: int, how: str) -> None:
    """Kills this process at its n-th fsync of a file."""
    real, seen = os.fsync, [0]

    def fsync(fd: Any) -> None:
        seen[0] += 1
        if seen[0] < n:
            return real(fd)
        if how == "half":
            size = os.fstat(fd).st_size
            data = Path(f"/proc/self/fd/{fd}").read_bytes()
            last = data.rstrip(b"\n").rfind(b"\n") + 1
            os.ftruncate(fd, last + (size - last) // 2)
        if how == "after":
            real(fd)
        os.kill(os.getpid(), signal.SIGKILL)
        return None

    os.fsync = fsync


def run(folder: Path, say: Callable[[tuple[str, ...]], Any] | None = None) -> State:
    sheet = load_text(SHEET, "bench-supply.yaml")
    language = load_language("en")
    found = jn.find_open(folder, sheet.id, sheet.machine_id)
    if found is None:
        state, clock = State(sheet), Clock(1_767_600_000_000)
        number = len(list(folder.glob("*.jsonl")))  # one that died with half of a header is left alone
        writer = jn.JournalWriter.create(folder, f"bench-supply--one--{number}", SHEET, sheet)
    else:
        state = jn.replay(sheet, found.lines)
        clock, writer = Clock(max(state.at_ms, found.header["at_ms"])), jn.JournalWriter.reopen(found)
    owner = Owner(state, writer, Speaker(language), clock, say or (lambda sentences: None))
    owner.resume() if found is not None and found.lines else owner.begin()
    while not owner.state.ended:
        words = ANSWERS[owner.state.phase().value](owner.state)
        owner.take(understand(words, owner.state.expected(), language))
    writer.close()
    return owner.state


if __name__ == "__main__":
    if "--die-at" in sys.argv:
        at = sys.argv.index("--die-at")
        dies(int(sys.argv[at + 1]), sys.argv[at + 2])
    print(fingerprint(run(Path(sys.argv[1]))))
