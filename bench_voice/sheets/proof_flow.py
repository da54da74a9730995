"""Rules over the order of the job: what goes on and comes off, what is needed before, who can be reached."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from bench_voice.core.sheet import Item, ItemKind, JobSheet, Step
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.spread import Places

_CLOSING_KEYS = ("take off", "put back", "fit new")  # the keys under which a step closes an item
_OPENING_KEYS = ("fit", "remove")


def register(sheet: JobSheet, places: Places) -> list[Fault]:
    """Walk the job once and follow each item: opened, closed, required."""
    items = _Items(sheet, places)
    for step in sheet.steps:
        for item in step.requires:
            items.require(item, step)
        for item in step.closes:
            items.close(item, step)
        for item in step.opens:
            items.open(item, step)
    left = [_left_open(sheet.items[item], step, places) for item, step in items.opened.items()]
    return items.faults + left + _unused(sheet, places)


class _Items:
    """The register while the job is walked: which step opened or closed each item last, and the faults found."""

    def __init__(self, sheet: JobSheet, places: Places) -> None:
        self._sheet, self._places = sheet, places
        self.opened: dict[str, Step] = {}  # open now
        self._closed: dict[str, Step] = {}
        self.faults: list[Fault] = []

    def require(self, item: str, step: Step) -> None:
        name = self._sheet.items[item].name
        if item in self.opened:
            what = f'"{name}" must be in place before this step, and is still off since "{self.opened[item].id}".'
        elif item not in self._closed:
            what = f'"{name}" must be in place before this step, and no step before puts it there.'
        else:
            return
        self._add(step, ("requires",), what, "Put the step that fits it before this one.", "sheet-required-early")

    def close(self, item: str, step: Step) -> None:
        name = self._sheet.items[item].name
        first = self.opened.pop(item, None)
        if first is None:
            if item in self._closed:
                what = f'"{name}" was already answered for in "{self._closed[item].id}".'
            else:
                what = f'"{name}" is asked for here, and no step before has {_opening(self._sheet.items[item])}.'
            self._add(step, _CLOSING_KEYS, what, "Check the order of the steps.", "sheet-item-order")
        elif step.only_if is not None and step.only_if != first.only_if and not step.gate:
            what = f'"{name}" is closed only here, in a step that may be passed over.'
            self._add(step, _CLOSING_KEYS, what, "Close it in a step that is always done.", "sheet-item-maybe")
        self._closed[item] = step

    def open(self, item: str, step: Step) -> None:
        if item in self.opened:
            what = f'"{self._sheet.items[item].name}" is already open since "{self.opened[item].id}".'
            self._add(step, _OPENING_KEYS, what, "Close it first, or name another item.", "sheet-item-order")
        self.opened[item] = step
        self._closed.pop(item, None)

    def _add(self, step: Step, keys: tuple[str, ...], what: str, mend: str, slug: str) -> None:
        """A fault at the first of the keys that the step has."""
        key = next((k for k in keys if _has(self._places, step, k)), keys[0])
        self.faults.append(self._places.fault("step", step.id, key, what, mend, slug))


def _unused(sheet: JobSheet, places: Places) -> list[Fault]:
    used = {item for step in sheet.steps for item in (*step.requires, *step.closes, *step.opens)}
    mend = "Use it in a step, or take it out."
    return [
        places.fault("item", item, "", f'No step uses "{entry.name}".', mend, "sheet-item-unused")
        for item, entry in sheet.items.items()
        if item not in used
    ]


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
    return _needs(sheet, places) + _never_replaced(sheet, places)


def _needs(sheet: JobSheet, places: Places) -> list[Fault]:
    faults: list[Fault] = []
    place = {step.id: index for index, step in enumerate(sheet.steps)}
    ring = _in_rings({step.id: step.needs for step in sheet.steps})
    for index, step in enumerate(sheet.steps):
        for needed in step.needs:
            if place[needed] < index:
                continue
            if step.id in ring and needed in ring:
                what = f'"{step.id}" and "{needed}" rest on each other in a ring.'
                if step.id == needed:
                    what = f'"{step.id}" rests on itself.'
                faults.append(places.fault("step", step.id, "needs", what, "Take one of them out.", "sheet-loop"))
            else:
                what = f'This step rests on "{needed}", which comes later.'
                faults.append(places.fault("step", step.id, "needs", what, "Change the order.", "sheet-needs"))
    return faults


def _never_replaced(sheet: JobSheet, places: Places) -> list[Fault]:
    """Steps for a replaced part whose reading has no limit, or is not asked for before."""
    faults: list[Fault] = []
    before: set[str] = set()  # readings asked for in earlier steps
    for step in sheet.steps:
        if step.only_if is not None:
            spec = sheet.readings[step.only_if]
            what = ""
            if spec.limit.low is None and spec.limit.high is None:
                what = f'"{spec.name}" has no limit, so it is never replaced and this step never reached.'
            elif step.only_if not in before:
                what = f'"{spec.name}" is not asked for before this step, so it cannot have been replaced.'
            if what:
                mend = "Name a reading with a limit that is asked for before."
                faults.append(places.fault("step", step.id, "only if replaced", what, mend, "sheet-unreachable"))
        before.update(step.readings)
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
    """Steps that reach themselves: the strongly connected parts (Sharir 1981). What is left last on the way along
    `needs` begins a part; the part is what reaches it, so it is found on the way back."""
    seen: set[str] = set()
    left = [step for root in needs for step in _reached(root, needs, seen)]
    needed_by: dict[str, list[str]] = {step: [] for step in needs}
    for step, needed in needs.items():
        for one in needed:
            needed_by[one].append(step)
    seen = set()
    rings: set[str] = set()
    for root in reversed(left):
        part = _reached(root, needed_by, seen)
        if len(part) > 1 or root in needs[root]:
            rings.update(part)
    return rings


def _reached(root: str, edges: Mapping[str, Iterable[str]], seen: set[str]) -> list[str]:
    """`root` and all that it reaches without what is in `seen`, depth first, in the order of leaving; added to `seen`.
    Without recursion: a job may have more steps than Python nests calls."""
    if root in seen:
        return []
    left: list[str] = []
    seen.add(root)
    way = [(root, iter(edges[root]))]
    while way:
        step, others = way[-1]
        other = next((one for one in others if one not in seen), None)
        if other is None:
            left.append(step)
            way.pop()
        else:
            seen.add(other)
            way.append((other, iter(edges[other])))
    return left


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
