"""Rules over figures: limits that nothing can keep, units of the wrong dimension, instruments too coarse."""

from __future__ import annotations

from decimal import Decimal

from bench_voice.core.sheet import JobSheet, Limit, ReadingSpec
from bench_voice.phonetics import words_of
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.spread import Places
from bench_voice.sheets.yamltext import Path_
from bench_voice.words.units import dimension_name, same_dimension

# What a word in a reading's name says about its dimension. Words of two meanings ("play" of a lever in degrees) stay
# out; common practice, no source.
_ABOUT: dict[str, str] = {
    **dict.fromkeys(("thickness", "diameter", "clearance", "width", "depth", "runout", "tread"), "length"),
    **dict.fromkeys(("torque",), "torque"),
    **dict.fromkeys(("pressure", "compression", "vacuum"), "pressure"),
    **dict.fromkeys(("voltage", "volts"), "voltage"),
    **dict.fromkeys(("current", "amps"), "current"),
    **dict.fromkeys(("resistance", "insulation", "ohms"), "resistance"),
    **dict.fromkeys(("temperature",), "temperature"),
    **dict.fromkeys(("angle", "camber"), "angle"),
}

# The ratio of an instrument's uncertainty to the tolerance: a tenth is wanted, a fifth is tolerated.
# Common practice in metrology (the "golden rule"); from memory, no edition at hand.
_WANTED, _TOLERATED = Decimal("0.1"), Decimal("0.2")


def limits(sheet: JobSheet, places: Places) -> list[Fault]:
    """All rules over the readings' limits."""
    faults: list[Fault] = []
    asked_at: dict[str, tuple[int, int]] = {}
    for number, step in enumerate(sheet.steps):
        for place, reading in enumerate(step.readings):
            asked_at.setdefault(reading, (number, place))
    for spec in sheet.readings.values():
        faults += _crossing(spec, places)
        faults += _dimension(spec, sheet, places)
        faults += _coarse(spec, places)
        faults += _marking(spec, sheet, places, asked_at)
    return list(dict.fromkeys(faults))


def instruments(sheet: JobSheet, places: Places) -> list[Fault]:
    """An uncertainty is how far off a reading may be, to either side."""
    faults: list[Fault] = []
    for name, entry in (places.tree.data.get("instruments") or {}).items():
        given = str(entry.get("uncertainty", "")) if isinstance(entry, dict) else ""
        if given.startswith("-") and given.strip("-0."):
            path: Path_ = ("instruments", name, "uncertainty")
            what, mend = f'"{given}" is less than nought.', "Write how far off it may be, without a sign."
            faults.append(
                Fault(places.file, places.tree.line(path), places.tree.dotted(path), what, mend, "sheet-number")
            )
    return faults


def unused(places: Places) -> list[Fault]:
    """Named limits that no reading uses."""
    data = places.tree.data
    faults: list[Fault] = []
    readings = [entry for entry in (data.get("readings") or {}).values() if isinstance(entry, dict)]
    used = {entry["limit"] for entry in readings if isinstance(entry.get("limit"), str)}
    for name in data.get("limits") or {}:
        if name not in used and not any("<" in ref for ref in used):
            what, mend = f'No reading uses the limit "{name}".', "Refer to it, or take it out."
            faults.append(places.fault("limit", name, "", what, mend, "sheet-limit-unused"))
    return faults


