"""What is said to who asks: the question that an unclear sentence asks back, and the answers of what is told."""

from __future__ import annotations

from decimal import Decimal
from typing import assert_never

from bench_voice.core import events as ev
from bench_voice.core.intents import (
    CONVERSION,
    ITEM_KINDS,
    SETTINGS,
    WEAR,
    Asks,
    Calculation,
    Command,
    Confirmation,
    Conversion,
    Intent,
    ItemChange,
    Judgement,
    Kind,
    Measurement,
    Query,
    Question,
    Remark,
    Replacement,
    Setting,
    Timer,
    Topic,
    Unknown,
)
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
    torque_text,
)
from bench_voice.core.standing import left, wanted
from bench_voice.core.state import State

Option = str | Decimal | tuple[Decimal, ...] | Quantity | Reply


def question(state: State, intent: Question) -> Reply:
    """The question as it is asked."""
    asks = intent.asks
    if asks is Asks.HOW_MANY_POINTS and not intent.is_offer:
        expected = state.expected()
        reading = intent.name or expected.asked_for
        wanted = expected.wanted_of(reading) if reading else expected.points_left
        if wanted == 1:
            return reply("ask-one-point", True)
        return reply("ask-how-many-points", True, points=Decimal(wanted))
    if asks is Asks.RETAKEN and intent.name and intent.options and state.taken_at(state.step.id, intent.name).points:
        return _retaken(state, intent, intent.name)
    # Of one number for several readings it is their names that tell them apart.
    is_by_name = (
        asks is Asks.WHICH_NAME and not intent.is_offer and all(isinstance(o, Measurement) for o in intent.options)
    )
    names = tuple(
        name_of(state, option.name)
        if is_by_name and isinstance(option, Measurement) and option.name
        else _option(state, option)
        for option in intent.options
    )
    offered = intent.offered
    if asks is Asks.WHICH_NAME and isinstance(offered, Measurement) and offered.name:
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
        if spec and spec.read_in == "count":
            return reply("ask-no-unit", True, name=spec.name)
        if spec:
            return reply("ask-wrong-unit", True, unit=UnitName(spec.read_in), name=spec.name)
        return reply("ask-say-again", True)
    if asks is Asks.NO_NUMBER and name:
        return reply("ask-number", True, name=name)
    return reply(f"ask-{asks.value}" if asks is Asks.WHICH_NAME else "ask-say-again", True)


def _retaken(state: State, intent: Question, reading: str) -> Reply:
    """What another value of a reading is that is taken: what stands, what was heard, and the words for each."""
    point = state.taken_at(state.step.id, reading).points[-1]
    heard = intent.options[0]
    said = _option(state, heard)
    if isinstance(heard, Measurement) and heard.value is not None:
        said = Quantity(heard.value, heard.unit or state.sheet.readings[reading].read_in)
    is_bad = state.needs_decision(state.step.id, reading)
    fields = {"name": name_of(state, reading), "was": Quantity(point.value, point.unit), "said": said}
    return reply("ask-retaken" if is_bad else "ask-retaken-good", True, **fields)


def _option(state: State, intent: Intent) -> Option:
    """How one of several meanings is named."""
    match intent:
        case Measurement(values=values, value=value, unit=unit):
            if values:
                return values
            if value is not None:
                return Quantity(value, unit) if unit else value
            return _by_name(state, intent, intent.name)
        case Timer(value=value, unit=unit):
            return Quantity(value, unit) if unit else value
        case Confirmation(hold=hold):
            return phrase_of(state, hold or "")
        case ItemChange(kind=kind, name=name, text=text):
            if kind in ITEM_KINDS and (name or text):
                return reply(f"offer-{kind.value}", name=name_of(state, name) if name else text)
            return _by_name(state, intent, name, text)
        case Judgement(name=name, finding=finding):
            if name and finding is not None:
                return reply(f"offer-look-{finding}", name=name_of(state, name))
            return _by_name(state, intent, name, finding or "")
        case Query(topic=topic, name=name) | Calculation(topic=topic, name=name):
            return intent.heard or _by_name(state, intent, name, topic)
        case Conversion():
            return intent.heard or _by_name(state, intent, None, CONVERSION)
        case Question() | Unknown():  # a question within a question has no name of its own
            return intent.heard or reply("ask-say-again")
        case Replacement(name=name):
            return _by_name(state, intent, name)
        case Remark(text=text):
            return _by_name(state, intent, None, text)
        case Command() | Setting():
            return _by_name(state, intent, None)
        case _:
            assert_never(intent)


def _by_name(state: State, intent: Intent, name: str | None, text: str = "") -> Option:
    """The sheet's name, else the words, else what such a sentence is called."""
    return name_of(state, name) if name else text or Reply(f"name-{intent.kind.value}")


def told(state: State, event: ev.Told) -> Replies:
    """What was asked to be told: the step again, where we are, what is left, help, a setting, a question's answer."""
    topic = event.topic
    if topic == Kind.REPEAT:
        if state.read_back:
            return (read_back(state, state.read_back),)
        return (*step_text(state, state.step), *wanted(state))
    if topic == Kind.WHERE:
        number, total = Decimal(state.index + 1), Decimal(len(state.sheet.steps))
        torque = torque_text(state.step.torque) if state.step.torque else ()
        return (reply("where", number=number, total=total, say=state.step.say), *torque, *wanted(state))
    if topic == Kind.LEFT:
        return _left(state)
    if topic == Kind.HELP:
        return (reply(f"help-{state.phase().value}"), *prompt(state))
    if topic in SETTINGS:
        is_at_end = isinstance(event.intent, Setting) and event.intent.is_at_end
        return (reply(f"{topic}-end" if is_at_end else topic),)
    return _query(state, event.intent)


def _left(state: State) -> Replies:
    if open_ := left(state):
        return (*open_, *_minutes_left(state))
    steps = sum(1 for s in state.sheet.steps[state.index :] if s.id not in state.passed_over)
    if steps == 1:
        return (reply("left-nothing-one"), *_minutes_left(state))
    return (reply("left-nothing", steps=Decimal(steps)), *_minutes_left(state))


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
    match intent:
        case None:
            return ()
        case Conversion():
            asked, answer = Quantity(intent.value, intent.unit), Quantity(intent.answer, intent.target)
            return (reply("answer-conversion", asked=asked, answer=answer),)
        case Query(topic=Topic.LIMIT, name=None) if state.step.torque:
            return torque_text(state.step.torque)
        case Query(topic=Topic.LIMIT | Topic.READING as topic):
            name = intent.name or (state.waits() or state.step.readings or ("",))[0]
            if name in state.sheet.readings:
                return _limit_said(state, name) if topic is Topic.LIMIT else _reading_said(state, name)
            return (reply("answer-none"),)
        case Calculation(sentence=sentence) if sentence:
            return (reply("answer-reckoned", answer=sentence),)
        case Calculation(topic=topic, name=name) if topic == WEAR:
            # Only English has the sentences: elsewhere nothing is claimed about a history that is there.
            is_known = any(one.pairs for one in state.history if one.reading == name)
            return (reply("answer-none") if is_known else reply("wear-none", name=_wear_name(state, name)),)
        case _:
            torque = torque_text(state.step.torque) if state.step.torque else ()
            return (reply("step", number=Decimal(state.index + 1), say=state.step.detail or state.step.say), *torque)


def _wear_name(state: State, name: str | None) -> str:
    name = name or (state.waits() or state.step.readings or ("",))[0]
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
