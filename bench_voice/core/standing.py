"""What stands now, as sentences: a verdict with its limit, a reading that is not good, each thing that is open.

A difference is never one reading's fault: both sides are said, what they differ by and what is allowed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Context, Decimal

from bench_voice.core.cases import Open
from bench_voice.core.opens import Matter, matters
from bench_voice.core.prompts import (
    Quantity,
    Replies,
    Reply,
    gate,
    name_of,
    phrase_of,
    prompt,
    reply,
    want_item,
)
from bench_voice.core.sheet import Finding, Limit, ReadingSpec
from bench_voice.core.state import Phase, Point, State
from bench_voice.core.verdict import Judged, Side, Verdict, like, shown


def point_verdict(state: State, spec: ReadingSpec, point: Point) -> Reply:
    """Verdict on one value with the limit, the margin in the unit that was said, on the safe side of its rounding."""
    limit = state.limit_of(spec)
    judged = state.judge(spec, point.in_limit_unit)
    figures = [figure for figure in (limit.low, limit.high) if figure is not None]
    scale = _scale(point, limit.unit)
    if scale is None or judged.margin is None:
        return _verdict(judged, limit, limit.unit, like(point.in_limit_unit, *figures))
    # Twelve digits: 110.555… degrees back in Fahrenheit must not be a hair past the degree.
    own = Context(prec=12).plus(judged.margin * scale)
    # The digits that were said; more where the margin would vanish in them.
    digits = like(point.value) if not own else min(like(point.value), Decimal(1).scaleb(own.adjusted()))
    return _verdict(replace(judged, margin=own), limit, point.unit, digits)


def _scale(point: Point, unit: str) -> Decimal | None:
    """How many of the unit that was said make one of the limit's; None where it is the limit's own, or not to be told
    from this value. A difference of temperatures has no offset.
    """
    if point.unit == unit:
        return None
    degrees = {("degF", "degC"): Decimal("1.8"), ("degC", "degF"): 1 / Decimal("1.8")}
    if (point.unit, unit) in degrees:
        return degrees[point.unit, unit]
    return point.value / point.in_limit_unit if point.in_limit_unit else None


def _verdict(judged: Judged, limit: Limit, unit: str, like: Decimal) -> Reply:
    if judged.verdict is Verdict.NOTED or judged.margin is None:
        return reply("verdict-noted")
    margin = Quantity(abs(shown(judged.margin, like)), unit)
    if judged.verdict is Verdict.GOOD:
        return reply("verdict-good", margin=margin)
    figure = limit.low if judged.side is Side.LOW else limit.high
    fields = {"limit": Quantity(figure or Decimal(0), limit.unit)}
    if judged.verdict is Verdict.BORDERLINE and not judged.margin:
        return reply(f"verdict-on-limit-{judged.side}", True, **fields)
    return reply(f"verdict-{judged.verdict}-{judged.side}", True, margin=margin, **fields)


def together_verdict(state: State, step: str, reading: str) -> Reply | None:
    """Verdict on the points together, or on both sides, where that is what counts: all figures of the difference."""
    judged, spec = state.verdict_at(step, reading), state.sheet.readings[reading]
    points = state.taken_at(step, reading).points
    if judged.margin is None or judged.side not in (Side.SPREAD, Side.PAIR):
        return None
    is_spread = judged.side is Side.SPREAD
    most = (spec.spread if is_spread else spec.pair_within) or Decimal(0)
    digits = like(points[-1].in_limit_unit, most)
    margin = shown(judged.margin, digits)
    key = f"verdict-{judged.verdict}-{judged.side}"
    if judged.verdict is Verdict.GOOD:
        if is_spread:
            return reply(key, margin=Quantity(margin, spec.unit))
        return pair_agrees(state, step, reading)[0]
    differ, allowed = Quantity(most - margin, spec.unit), Quantity(most, spec.unit)
    if is_spread:
        low, high = lowest_and_highest(points)
        return reply(key, True, name=spec.name, low=low, high=high, difference=differ, most=allowed)
    found = {reading: points, spec.pair: state.other_points(spec)}
    sides = tuple(_side(one, found[one.id]) for one in state.sheet.readings.values() if one.id in found)
    return reply(key, True, sides=sides, difference=differ, most=allowed)


def pair_agrees(state: State, step: str, reading: str) -> Replies:
    """That both sides agree, where the difference between them is limited and both are known."""
    spec = state.sheet.readings[reading]
    judged = state.pair_of(spec, state.taken_at(step, reading).values)
    if judged is None or judged.margin is None or judged.verdict is not Verdict.GOOD:
        return ()
    digits = like(state.taken_at(step, reading).points[-1].in_limit_unit, spec.pair_within or Decimal(0))
    return (reply("verdict-good-pair", margin=Quantity(shown(judged.margin, digits), spec.unit)),)


def _side(spec: ReadingSpec, points: Sequence[Point]) -> Reply:
    """One side of a pair; of several points it is their mean that counts."""
    if len(points) == 1:
        return reply("side", name=spec.name, quantity=Quantity(points[0].value, points[0].unit))
    mean = sum((point.in_limit_unit for point in points), Decimal(0)) / len(points)
    digits = min(like(point.in_limit_unit) for point in points) / 10
    rounded = mean.quantize(max(digits, Decimal("0.0001"))) if mean != mean.to_integral() else mean
    return reply("side-mean", name=spec.name, quantity=Quantity(rounded, spec.unit))


def lowest_and_highest(points: Sequence[Point]) -> tuple[Decimal | Quantity, Decimal | Quantity]:
    """In the unit that was said: "five thou" is not 0.127 mm to who said it."""
    ordered = sorted(points, key=lambda point: point.in_limit_unit)
    is_one_unit = len({point.unit for point in points}) == 1
    low, high = (p.value if is_one_unit else Quantity(p.value, p.unit) for p in (ordered[0], ordered[-1]))
    return low, high


def reading_stands(state: State, step: str, reading: str) -> Replies:
    """What stands for it with its verdict: the worst point, or the difference where that is what counts."""
    spec, points = state.sheet.readings[reading], state.taken_at(step, reading).points
    together = together_verdict(state, step, reading)
    if together is not None and together.is_urgent:
        return (together,)
    judged = [state.judge(spec, point.in_limit_unit) for point in points]
    worst = max(range(len(points)), key=lambda at: (judged[at].verdict.rank, -(judged[at].margin or 0)))
    point = points[worst]
    said = reply("reading", name=spec.name, quantity=Quantity(point.value, point.unit))
    return (said, *(() if spec.is_marking else (point_verdict(state, spec, point),)))


def said_of(state: State, open_: Sequence[Matter]) -> Replies:
    """Each open matter as it stands, nothing twice."""
    found: list[Reply] = []
    for matter in open_:
        said = _matter(state, matter)
        if said and not all(one in found for one in said):
            is_elsewhere = matter.step not in ("", state.step.id)
            number = Decimal(state.sheet.step_index(matter.step) + 1) if is_elsewhere else Decimal(0)
            found += (*((reply("at-step", number=number),) if is_elsewhere else ()), *said)
    return tuple(found)


def _matter(state: State, matter: Matter) -> Replies:
    name = name_of(state, matter.key)
    if matter.what is Open.HOLD:
        return (reply("open-hold", phrase=phrase_of(state, matter.key)),)
    if matter.what is Open.LOOK:
        finding, _ = state.looked.get((matter.step, matter.key), (None, ""))
        is_bad = finding not in (None, Finding.GOOD)
        return (reply(f"open-look-{finding}", True, name=name) if is_bad else reply("open-look", name=name),)
    if matter.what is Open.ITEM:
        if matter.is_begun:
            return (reply(f"begun-{state.sheet.items[matter.key].kind}", name=name),)
        entry = state.register[matter.key]
        return (reply(f"open-{entry.kind}", name=entry.name),)
    if state.needs_decision(matter.step, matter.key):
        return reading_stands(state, matter.step, matter.key)
    taken, wanted = len(state.taken_at(matter.step, matter.key).points), state.sheet.readings[matter.key].points
    if taken:
        return (reply("open-points", name=name, taken=Decimal(taken), points=Decimal(wanted)),)
    return (reply("open-reading", name=name),)


def failure(state: State, said: Replies = ()) -> Replies:
    """The reading that keeps this step open, with its figures, and the ways out; of what was `said` just now, no more
    than which it is."""
    reading = state.failed()[0]
    stands = reading_stands(state, state.step.id, reading)
    return prompt(state) if stands[-1] in said else (*stands, reply("ways", True))


def wanted(state: State, said: Replies = ()) -> Replies:
    """What the step wants now, with the figures of what is not good."""
    return failure(state, said) if state.phase() is Phase.FAILED else prompt(state)


def gate_in_full(state: State) -> Replies:
    """The gate in one breath, counted; then the first of it, which the others follow one by one."""
    if len(state.open_at_gate()) < 2:
        return (gate(state),)
    open_ = matters(state)
    why, what = state.open_at_gate()[0]
    first = want_item(state, what) if why is Open.ITEM else gate(state)
    return (reply("gate-count", True, count=Decimal(len(open_))), *said_of(state, open_), first)


def left(state: State) -> Replies:
    """Everything that is open; nothing where nothing is."""
    return said_of(state, matters(state))
