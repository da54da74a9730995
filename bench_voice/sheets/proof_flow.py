"""Rules over the order of the job: what goes on and comes off, what is needed before, who can be reached."""

from __future__ import annotations

import re
from collections.abc import Iterable

from bench_voice.core.sheet import Item, ItemKind, JobSheet, Step
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.spread import Places


def register(sheet: JobSheet, places: Places) -> list[Fault]:
    """Walk the job once and follow each item: opened, closed, required."""
    faults: list[Fault] = []
    opened: dict[str, Step] = {}  # open now, by which step
    closed: dict[str, Step] = {}
    ever: set[str] = set()

    def add(step: Step, keys: tuple[str, ...], what: str, mend: str, slug: str, item: str) -> None:
        key = next((k for k in keys if _has(places, step, k)), keys[0])
        faults.append(places.fault("step", step.id, key, what, mend, slug))
        ever.add(item)

    for step in sheet.steps:
        for item in step.requires:
            ever.add(item)
            name = sheet.items[item].name
            if item in closed and item not in opened:
                continue
            if item in opened:
                what = f'"{name}" must be in place before this step, and is still off since "{opened[item].id}".'
            else:
                what = f'"{name}" must be in place before this step, and no step before puts it there.'
            mend = "Put the step that fits it before this one."
            add(step, ("requires",), what, mend, "sheet-required-early", item)
        for item in step.closes:
            ever.add(item)
            name = sheet.items[item].name
            first = opened.pop(item, None)
            if first is None:
                if item in closed:
                    what = f'"{name}" was already answered for in "{closed[item].id}".'
                else:
                    what = f'"{name}" is asked for here, and no step before has {_opening(sheet.items[item])}.'
                mend = "Check the order of the steps."
                add(step, ("take off", "put back", "fit new"), what, mend, "sheet-item-order", item)
            elif step.only_if is not None and step.only_if != first.only_if and not step.gate:
                what = f'"{name}" is closed only here, in a step that may be passed over.'
                mend = "Close it in a step that is always done."
                add(step, ("take off", "put back", "fit new"), what, mend, "sheet-item-maybe", item)
            closed[item] = step
        for item in step.opens:
            ever.add(item)
            if item in opened:
                what = f'"{sheet.items[item].name}" is already open since "{opened[item].id}".'
                add(step, ("fit", "remove"), what, "Close it first, or name another item.", "sheet-item-order", item)
            opened[item] = step
            closed.pop(item, None)
    for item, step in opened.items():
        faults.append(_left_open(sheet.items[item], step, places))
    for item, entry in sheet.items.items():
        if item not in ever:
            what, mend = f'No step uses "{entry.name}".', "Use it in a step, or take it out."
            faults.append(places.fault("item", item, "", what, mend, "sheet-item-unused"))
    return faults


def _has(places: Places, step: Step, key: str) -> bool:
    return (*places.of["step", step.id], key) in places.tree.lines


def _opening(item: Item) -> str:
    return "put it on" if item.kind is ItemKind.TEMPORARY else "taken it off"


def _left_open(item: Item, step: Step, places: Places) -> Fault:
    if item.kind is ItemKind.TEMPORARY:
        what, slug = f'"{item.name}" is fitted here and never taken off.', "sheet-temporary-left"
        mend = f"Add `take off: [{item.id}]` to a later step."
        return places.fault("step", step.id, "fit", what, mend, slug)
    if item.kind is ItemKind.RENEW:
        what, slug = f'"{item.name}" is thrown away here and no new one is fitted.', "sheet-renew-left"
        mend = f"Add `fit new: [{item.id}]` to a later step."
    else:
        what, slug = f'"{item.name}" is taken off here and never put back.', "sheet-part-left"
        mend = f"Add `put back: [{item.id}]` to a later step."
    return places.fault("step", step.id, "remove", what, mend, slug)


def gates(sheet: JobSheet, places: Places) -> list[Fault]:
    """One final gate, and it is the last step."""
    found = [step for step in sheet.steps if step.gate]
    if not found:
        last = sheet.steps[-1]
        what, mend = "The job has no final gate.", "Add `final gate: yes` to its last step."
        return [places.fault("step", last.id, "", what, mend, "sheet-gate")]
    faults = [
        places.fault(
            "step", s.id, "final gate", f'There is a final gate in "{found[0].id}" already.', "Keep one.", "sheet-gate"
        )
        for s in found[1:]
    ]
    after = sheet.steps[sheet.step_index(found[0].id) + 1 :]
    for step in after:
        if not step.gate:
            what = f'This step comes after the final gate "{found[0].id}" and is never reached.'
            mend = "Move it before the gate, or make it a `follow up` of the gate."
            faults.append(places.fault("step", step.id, "", what, mend, "sheet-unreachable"))
    if found[0].only_if is not None:
        what, mend = "The final gate may be passed over.", "Take `only if replaced` out of it."
        faults.append(places.fault("step", found[0].id, "only if replaced", what, mend, "sheet-gate"))
    return faults


