"""Random job sheets and random talk, from one seed each: sensible answers, wrong ones, and nonsense."""

from __future__ import annotations

from decimal import Decimal
from random import Random
from typing import Any

from bench_voice.core.flat import Flat, flat_of, intent_of
from bench_voice.core.intents import (
    Asks,
    Command,
    Confirmation,
    Intent,
    Judgement,
    Kind,
    Measurement,
    Remark,
    Replacement,
)
from bench_voice.core.sheet import Finding, ItemKind, JobSheet, Step
from bench_voice.core.state import Phase, State
from bench_voice.testing import reading, small_sheet, step

VALUES = ("0", "1.9", "1.95", "2", "2.0", "2.05", "2.1", "2.4", "2.5", "3", "4.60", "5.0", "5.1", "9", "-1", "1e3")


def random_sheet(rng: Random) -> JobSheet:
    """Two to seven steps; everything referred to exists and comes earlier, as the proofreader demands."""
    readings = {
        "mark": reading("mark", is_marking=True),
        "wear": reading("wear", low="2.0", points=rng.choice((1, 1, 2, 3)), uncertainty=rng.choice(("0", "0.1"))),
        "play": reading("play", "2.0", "2.5", spread="0.4", points=rng.choice((1, 2))),
        "left": reading("left", low="1", high="9", pair="right", pair_within="0.5"),
        "right": reading("right", low="1", high="9", pair="left", pair_within="0.5"),
        "drum": reading("drum", high="5.0", from_marking="mark"),
        "turns": reading("turns", unit="count"),
    }
    items = {"tape": [], "strap": [], "guard": [], "nut": [], "pin": []}  # type: dict[str, list[str]]
    steps: list[Step] = []
    opened: list[str] = []
    measured: list[str] = []
    for number in range(rng.randint(1, 6)):
        taken = rng.sample(sorted(readings), rng.choice((0, 0, 1, 1, 2)))
        opens = [key for key in rng.sample(sorted(items), rng.choice((0, 0, 1, 2))) if key not in opened]
        closes = rng.sample(opened, min(len(opened), rng.choice((0, 0, 1, 2))))
        steps.append(
            step(
                f"step-{number}",
                hold=f"confirm number {number} is made safe" if rng.random() < 0.35 else None,
                again=rng.random() < 0.6,
                until=f"step-{rng.randrange(number, number + 3)}" if rng.random() < 0.3 else None,
                readings=taken,
                looks=["cable"] if rng.random() < 0.2 else [],
                opens=opens,
                closes=closes,
                requires=rng.sample(opened, 1) if opened and rng.random() < 0.2 else [],
                needs=[s.id for s in steps if rng.random() < 0.3],
                only_if=rng.choice(measured) if measured and number and rng.random() < 0.25 else None,
            )
        )
        opened += opens
        measured += taken
    steps.append(step("last", gate=True, hold="confirm all tools are put away" if rng.random() < 0.3 else None))
    return small_sheet(
        *steps,
        readings=readings.values(),
        looks=["cable"],
        temporary=["tape", "strap"],
        parts=["guard", "nut"],
        renew=["pin"],
    )


def _value(rng: Random, text: str) -> dict[str, Any]:
    return {"value": Decimal(text), "in_limit_unit": Decimal(text)}


def sensible(rng: Random, state: State) -> Intent:
    """What somebody who listens would say here."""
    phase, held = state.phase(), state.held()
    if phase is Phase.HOLD and held:
        return Confirmation(hold=held.id, heard=held.phrase)
    if phase in (Phase.READ_BACK, Phase.ASKED):
        return Command(Kind.AFFIRM, heard="affirm")
    if phase is Phase.STOPPING:
        return intent_of(Flat(Kind.AFFIRM if rng.random() < 0.4 else Kind.NEGATIVE, heard="an answer"))
    if phase is Phase.FAILED:
        return rng.choice((Command(Kind.REDO), Replacement(), Remark(Kind.JUDGED, text="the foreman says it will do")))
    if phase is Phase.READING:
        return Measurement(
            Kind.READING, name=state.waits()[0], heard="a number", **_value(rng, rng.choice(("2.1", "2.4", "3", "9")))
        )
    if phase is Phase.LOOK:
        return Judgement(finding=Finding(rng.choice(("good", "good", "bad"))), note="no cracks")
    if phase in (Phase.GATE, Phase.CLOSE) and state.register:
        key = (state.closes() or tuple(state.register))[0]
        entry = state.register[key]
        verb = {
            ItemKind.TEMPORARY: Kind.TAKEN_OFF,
            ItemKind.PART: Kind.PUT_BACK,
            ItemKind.RENEW: Kind.FITTED,
            ItemKind.REMINDER: Kind.DONE,
        }[entry.kind]
        is_known = key in state.sheet.items
        return intent_of(
            Flat(verb, name=key if is_known else None, text="" if is_known else entry.name, heard=entry.name)
        )
    if phase is Phase.GATE:
        return Command(Kind.BACK)
    if phase is Phase.STAND_BY:
        return Command(Kind.CARRY_ON)
    return Command(Kind.NEXT, heard="next")


def nonsense(rng: Random, state: State) -> Intent:
    """Any kind, any fields."""
    kind = rng.choice(list(Kind))
    names = [None, "no-such", *state.sheet.readings, *state.sheet.items, *(s.id for s in state.sheet.steps), "cable"]
    text = rng.choice(("", "good", "doubtful", "bad", "tape", "tape on the cable", "call the owner", "strap"))
    amount = _value(rng, rng.choice(VALUES)) if rng.random() < 0.6 else {}
    row = Flat(
        kind,
        name=rng.choice(names),
        unit=rng.choice((None, "mm", "s", "min")),
        text=text,
        heard=text or "words",
        **amount,
    )
    if kind in (Kind.READING, Kind.CORRECTION) and rng.random() < 0.25:
        values = tuple(Decimal(rng.choice(VALUES)) for _ in range(rng.randint(1, 4)))
        return intent_of(Flat(kind, name=row.name, values=values, heard="several"))
    if kind is Kind.AMBIGUOUS:
        offered = tuple(flat_of(nonsense(rng, state)) for _ in range(rng.randint(0, 2)))
        asks = rng.choice(list(Asks))
        return intent_of(Flat(kind, name=row.name, asks=asks, options=offered, is_offer=rng.random() < 0.6, heard="eh"))
    return intent_of(row)


def random_talk(rng: Random, state: State) -> Intent:
    if rng.random() < 0.012:
        return Command(Kind.STOP, heard="stop the job")
    return sensible(rng, state) if rng.random() < 0.62 else nonsense(rng, state)
