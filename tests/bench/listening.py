"""Measures what listening costs: processor while nobody speaks and while speech is decoded, memory over hours.

    .venv/bin/python tests/bench/listening.py                 one minute of silence, then ten lines, in real time
    .venv/bin/python tests/bench/listening.py --hours 4       memory over four simulated hours, as fast as it goes

Processor: user and system time of the program and its children from /proc, of one core, on a virtual sound card with a
quiet room. Memory: proportional set size (PSS) of this process and its children, every ten simulated minutes; the live
loop with the real detector, ears and voice on a simulated card, somebody speaks every two minutes.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "bench"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "session"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "live"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo"))

from start import family, memory_mb

ROOT = Path(__file__).resolve().parents[2]

LINES = ("what is the limit", "where are we", "what is left", "next", "say again")


def cpu_s(pids: list[int]) -> float:
    """User and system time of the processes so far."""
    total = 0.0
    for pid in pids:
        try:
            fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        total += sum(map(int, fields[11:13])) / os.sysconf("SC_CLK_TCK")
    return total


def processor(seconds: float) -> None:
    from rig import LiveBench, Mechanic, Recorder, Room, Workshop, make_mechanic
    from virtual_card import VirtualCard, missing

    if missing():
        raise SystemExit(missing())
    job = ROOT / "tests" / "live" / "short-job.yaml"
    with VirtualCard() as card, tempfile.TemporaryDirectory() as name:
        workshop = Workshop(snr_db=35.0)
        ears, room = Recorder(card, "out.monitor"), Room(card, workshop)
        bench = LiveBench(card, Path(name), "--new", "--no-sound-check", "--explain", sheet=job)
        mechanic = Mechanic(room, workshop, make_mechanic(), bench, ears)
        if bench.wait_for("Step one", 60) is None:
            raise SystemExit("It did not begin.")
        mechanic.listen()
        pids = family(bench.process.pid)
        before_s, at_s = cpu_s(pids), time.monotonic()
        threading.Event().wait(seconds)
        share = (cpu_s(pids) - before_s) / (time.monotonic() - at_s)
        print(f"listening to silence: {100 * share:.1f} % of one core over {seconds:.0f} s, {len(pids)} processes")
        used, speech_s = 0.0, 0.0
        for line in LINES * 2:
            mechanic.listen()
            speech = mechanic.voice.speak(f"{line.capitalize()}.")
            bench.forget()
            begun, begun_s = cpu_s(pids), time.monotonic()
            room.say(workshop.around(speech, after_s=0.1))
            if bench.wait_for("", 15) is None:
                continue
            used += cpu_s(pids) - begun
            speech_s += time.monotonic() - begun_s
        print(f"from the first word to the answer: {100 * used / speech_s:.0f} % of one core over {speech_s:.0f} s")
        bench.end()
        room.close()
        ears.close()


def memory(hours: float) -> None:
    from live_fakes import LiveRig, SimCard
    from mechanic import Workshop, make_mechanic

    from bench_voice.audio import factory
    from bench_voice.audio.ears import Ears
    from bench_voice.audio.endpointer import SileroEndpointer
    from bench_voice.phonetics import spoken
    from bench_voice.sheets.load import load_sheet
    from bench_voice.words.phrases import load_language

    language = load_language("en")
    voice, workshop = make_mechanic(), Workshop(snr_db=35.0)
    said = [workshop.around(voice.speak(f"{line.capitalize()}.")) for line in LINES]
    del voice
    rig = LiveRig(
        [],
        card=SimCard(echo_db=-20.0, room=0.001),
        voice=factory.make_voice(),  # type: ignore[arg-type]  # no fake voice here
        endpointer=SileroEndpointer(),
        make_ears=lambda: Ears(factory.make_ears(None, language, ways=spoken)),
        job=load_sheet(ROOT / "demo" / "trailer-hub-brake.yaml"),
    )
    begun_s, curve = time.monotonic(), list[float]()

    def speak(turn: int) -> None:
        rig.card.people.append(said[turn % len(said)])
        rig.card.at[round(rig.card.now_s / 0.02) + 6000] = lambda: speak(turn + 1)

    def look(minute: int) -> None:
        pss = memory_mb(family(os.getpid()), "Pss")
        curve.append(pss)
        print(
            f"{minute:4d} min: {pss:.0f} MB, {len(rig.journal.lines)} events, {time.monotonic() - begun_s:.0f} s",
            flush=True,
        )
        rig.card.at[round(rig.card.now_s / 0.02) + 30_000] = lambda: look(minute + 10)

    rig.card.at[1500] = lambda: speak(0)
    rig.card.at[30_001] = lambda: look(10)
    rig.run(hours * 3600)
    rig.live._w.ears.close()
    rig.close()
    if len(curve) > 2:
        print(f"from {curve[1]:.0f} MB after 20 minutes to {curve[-1]:.0f} MB at the end, most {max(curve):.0f} MB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=float, help="memory over so many simulated hours instead")
    parser.add_argument("--seconds", type=float, default=60.0, help="of silence")
    options = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}", flush=True)
    memory(options.hours) if options.hours else processor(options.seconds)


if __name__ == "__main__":
    main()