def torques(sheet: JobSheet, places: Places) -> list[Fault]:
    """Every torque is read aloud in a step; what ends with a turn has no torque to be read off afterwards."""
    faults: list[Fault] = []
    done = {step.torque.torque for step in sheet.steps if step.torque}
    for kind, name in places.of:
        if kind == "torque" and name not in done:
            what, mend = f'No step uses the torque "{name}".', "Add `torque:` to a step, or take it out."
            faults.append(places.fault("torque", name, "", what, mend, "sheet-torque"))
    for step in sheet.steps:
        if step.torque is None or step.torque.turn is None:
            continue
        for index, reading in enumerate(step.readings):
            spec = sheet.readings[reading]
            if _where(spec, places) == ("limit", step.torque.torque):
                what = (
                    f'After the turn "{spec.name}" says nothing: the wrench no longer shows the torque of the stages.'
                )
                mend = "Read it in a step of its own before the turn, or take it out."
                faults.append(places.fault("step", step.id, "readings", what, mend, "sheet-torque", index=index))
    return faults


def _where(spec: ReadingSpec, places: Places) -> tuple[str, str]:
    """Kind and name of the place where the reading's limit is written."""
    path = places.of["reading", spec.id]
    limit = places.tree.data[path[0]][path[1]]["limit"]
    return ("limit", limit) if isinstance(limit, str) and ("limit", limit) in places.of else ("reading", spec.id)


def _limit_fault(spec: ReadingSpec, places: Places, keys: tuple[str, ...], what: str, mend: str, slug: str) -> Fault:
    kind, name = _where(spec, places)
    path = places.of[kind, name] if kind == "limit" else (*places.of[kind, name], "limit")
    for key in keys:
        if (*path, key) in places.tree.lines:
            path = (*path, key)
            break
    return Fault(places.file, places.tree.line(path), places.tree.dotted(path), what, mend, slug)


def _crossing(spec: ReadingSpec, places: Places) -> list[Fault]:
    limit: Limit = spec.limit
    low, high, new = limit.low, limit.high, limit.new

    def fault(keys: tuple[str, ...], what: str, mend: str) -> list[Fault]:
        return [_limit_fault(spec, places, keys, what, mend, "sheet-limit-cross")]

    if low is not None and high is not None and low >= high:
        return fault(("between", "at least"), f"At least {low} and at most {high}: nothing can be both.", "Check them.")
    if new is not None and low is not None and new < low:
        return fault(("new",), f"A new part has {new}, less than the least allowed, {low}.", "Check the two figures.")
    if new is not None and high is not None and new > high:
        return fault(("new",), f"A new part has {new}, more than the most allowed, {high}.", "Check the two figures.")
    if spec.plausible is not None:
        least, most = spec.plausible
        if least >= most:
            what = f"Plausible from {least} to {most}: nothing can be both."
            return [places.fault("reading", spec.id, "plausible", what, "Check them.", "sheet-limit-cross")]
        if any(figure is not None and not least <= figure <= most for figure in (low, high, new)):
            what = f"The limit's figures lie outside of what is plausible, {least} to {most}."
            mend = "Widen `plausible`, or check the limit."
            return [places.fault("reading", spec.id, "plausible", what, mend, "sheet-limit-cross")]
    if spec.spread is not None and spec.points == 1:
        what, mend = "A spread is given, and only one point is measured.", "Write `points:`, or take `spread` out."
        return [places.fault("reading", spec.id, "spread", what, mend, "sheet-limit-cross")]
    return []


def _dimension(spec: ReadingSpec, sheet: JobSheet, places: Places) -> list[Fault]:
    faults: list[Fault] = []
    unit = spec.limit.unit
    # The last word is what the name is about: a "pressure plate thickness" is a thickness.
    for word in dict.fromkeys(words_of(name)[-1] for name in (spec.name, *spec.aliases) if words_of(name)):
        wanted = _ABOUT.get(word)
        if wanted is not None and wanted != dimension_name(unit):
            what = f'"{spec.name}" speaks of a {wanted}, and "{unit}" is a unit of {dimension_name(unit)}.'
            faults.append(_limit_fault(spec, places, ("unit",), what, "Check the unit.", "sheet-dimension"))
            break
    if spec.pair is not None and spec.pair in sheet.readings:
        other = sheet.readings[spec.pair]
        if not same_dimension(unit, other.limit.unit):
            what = f'"{unit}" cannot be compared with "{other.limit.unit}" of "{other.name}".'
            faults.append(places.fault("reading", spec.id, "pair", what, "Check the units.", "sheet-dimension"))
    marking = sheet.readings.get(spec.limit.from_marking or "")
    if marking is not None and not spec.limit.rows and not same_dimension(unit, marking.limit.unit):
        what = f'"{unit}" cannot take its limit from "{marking.name}", which is in "{marking.limit.unit}".'
        keys = ("marked on the part",)
        faults.append(_limit_fault(spec, places, keys, what, "Check the units.", "sheet-dimension"))
    return faults


