"""A whole job in real time: the real program, PortAudio, a synthetic mechanic, and a room in which the assistant hears
its own voice in the microphone."""

from __future__ import annotations

import os
import random
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from rig import LiveBench, Mechanic, Recorder, Room, Workshop, make_mechanic, quiet_for
from virtual_card import VirtualCard

from bench_voice.session import journal as jn

JOB = Path(__file__).resolve().parent / "short-job.yaml"
ANNOUNCED_S = 2.0


@pytest.fixture
def people(card: VirtualCard) -> Iterator[tuple[Workshop, Room, Recorder]]:
    workshop = Workshop()
    ears, room = Recorder(card, "out.monitor"), Room(card, workshop)
    yield workshop, room, ears
    room.close()
    ears.close()


@pytest.fixture
def started(people: object) -> Iterator[list[LiveBench]]:
    """Programs that a test has started: whatever becomes of it, none is left."""
    programs: list[LiveBench] = []
    yield programs
    for program in programs:
        program.kill()


def events(folder: Path) -> list[str]:
    """Names of the session's events; the journal is read back and checked."""
    (path,) = folder.glob("*.jsonl")
    found = jn.read(path)
    assert not found.torn
    return [type(line.event).__name__ for line in found.lines]


def test_a_whole_job_live(
    card: VirtualCard, people: tuple[Workshop, Room, Recorder], started: list[LiveBench], tmp_path: Path
) -> None:
    workshop, room, ears = people
    # The loudspeaker stands in the same room: everything it says comes back at full level.
    assert card.pactl("load-module", "module-loopback", "source=out.monitor", "sink=mech", "latency_msec=60")
    keys = tmp_path / "keys"
    os.mkfifo(keys)
    bench = LiveBench(card, tmp_path, "--new", "--explain", "--keys", str(keys), sheet=JOB)
    started.append(bench)
    mechanic = Mechanic(room, workshop, make_mechanic(), bench, ears)
    assert bench.wait_for("Two seconds of silence", 40) is not None
    assert bench.wait_for("Now say", 20) is not None
    mechanic.listen()
    room.say(workshop.around(mechanic.voice.speak("One two three four five."), after_s=0.1))
    checked = bench.wait_for("hear", 20)
    assert checked is not None
    assert "hear you" in checked.text
    assert bench.wait_for("Step one", 20) is not None
    mechanic.begins_to_speak()
    keys.write_text("x")
    assert quiet_for(ears, 0.3, 1.0), "a key stops it at once"
    turns = [
        ("confirm mains plug is pulled and tagged", "affirm or negative"),
        ("affirm", "confirmed"),
        ("next", "step two"),
        ("four point two ohms", "four point two ohms. Good"),
        ("next", "step three"),
        ("took off yellow tag", "yellow tag: off"),
        ("next", "signed off. Every item is closed"),
    ]
    for line, expects in turns:
        assert mechanic.turn(line, expects), "\n".join(mechanic.log)
    assert bench.process.wait(timeout=30) == 0
    done = events(tmp_path)
    assert done[-1] == "SignedOff"
    assert done.count("HoldConfirmed") == 1
    assert done.count("ReadingRecorded") == 1
    # What it took for the person's words were the person's words, never its own.
    by_people = {line for line, _ in turns} | {"one two three four five"}
    said = " ".join(line.text.lower() for line in bench.lines if line.who == "bench")
    heard = [line.text for line in bench.lines if line.who == "you"]
    assert not [text for text in heard if text not in by_people and len(text.split()) > 2 and text in said]


def test_a_card_that_goes_away_is_announced_and_comes_back(
    card: VirtualCard, people: tuple[Workshop, Room, Recorder], started: list[LiveBench], tmp_path: Path
) -> None:
    """Five losses at random moments: the server killed as an unplugged card. tests/bench/loss.py does fifty."""
    _, room, _ = people
    bench = LiveBench(card, tmp_path, "--new", "--no-sound-check", sheet=JOB)
    started.append(bench)
    assert bench.wait_for("Step one", 40) is not None
    moments = random.Random(5)
    for turn in range(5):
        time.sleep(4 + moments.random() * 2)
        lost_s = time.monotonic()
        card.stop()
        told = bench.wait_for("microphone is gone", 10)
        assert told is not None, f"loss {turn} was not announced"
        assert told.at_s - lost_s <= ANNOUNCED_S, f"loss {turn} was announced after {told.at_s - lost_s:.2f} s"
        card.start()
        room.replug()
        assert bench.wait_for("microphone is back", 15) is not None, f"after loss {turn} it did not come back"
        assert bench.process.poll() is None
    assert bench.end() == 10
    assert events(tmp_path)[:3] == ["SessionStarted", "SessionDetails", "StepOpened"]
