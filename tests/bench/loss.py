"""Measures: the sound card is lost at random moments of a live session; is it said in time, is anything lost.

    .venv/bin/python tests/bench/loss.py              50 losses: about ten minutes
    .venv/bin/python tests/bench/loss.py --losses 5

Kinds: the sound server is killed, the microphone's cable is taken away, the loudspeaker's. Announced: printed by the
program (and spoken, where there is a loudspeaker). Between losses the mechanic says something, and every answer that
was given must stand in the journal, whole and unaltered.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "live"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from rig import LiveBench, Mechanic, Recorder, Room, Workshop, make_mechanic
from virtual_card import VirtualCard, missing

from bench_voice.session import journal as jn

ROOT = Path(__file__).resolve().parents[2]

JOB = ROOT / "tests" / "live" / "short-job.yaml"
SAID = ("is gone", "sound device was chosen")
BACK_S = 15.0


def announced(bench: LiveBench, lost_s: float, timeout_s: float = 10.0) -> float | None:
    """Seconds from the loss to the first line that says it."""
    end = time.monotonic() + timeout_s
    while time.monotonic() < end:
        for line in bench.lines:
            if line.at_s >= lost_s and any(part in line.text for part in SAID):
                return line.at_s - lost_s
        threading.Event().wait(0.02)
    return None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--losses", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    if missing():
        raise SystemExit(missing())
    chance = random.Random(options.seed)
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before", flush=True)
    times: dict[str, list[float]] = {"server": [], "mech": [], "out": []}
    unsaid = hangs = 0
    with VirtualCard() as card, tempfile.TemporaryDirectory() as name:
        journals = Path(name)
        workshop = Workshop()
        ears, room = Recorder(card, "out.monitor"), Room(card, workshop)
        bench = LiveBench(card, journals, "--new", "--no-sound-check", "--explain", sheet=JOB)
        mechanic = Mechanic(room, workshop, make_mechanic(), bench, ears)
        if bench.wait_for("Step one", 60) is None:
            raise SystemExit("It did not begin.")
        for count in range(options.losses):
            threading.Event().wait(3.5 + 3 * chance.random())
            kind = chance.choice(list(times))
            lost_s = time.monotonic()
            if kind == "server":
                card.stop()
            else:
                card.unplug(kind)
            took = announced(bench, lost_s)
            if took is None:
                unsaid += 1
                print(f"loss {count} ({kind}) was not announced", flush=True)
            else:
                times[kind].append(took)
            back_s = time.monotonic()
            if kind == "server":
                card.start()
            else:
                card.plug(kind)
            room.replug()
            ears.close()
            ears = mechanic.ears = Recorder(card, "out.monitor")
            threading.Event().wait(2.5)
            if bench.process.poll() is not None:
                raise SystemExit(f"It ended after loss {count} with {bench.process.returncode}.")
            if count % 5 == 4 and not mechanic.turn("what is left", "steps to go", tries=4):
                hangs += 1
                print(f"no answer after loss {count} ({kind}), {time.monotonic() - back_s:.0f} s:", flush=True)
                print("\n".join(f"    {line.at_s - back_s:.1f} {line.who}: {line.text}" for line in bench.lines[-12:]))
                print("\n".join(f"    {line.at_s - back_s:.1f} {line.text}" for line in bench.errors[-12:]))
        code = bench.end()
        room.close()
        ears.close()
        (path,) = journals.glob("*.jsonl")
        found = jn.read(path)
        answered = sum(1 for line in bench.lines if line.who == "you")
        kept = len(found.lines) - 2  # begun, first step
    every = sorted(one for some in times.values() for one in some)
    late = [one for one in every if one > 2.0]
    print(f"{options.losses} losses, exit code {code}, load {os.getloadavg()[0]:.1f} after")
    for kind, some in times.items():
        worst = f", worst {max(some):.2f} s" if some else ""
        print(f"  {kind}: {len(some)} announced{worst}")
    print(f"announced within 2 s: {len(every) - len(late)} of {options.losses}; not at all: {unsaid}")
    print(f"hangs: {hangs}; journal whole: {not found.torn}")
    print(f"words taken: {answered}, events in the journal after the first two: {kept}")


if __name__ == "__main__":
    main()
