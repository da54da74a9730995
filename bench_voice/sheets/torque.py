"""A torque of the sheet: its stages, the limit that it gives a reading, and the steps it becomes, a stage each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

from bench_voice.core.sheet import Limit, Step, TorqueStage
from bench_voice.sheets import models
from bench_voice.words.units import convert

# A wrench is set to three figures; a converted target is rounded to so many.
_FIGURES = 3
Wrong = tuple[str, str, str]  # key, what, mend


def target_of(torque: models.Torque) -> Decimal | None:
    """What the wrench is set to at the end: `at`, else the last stage that is a torque."""
    if torque.at is not None:
        return torque.at
    return next((stage for stage in reversed(torque.stages) if isinstance(stage, Decimal)), None)


def limit_of_torque(torque: models.Torque) -> Limit | None:
    """The limit for a reading of the torque; None where no tolerance is given."""
    target = target_of(torque)
    if target is None or torque.within is None:
        return None
    return Limit(torque.unit, target - torque.within, target + torque.within, None, torque.source)


def stages_of(
    name: str, torque: models.Torque, wrench: models.Instrument | None
) -> tuple[tuple[TorqueStage, ...], list[Wrong]]:
    """The stages, and what does not fit together; without a target there are none."""
    wrong: list[Wrong] = []
    target = target_of(torque)
    if target is None:
        mend = "Add `at:` with the torque, or `stages:`."
        return (), [("", "It does not say what the wrench is set to.", mend)]
    steps: list[Decimal | models.Turn] = list(torque.stages) or [target]
    torques = [stage for stage in steps if isinstance(stage, Decimal)]
    for low, high in pairwise(torques):
        if low >= high:
            wrong.append(("stages", f"After {low} comes {high}: stages rise.", "Check the two figures."))
    if torques and torques[-1] != target:
        wrong.append(("stages", f"The last stage is {torques[-1]}, the torque is {target}.", "Check the two figures."))
    turns = [isinstance(stage, models.Turn) for stage in steps]
    if True in turns and False in turns[turns.index(True) :]:
        mend = "Put the turn last; after it a torque says nothing."
        wrong.append(("stages", "A torque stands after a turn.", mend))
    if turns[0]:
        mend = "Put a torque before it."
        wrong.append(("stages", "The first stage is a turn: from where is not said.", mend))
    twice = sorted({nut for nut in torque.order if torque.order.count(nut) > 1})
    if twice:
        wrong.append(("order", f'"{twice[0]}" stands in the order twice.', "Name each nut once."))
    if torque.within is not None and torque.within >= target:
        wrong.append(
            (
                "within",
                f"Plus or minus {torque.within} of {target} would take a loose bolt for a tight one.",
                "Check it.",
            )
        )
    stages = tuple(
        TorqueStage(
            torque=name,
            number=number,
            count=len(steps),
            unit=torque.unit,
            condition=torque.condition.rstrip(". "),
            target=stage if isinstance(stage, Decimal) else None,
            turn=stage.turn if isinstance(stage, models.Turn) else None,
            order=tuple(torque.order),
            thread=torque.thread.rstrip(". "),
            instrument=wrench.name if wrench else "",
            on_instrument=_on(stage, torque.unit, wrench) if isinstance(stage, Decimal) and wrench else None,
            source=torque.source,
        )
        for number, stage in enumerate(steps, 1)
    )
    return stages, wrong


def _on(target: Decimal, unit: str, wrench: models.Instrument) -> tuple[Decimal, str] | None:
    """The target in the wrench's own unit, to three figures; None where it is the same unit."""
    if wrench.unit is None or wrench.unit == unit:
        return None
    value = convert(target, unit, wrench.unit)
    return value.quantize(Decimal(1).scaleb(min(0, value.adjusted() - _FIGURES + 1))), wrench.unit


def in_stages(step: Step, stages: Sequence[TorqueStage]) -> list[Step]:
    """The step once for each stage. The last keeps the id and all that is asked; the first has what comes before."""
    if not stages:
        return [step]
    last = len(stages)
    out: list[Step] = []
    for stage in stages:
        is_first, is_last = stage.number == 1, stage.number == last
        id_ = step.id if is_last else f"{step.id}-stage-{stage.number}"
        part = replace(step, id=id_, torque=stage)
        if not is_first:
            part = replace(part, cautions=(), hold=None, requires=(), licensed="", needs=(out[-1].id,))
        elif step.hold is not None:
            part = replace(part, hold=replace(step.hold, id=id_))
        if not is_last:
            part = replace(part, readings=(), looks=(), opens=(), closes=(), gate=False, follow_up="", minutes=None)
        out.append(part)
    return out
