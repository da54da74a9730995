"""What is open now: the one list that the refusal of "next", "what is left", a resume and the gate draw from."""

from __future__ import annotations

from dataclasses import dataclass

from bench_voice.core.cases import Hindrance, Open
from bench_voice.core.state import State


@dataclass(frozen=True)
class Matter:
    """One thing that is open. `step`: id of the step that it belongs to, "" for an entry of the register.

    `why`: what "next" is refused for; None where it only has to be settled before the end. `is_begun`: the step that
    takes it off or fits it has been read out and is not done: it may be off or on already.
    """

    what: Open
    key: str
    step: str = ""
    why: Hindrance | None = None
    is_begun: bool = False


def matters(state: State) -> tuple[Matter, ...]:
    """Everything that is open now, what hinders "next" first, in the order that it is asked for."""
    return (*_holds(state), *_here(state), *_before(state), *_items(state), *_later(state))


def hindrance(state: State) -> Matter | None:
    """What "next" is refused for on this step; None where the step may be left."""
    return next((matter for matter in matters(state) if matter.why is not None), None)


def _holds(state: State) -> list[Matter]:
    """Holds on the way here that are not confirmed."""
    if state.held() is None:
        return []
    return [
        Matter(Open.HOLD, step.hold.id, step.id, Hindrance.HOLD)
        for step in state.sheet.steps[: state.index + 1]
        if step.hold and step.hold.id not in state.confirmed and step.id not in state.passed_over
    ]


def _here(state: State) -> list[Matter]:
    step = state.step.id
    found = [Matter(Open.READING, key, step, Hindrance.FAILED) for key in state.failed()]
    found += [Matter(Open.READING, key, step, Hindrance.READING) for key in state.waits()]
    found += [Matter(Open.LOOK, key, step, Hindrance.LOOK) for key in state.looks_wanted()]
    found += [Matter(Open.LOOK, key, step, Hindrance.BAD_LOOK) for key in state.looks_bad()]
    return found


def _before(state: State) -> list[Matter]:
    """What is open again at earlier steps."""
    if state.open_before() is None:
        return []
    return [
        Matter(what, key, step.id, Hindrance.BEFORE)
        for step in state.sheet.steps[: state.index]
        if step.id not in state.passed_over
        for what, key in state.unsettled(step)
    ]


def is_at_gate(state: State) -> bool:
    """Whether "next" would sign off, or pass the gate."""
    return state.step.gate or state.index == len(state.sheet.steps) - 1


def _items(state: State) -> list[Matter]:
    """Entries of the register, and what steps that have been read out take off or fit."""
    step = state.step
    whys: dict[str, Hindrance] = {}
    # Withdrawn since it was put back. What this very step takes off may be off.
    for key in step.requires:
        if key in state.register and key not in step.opens:
            whys[key] = Hindrance.REQUIRES_NOW
    if is_at_gate(state):
        for what, key, _ in state.at_gate():
            if what is Open.ITEM:
                whys.setdefault(key, what.at_gate)
    for key in state.closes():
        whys.setdefault(key, Hindrance.CLOSE)
    found = [Matter(Open.ITEM, key, why=why) for key, why in whys.items()]
    found += [Matter(Open.ITEM, key) for key in state.register if key not in whys]
    return [*found, *(Matter(Open.ITEM, key, opened, is_begun=True) for opened, key in state.begun())]


def _later(state: State) -> list[Matter]:
    """At a gate: holds, readings and looks of the steps behind it."""
    if not is_at_gate(state):
        return []
    later = {step.id for step in state.sheet.steps[state.index + 1 :]}
    return [Matter(what, key, step, what.at_gate) for what, key, step in state.at_gate() if step in later]