def _coarse(spec: ReadingSpec, places: Places) -> list[Fault]:
    limit = spec.limit
    if limit.rows:
        widths = [row.high - row.low for row in limit.rows if row.high is not None and row.low is not None]
        if not widths:
            return []
        tolerance = min(widths)
    elif limit.low is not None and limit.high is not None:
        tolerance = limit.high - limit.low
    elif limit.new is not None and (limit.low is not None or limit.high is not None):
        tolerance = abs(limit.new - (limit.low if limit.low is not None else limit.high or Decimal(0)))
    else:
        return []
    if tolerance <= 0 or spec.uncertainty <= tolerance * _WANTED:
        return []
    is_note = spec.uncertainty <= tolerance * _TOLERATED
    share = "a tenth is wanted" if is_note else "a fifth is the most"
    what = (
        f"The {spec.instrument} is uncertain by {_short(spec.uncertainty)} {limit.unit}, the tolerance of "
        f'"{spec.name}" is {tolerance}: {share}.'
    )
    mend = "Take a finer instrument."
    return [places.fault("reading", spec.id, "instrument", what, mend, "sheet-coarse", is_note=is_note)]


def _short(value: Decimal) -> Decimal:
    """A converted figure in at most four digits; one that was written stays as it is."""
    digits = value.as_tuple().digits
    return value if len(digits) <= 6 else value.quantize(Decimal(1).scaleb(value.adjusted() - 3))


def _marking(spec: ReadingSpec, sheet: JobSheet, places: Places, asked_at: dict[str, tuple[int, int]]) -> list[Fault]:
    name = spec.limit.from_marking
    if name is None or name not in sheet.readings:
        return []
    keys = ("marked on the part",)
    marking = sheet.readings[name]
    if not marking.is_marking:
        what = f'"{marking.name}" is not a marking.'
        mend = "Add `marking: yes` to that reading."
        return [_limit_fault(spec, places, keys, what, mend, "sheet-marking")]
    if not spec.limit.rows and same_dimension(marking.unit, spec.unit) and marking.unit != spec.unit:
        what = f'The limit is in "{spec.unit}" and the marking in "{marking.unit}".'
        mend = "Write both in one unit; at the bench each unit can be said."
        return [_limit_fault(spec, places, keys, what, mend, "sheet-marking")]
    if not spec.limit.rows and spec.limit.low is None and spec.limit.high is None:
        what = "The limit is taken from the part, and it is not said whether it is the least or the most."
        mend = "Write `at most:` or `at least:` with the book's figure."
        return [_limit_fault(spec, places, keys, what, mend, "sheet-marking")]
    if name in asked_at and spec.id in asked_at and asked_at[name] >= asked_at[spec.id]:
        what = f'"{marking.name}" gives this limit, and it is read after "{spec.name}".'
        mend = "Ask for the marking first."
        return [_limit_fault(spec, places, keys, what, mend, "sheet-marking")]
    if spec.limit.rows and name in asked_at and sheet.steps[asked_at[name][0]].only_if is not None:
        what = f'"{marking.name}" chooses the row, and is read in a step that may be passed over.'
        mend = "Ask for the marking in a step that is always done."
        return [_limit_fault(spec, places, keys, what, mend, "sheet-marking")]
    return []