def order(sheet: JobSheet, places: Places) -> list[Fault]:
    """`needs` point backwards and form no ring; `only if replaced` waits for something that can have happened."""
    faults: list[Fault] = []
    place = {step.id: index for index, step in enumerate(sheet.steps)}
    ring = _in_rings({step.id: step.needs for step in sheet.steps})
    for index, step in enumerate(sheet.steps):
        for needed in step.needs:
            if place[needed] >= index and step.id in ring and needed in ring:
                what = f'"{step.id}" and "{needed}" rest on each other in a ring.'
                if step.id == needed:
                    what = f'"{step.id}" rests on itself.'
                faults.append(places.fault("step", step.id, "needs", what, "Take one of them out.", "sheet-loop"))
            elif place[needed] >= index:
                what = f'This step rests on "{needed}", which comes later.'
                faults.append(places.fault("step", step.id, "needs", what, "Change the order.", "sheet-needs"))
    asked: dict[str, int] = {}
    for index, step in enumerate(sheet.steps):
        for reading in step.readings:
            asked.setdefault(reading, index)
    for index, step in enumerate(sheet.steps):
        if step.only_if is None:
            continue
        spec = sheet.readings[step.only_if]
        if spec.limit.low is None and spec.limit.high is None:
            what = f'"{spec.name}" has no limit, so it is never replaced and this step never reached.'
        elif asked.get(step.only_if, len(sheet.steps)) >= index:
            what = f'"{spec.name}" is not asked for before this step, so it cannot have been replaced.'
        else:
            continue
        mend = "Name a reading with a limit that is asked for before."
        faults.append(places.fault("step", step.id, "only if replaced", what, mend, "sheet-unreachable"))
    return faults


def hold_ends(sheet: JobSheet, places: Places) -> list[Fault]:
    """`until` of a hold names a later step: one that is done before the hold is reached would end it at once."""
    faults: list[Fault] = []
    place = {step.id: index for index, step in enumerate(sheet.steps)}
    for index, step in enumerate(sheet.steps):
        if step.hold is None or step.hold.until is None or place[step.hold.until] > index:
            continue
        if step.hold.until == step.id:
            what = "This hold ends with its own step, so an interrupted session would never ask it again."
        else:
            what = f'This hold ends with "{step.hold.until}", which comes earlier: it would never be asked again.'
        mend = "Name the later step that ends what it confirms, or write `again: no` if it cannot change."
        faults.append(places.fault("step", step.id, "hold", what, mend, "sheet-hold-until"))
    return faults


def _in_rings(needs: dict[str, tuple[str, ...]]) -> set[str]:
    """Steps that reach themselves: strongly connected parts (Tarjan 1972, without recursion)."""
    index: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    on_stack: set[str] = set()
    out: set[str] = set()
    for root in needs:
        if root in index:
            continue
        work: list[tuple[str, Iterable[str]]] = [(root, iter(needs[root]))]
        index[root] = low[root] = len(index)
        stack.append(root)
        on_stack.add(root)
        while work:
            node, children = work[-1]
            child = next(iter(children), None)
            if child is None:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[node])
                if low[node] == index[node]:
                    part = []
                    while True:
                        member = stack.pop()
                        on_stack.discard(member)
                        part.append(member)
                        if member == node:
                            break
                    if len(part) > 1 or node in needs[node]:
                        out.update(part)
            elif child not in index:
                index[child] = low[child] = len(index)
                stack.append(child)
                on_stack.add(child)
                work.append((child, iter(needs[child])))
            elif child in on_stack:
                low[node] = min(low[node], index[child])
    return out


def asked(sheet: JobSheet, places: Places) -> list[Fault]:
    """Every reading and look is asked for, a reading once; every caution is spoken."""
    faults: list[Fault] = []
    first: dict[str, str] = {}
    for step in sheet.steps:
        for index, reading in enumerate(step.readings):
            if reading in first:
                name = sheet.readings[reading].name
                what = f'"{name}" is already asked for in "{first[reading]}".'
                mend = "Give the second measurement its own reading."
                slug = "sheet-reading-twice"
                faults.append(places.fault("step", step.id, "readings", what, mend, slug, index=index))
            first.setdefault(reading, step.id)
    looked = {look for step in sheet.steps for look in step.looks}
    for reading, spec in sheet.readings.items():
        if reading not in first:
            what, mend = f'No step asks for "{spec.name}".', "Name it under `readings` of a step, or take it out."
            faults.append(places.fault("reading", reading, "", what, mend, "sheet-reading-unasked"))
    for look, entry in sheet.looks.items():
        if look not in looked:
            what, mend = f'No step asks to look at "{entry.name}".', "Name it under `looks` of a step, or take it out."
            faults.append(places.fault("look", look, "", what, mend, "sheet-look-unasked"))
    return faults


_LIFT = re.compile(
    r"\b(?:jack|lift|raise|hoist|winch)\b(?: up)? (?:up )?(?:the |one |both |each )?(?:\w+ )?(?:of )?(?:the )?"
    r"(?:trailer|machine|axle|car|van|truck|tractor|vehicle|frame|chassis|engine|front|rear|back|side|corner)\b"
    # What follows shows that the machine is meant and not a part of it ("lift the engine lid", "off the engine").
    r"(?=\s*(?:$|[.,;:!]|(?:and|on|onto|with|until|so|up|clear|by|to|from|at|in|high|slowly|carefully|again|then)\b))"
    r"|\bjack (?:it|up)\b"
)


def lifts(sheet: JobSheet, places: Places) -> list[Fault]:
    """A machine that is lifted has a hold point in that step or in the next one (common practice, no source)."""
    faults: list[Fault] = []
    for index, step in enumerate(sheet.steps):
        if not _LIFT.search(step.say.lower()):
            continue
        if not any(near.hold for near in sheet.steps[index : index + 2]):
            what = "The machine is lifted here, and no hold point makes sure that it stands firm."
            mend = "Add `hold: confirm …` to this step or to the next."
            faults.append(places.fault("step", step.id, "say", what, mend, "sheet-lift-hold"))
    return faults
