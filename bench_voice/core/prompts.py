"""What a step says and what it wants now, as replies; and what a reply is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from bench_voice.core.cases import Open
from bench_voice.core.sheet import Step, TorqueStage
from bench_voice.core.state import Phase, State
from bench_voice.core.verdict import Side


@dataclass(frozen=True)
class Quantity:
    """A value with its unit, spoken as such."""

    value: Decimal
    unit: str


@dataclass(frozen=True)
class UnitName:
    """A unit by its word alone: "millimetres"."""

    unit: str


@dataclass(frozen=True)
class Statement:
    """What a hold's phrase confirms: the phrase is said without the word that it begins with in its language."""

    phrase: str


@dataclass(frozen=True)
class Reply:
    """`key` names a template, `fields` fill it. `is_urgent`: out of limits, a hold: said in full, not cut short."""

    key: str
    fields: Mapping[str, Any] = field(default_factory=dict)
    is_urgent: bool = False


Replies = tuple[Reply, ...]


def reply(key: str, is_urgent: bool = False, **fields: Any) -> Reply:
    return Reply(key, fields, is_urgent)


def prompt(state: State) -> Replies:
    """What the step wants now, in one sentence; nothing where "next" is all that is wanted and was said."""
    phase = state.phase()
    held = state.held()
    if phase is Phase.HOLD and held:
        return (reply("want-hold", True, phrase=held.phrase),)
    if phase is Phase.FAILED:
        return (_choices(state, state.failed()[0]),)
    if phase is Phase.READING:
        return (_want_reading(state),)
    if phase is Phase.LOOK:
        bad = state.looks_bad()
        if bad and not state.looks_wanted():
            return (reply("choices-look", True, name=name_of(state, bad[0])),)
        return (reply("want-look", name=name_of(state, state.looks_wanted()[0])),)
    if phase is Phase.GATE:
        return (gate(state),)
    if phase is Phase.CLOSE:
        return (want_item(state, state.closes()[0]),)
    if phase is Phase.READY:
        is_last = state.index == len(state.sheet.steps) - 1
        return (reply("want-sign-off" if is_last else "want-next"),)
    return ()


def _choices(state: State, reading: str) -> Reply:
    """What keeps the step open, and the ways out. Of a difference no side is to blame."""
    spec, side = state.sheet.readings[reading], state.verdict_at(state.step.id, reading).side
    if side is Side.PAIR:
        return reply("choices-pair", True, names=(spec.name, name_of(state, spec.pair or "")))
    return reply("choices-spread" if side is Side.SPREAD else "choices", True, name=spec.name)


def _want_reading(state: State) -> Reply:
    reading = state.waits()[0]
    spec = state.sheet.readings[reading]
    if spec.points == 1 and spec.instrument_unit:
        return reply("want-reading-in", name=spec.name, unit=UnitName(spec.read_in))
    if spec.points == 1:
        return reply("want-reading", name=spec.name)
    number = len(state.taken_at(state.step.id, reading).points) + 1
    points = Decimal(spec.points)
    if spec.instrument_unit:
        unit = UnitName(spec.read_in)
        return reply("want-point-in", name=spec.name, number=Decimal(number), points=points, unit=unit)
    return reply("want-point", name=spec.name, number=Decimal(number), points=points)


def want_item(state: State, key: str) -> Reply:
    entry = state.register[key]
    return reply(f"want-{entry.kind.value}", name=entry.name)


def gate(state: State) -> Reply:
    open_ = state.open_at_gate()
    why, what = open_[0]
    count = Decimal(len(open_))
    if why is Open.ITEM:
        entry = state.register[what]
        return reply(f"gate-{entry.kind.value}", True, name=entry.name, count=count)
    return reply(f"gate-{why}", True, name=name_of(state, what), count=count)


def phrase_of(state: State, hold: str) -> str:
    return next((s.hold.phrase for s in state.sheet.steps if s.hold and s.hold.id == hold), hold)


def read_back(state: State, hold: str) -> Reply:
    return reply("read-back", True, what=Statement(phrase_of(state, hold)))


def name_of(state: State, id_: str) -> str:
    """The spoken name of a reading, look or item."""
    if (name := state.sheet.name_of(id_)) is not None:
        return name
    return state.register[id_].name if id_ in state.register else id_


def step_text(state: State, step: Step) -> Replies:
    """The step read aloud: cautions first, then the words."""
    number = Decimal(state.sheet.step_index(step.id) + 1)
    cautions = tuple(
        reply("caution", True, signal=c.signal.value, hazard=c.hazard, consequence=c.consequence, avoid=c.avoid)
        for c in step.cautions
    )
    licensed = (reply("licensed", True, who=step.licensed),) if step.licensed else ()
    torque = torque_text(step.torque) if step.torque else ()
    # What is on already after the first stage is not to be put on again.
    is_later = step.torque is not None and step.torque.number > 1
    words = reply("step-stage", number=number) if is_later else reply("step", number=number, say=step.say)
    return (*cautions, *licensed, words, *torque)


def torque_text(stage: TorqueStage) -> Replies:
    """One stage of tightening: which, how far, on this wrench, in which order; the thread with the first stage only."""
    said = []
    if stage.number == 1:
        said.append(
            reply("torque-thread", thread=stage.thread, condition=stage.condition)
            if stage.thread
            else reply("torque-condition", condition=stage.condition)
        )
    is_turn = stage.turn is not None
    amount = Quantity(stage.turn, "deg") if stage.turn is not None else Quantity(stage.target or Decimal(0), stage.unit)
    kind = "turn" if is_turn else "to"
    if stage.count > 1:
        number, count = Decimal(stage.number), Decimal(stage.count)
        said.append(reply(f"torque-stage-{kind}", True, number=number, count=count, amount=amount))
    else:
        said.append(reply(f"torque-{kind}", True, amount=amount))
    if stage.on_instrument:
        said.append(reply("torque-on", True, instrument=stage.instrument, amount=Quantity(*stage.on_instrument)))
    if stage.order:
        said.append(reply("torque-order", order=tuple(Decimal(nut) if nut.isdigit() else nut for nut in stage.order)))
    return tuple(said)
