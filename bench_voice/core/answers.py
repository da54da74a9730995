"""What is said to who asks: the question that an unclear sentence asks back, and the answers of what is told."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.decide import JUDGEMENTS
from bench_voice.core.intents import ITEM_KINDS, SETTINGS, VALUES, Asks, Intent, Kind
from bench_voice.core.prompts import (
    Quantity,
    Replies,
    Reply,
    UnitName,
    name_of,
    phrase_of,
    prompt,
    read_back,
    reply,
    step_text,
    still_open,
    torque_text,
)
from bench_voice.core.state import State


def question(state: State, intent: Intent) -> Reply:
    """The question that an AMBIGUOUS intent asks back."""
    asks = intent.asks or Asks.WHICH_NUMBER
    if asks is Asks.HOW_MANY_POINTS and not intent.is_offer:
        expected = state.expected()
        reading = intent.name or expected.asked_for
        wanted = expected.wanted_of(reading) if reading else expected.points_left
        if wanted == 1:
            return reply("ask-one-point", True)
        return reply("ask-how-many-points", True, points=Decimal(wanted))
    # Of one number for several readings it is their names that tell them apart.
    is_by_name = asks is Asks.WHICH_NAME and not intent.is_offer and all(o.kind in VALUES for o in intent.options)
    names = tuple(
        name_of(state, option.name) if is_by_name and option.name else _option(state, option)
        for option in intent.options
    )
    offered = intent.offered
    if asks is Asks.WHICH_NAME and offered is not None and offered.kind in VALUES and offered.name:
        names = (reply("offer-reading", name=name_of(state, offered.name), quantity=names[0]), *names[1:])
    if intent.is_offer and intent.options:
        if len(names) > 1:
            return reply("ask-offer-of", True, first=names[0], others=names[1:])
        if asks is Asks.IMPLAUSIBLE:
            return reply("ask-implausible", True, offer=names[0])
        return reply("ask-offer", True, offer=names[0])
    if names:
        return reply("ask-which", True, names=names)
    name = name_of(state, intent.name) if intent.name else ""
    if asks is Asks.QUESTION and intent.detail:
        return reply("ask-question", True, why=intent.detail)
    if asks is Asks.WRONG_UNIT:
        waits = state.waits()
        unit_of = intent.name or (waits[0] if waits else None)
        spec = state.sheet.readings.get(unit_of) if unit_of else None
        if spec:
            return reply("ask-wrong-unit", True, unit=UnitName(spec.read_in), name=spec.name)
        return reply("ask-say-again", True)
    if asks is Asks.NO_NUMBER and name:
        return reply("ask-number", True, name=name)
    return reply(f"ask-{asks.value}" if asks is Asks.WHICH_NAME else "ask-say-again", True)


def _option(state: State, intent: Intent) -> Any:
    if intent.kind in VALUES or intent.kind is Kind.TIMER:
        if intent.values:
            return tuple(intent.values)
        if intent.value is not None:
            return Quantity(intent.value, intent.unit) if intent.unit else intent.value
    if intent.kind is Kind.CONFIRM:
        return phrase_of(state, intent.name or "")
    if intent.kind in ITEM_KINDS and (intent.name or intent.text):
        name = name_of(state, intent.name) if intent.name else intent.text
        return reply(f"offer-{intent.kind.value}", name=name)
    if intent.kind is Kind.JUDGEMENT and intent.name and intent.text in JUDGEMENTS:
        return reply(f"offer-look-{intent.text}", name=name_of(state, intent.name))
    if intent.kind is Kind.QUERY and intent.heard:
        return intent.heard
    if intent.kind in (Kind.AMBIGUOUS, Kind.UNKNOWN):  # a question within a question has no name of its own
        return intent.heard or reply("ask-say-again")
    if intent.name:
        return name_of(state, intent.name)
    return intent.text or Reply(f"name-{intent.kind.value}")


def told(state: State, event: ev.Told) -> Replies:
    """What was asked to be told: the step again, where we are, what is left, help, a setting, a question's answer."""
    topic = event.topic
    if topic == Kind.REPEAT:
        if state.read_back:
            return (read_back(state, state.read_back),)
        return (*step_text(state, state.step), *prompt(state))
    if topic == Kind.WHERE:
        number, total = Decimal(state.index + 1), Decimal(len(state.sheet.steps))
        torque = torque_text(state.step.torque) if state.step.torque else ()
        return (reply("where", number=number, total=total, say=state.step.say), *torque, *prompt(state))
    if topic == Kind.LEFT:
        return _left(state)
    if topic == Kind.HELP:
        return (reply(f"help-{state.phase().value}"), *prompt(state))
    if topic in SETTINGS:
        is_end = event.intent is not None and event.intent.detail == "end"
        return (reply(f"{topic}-end" if is_end else topic),)
    return _query(state, event.intent)


