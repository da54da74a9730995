"""Many sessions of one invented job, written as journals: what the logbook's figures and tests are taken on.

Each is worked through once by the rules themselves; the sessions differ in machine, time and values.
"""

from __future__ import annotations

import random
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path

from bench_voice.core import decide as rules
from bench_voice.core import events as ev
from bench_voice.core.flat import Flat, intent_of
from bench_voice.core.intents import Kind
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.session import journal as jn
from bench_voice.sheets.load import load_text

AXLES, SIDES = ("front", "second", "middle", "hinder", "tail"), ("left", "right")
DAY_MS, EPOCH_MS = 86_400_000, 1_577_836_800_000  # 2020-01-01


def sheet_text(machine: str) -> str:
    """A sheet with an odometer and 59 more values: five axles, two sides, six or five points each."""
    lines = [
        "sheet: yearly",
        "title: Yearly look at a five axle trailer",
        "version: 3",
        f"machine: {{name: Make-believe long trailer {machine}, id: {machine}}}",
        "source: Invented for this measurement.",
        "limits:",
        "  lining: {at least: 2.0, new: 8.0, unit: mm, source: invented}",
        "  distance: {unit: km}",
        "readings:",
        "  odometer: {limit: distance}",
    ]
    for axle in AXLES:
        for side in SIDES:
            points = 5 if (axle, side) == ("front", "left") else 6
            lines.append(f"  {axle}-{side}-lining: {{limit: lining, points: {points}}}")
    lines += [
        "steps:",
        "  - {id: block, say: Block the wheels., hold: confirm all wheels are blocked}",
        "  - {id: distance, say: Read the odometer., readings: [odometer]}",
    ]
    for axle in AXLES:
        names = ", ".join(f"{axle}-{side}-lining" for side in SIDES)
        lines.append(f"  - {{id: {axle}-axle, say: Measure the {axle} axle., readings: [{names}]}}")
    lines.append("  - {id: grease, say: Grease the bearings with the blue grease.}")
    lines.append("  - {id: end, say: Look round., final gate: yes, follow up: Check the wheel nuts after 50 km.}")
    return "\n".join(lines) + "\n"


@cache
def _job(machine: str) -> tuple[str, JobSheet]:
    text = sheet_text(machine)
    return text, load_text(text, "yearly.yaml")


def write_session(folder: Path, machine: str, number: int, seed: int = 1) -> Path:
    """Session `number` of `machine`, without an fsync for each line. 87 events or a few more."""
    rng = random.Random(f"{seed}/{machine}/{number}")
    text, sheet = _job(machine)
    at_ms = EPOCH_MS + number * 30 * DAY_MS + rng.randrange(DAY_MS)
    name = f"yearly--{jn.slug(machine)}--{datetime.fromtimestamp(at_ms / 1000, UTC).strftime('%Y%m%dT%H%M%S%fZ')}"
    header = {"format": 1, "sheet": sheet.id, "sheet_version": sheet.version, "machine": sheet.machine_id}
    header |= {"sheet_hash": jn.sheet_hash(text), "sheet_text": text}
    lines, previous = [], "0" * 64
    raw, previous = jn.sealed({**header, "seq": 0, "at_ms": at_ms, "prev": previous})
    lines.append(raw)
    for seq, (event, ms) in enumerate(_events(sheet, rng, number, at_ms), 1):
        raw, previous = jn.sealed({"event": jn.encode(event), "seq": seq, "at_ms": ms, "prev": previous})
        lines.append(raw)
    path = folder / f"{name}.jsonl"
    path.write_bytes(b"".join(lines))
    return path


def _events(sheet: JobSheet, rng: random.Random, number: int, at_ms: int) -> list[tuple[ev.Event, int]]:
    state = State(sheet)
    found: list[tuple[ev.Event, int]] = []

    def take(events: tuple[ev.Event, ...]) -> None:
        nonlocal state, at_ms
        at_ms += rng.randrange(2000, 20_000)
        found.extend((event, at_ms) for event in events)
        state = rules.fold(state.at(at_ms), events)

    def intent(kind: Kind, **fields: object) -> None:
        take(rules.decide(state, intent_of(Flat(kind, **fields)), at_ms))  # type: ignore[arg-type]

    take(rules.begin(state))
    intent(Kind.CONFIRM, name="block", heard="confirm all wheels are blocked")
    intent(Kind.AFFIRM, heard="affirm")
    intent(Kind.NEXT, heard="next")
    distance = Decimal(1000 + number * 2500 + rng.randrange(200))
    intent(Kind.READING, name="odometer", value=distance, unit="km", in_limit_unit=distance, heard="a number")
    intent(Kind.NEXT, heard="next")
    for _ in AXLES:
        while waits := state.waits():
            worn = Decimal(number % 24 * 20 + rng.randrange(30)) / 100
            value = Decimal("8.00") - worn
            intent(Kind.READING, name=waits[0], value=value, unit="mm", in_limit_unit=value, heard="a number")
        if rng.random() < 0.1:
            intent(Kind.NOTE, text=f"hub cap number {rng.randrange(1000)} has a dent", heard="note")
        for reading in state.failed():
            intent(Kind.JUDGED, name=reading, text="looked at by the foreman", heard="judged")
        intent(Kind.NEXT, heard="next")
    intent(Kind.NEXT, heard="next")
    intent(Kind.NEXT, heard="next")
    return found