def _left(state: State) -> Replies:
    steps = Decimal(sum(1 for s in state.sheet.steps[state.index :] if s.id not in state.passed_over))
    if not state.register:
        return (reply("left-nothing", steps=steps), *_minutes_left(state))
    return (*still_open(state), *_minutes_left(state))


def _minutes_left(state: State) -> Replies:
    """The sheet's time for this step and those to come; nothing where one of them does not say."""
    coming = [step for step in state.sheet.steps[state.index :] if not step.only_if or step.only_if in state.replaced]
    # The minutes of a step in stages stand with its last one.
    timed = [step.minutes for step in coming if step.torque is None or step.torque.number == step.torque.count]
    known = [minutes for minutes in timed if minutes is not None]
    if not known or len(known) < len(timed):
        return ()
    return (reply("left-minutes", amount=Quantity(sum(known, Decimal(0)), "min")),)


def _query(state: State, intent: Intent | None) -> Replies:
    if intent is None:
        return ()
    if intent.text == "conversion" and intent.in_limit_unit is not None:
        unit = intent.detail
        asked = Quantity(intent.value or Decimal(0), intent.unit or "")
        return (reply("answer-conversion", asked=asked, answer=Quantity(intent.in_limit_unit, unit)),)
    if intent.text == "limit" and state.step.torque and not intent.name:
        return torque_text(state.step.torque)
    if intent.text in ("limit", "reading"):
        step_readings = state.step.readings
        name = intent.name or (state.waits() or step_readings or ("",))[0]
        if name in state.sheet.readings:
            return _limit_said(state, name) if intent.text == "limit" else _reading_said(state, name)
        return (reply("answer-none"),)
    if intent.text == "wear" and not intent.detail:
        # Only English has the sentences: elsewhere nothing is claimed about a history that is there.
        is_known = any(one.pairs for one in state.history if one.reading == intent.name)
        return (reply("answer-none") if is_known else reply("wear-none", name=_wear_name(state, intent)),)
    if intent.detail and intent.text not in ("conversion", "step"):
        return (reply("answer-reckoned", answer=intent.detail),)
    torque = torque_text(state.step.torque) if state.step.torque else ()
    return (reply("step", number=Decimal(state.index + 1), say=state.step.detail or state.step.say), *torque)


def _wear_name(state: State, intent: Intent) -> str:
    name = intent.name or (state.waits() or state.step.readings or ("",))[0]
    return name_of(state, name) if name else state.sheet.machine


def _limit_said(state: State, reading: str) -> Replies:
    spec = state.sheet.readings[reading]
    limit = state.limit_of(spec)
    said = []
    if limit.low is not None and limit.high is not None:
        said.append(reply("limit-between", name=spec.name, low=limit.low, high=Quantity(limit.high, limit.unit)))
    elif limit.low is not None:
        said.append(reply("limit-low", name=spec.name, low=Quantity(limit.low, limit.unit)))
    elif limit.high is not None:
        said.append(reply("limit-high", name=spec.name, high=Quantity(limit.high, limit.unit)))
    elif limit.rows:
        said.append(reply("limit-row", name=spec.name, marking=name_of(state, limit.from_marking or "")))
    else:
        said.append(reply("limit-none", name=spec.name))
    if limit.new is not None:
        said.append(reply("limit-new", new=Quantity(limit.new, limit.unit)))
    if limit.source:
        said.append(reply("limit-source", source=limit.source))
    return tuple(said)


def _reading_said(state: State, reading: str) -> Replies:
    found = [t for (_, r), t in state.taken.items() if r == reading and t.points]
    name = name_of(state, reading)
    if not found:
        return (reply("reading-none", name=name),)
    point = found[-1].points[-1]
    return (reply("reading-was", name=name, quantity=Quantity(point.value, point.unit)),)
