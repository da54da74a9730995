"""The person's own instruments: what each can tell, and until when its calibration holds.

```toml
[calliper]
measures = "length"
uncertainty = "0.02 mm"      # expanded, k = 2

[wrench]
measures = "torque"
uncertainty = "4 %"          # of the reading
calibration_due = 2027-03-31
```

Pure: text and today's date come in.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from bench_voice.core.events import InstrumentsTaken, InstrumentUse, Overdue
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import UsageError
from bench_voice.reckon.measure import all_units, convert, dimension
from bench_voice.words.units import DIMENSIONS

FILE_NAME = "instruments.toml"
_KEYS = {"measures", "uncertainty", "calibration_due", "note"}
_AMOUNT = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(\S+)\s*")


@dataclass(frozen=True)
class Instrument:
    """`amount` in `unit`, or percent of the reading where `unit` is "percent"."""

    name: str
    measures: str
    amount: Decimal
    unit: str
    calibration_due: date | None = None
    note: str = ""

    def uncertainty(self, reading: Decimal, unit: str) -> Decimal:
        """U of `reading`, in its `unit`. Raises ReckonError where the unit is of another kind."""
        if self.unit == "percent":
            convert(reading, unit, unit)
            return abs(reading) * self.amount / 100
        return convert(self.amount, self.unit, unit, interval=True)

    def is_overdue(self, today: date) -> bool:
        """The due day itself still holds."""
        return self.calibration_due is not None and today > self.calibration_due


def parse(text: str, where: str = FILE_NAME) -> dict[str, Instrument]:
    """Raises UsageError [instruments] that names the instrument and the key."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _fault(where, f"The file cannot be read: {error}.", "Mend that line.") from error
    return {name: _instrument(name, body, where) for name, body in data.items()}


def _fault(where: str, what: str, mend: str) -> UsageError:
    return UsageError(what, mend=mend, slug="instruments", where=where)


def _instrument(name: str, body: object, where: str) -> Instrument:
    if not isinstance(body, dict):
        raise _fault(where, f'"{name}" stands outside of any instrument.', "Put it under a line such as [calliper].")
    wrong = sorted(set(body) - _KEYS)
    if wrong:
        raise _fault(where, f'[{name}] has the unknown key "{wrong[0]}".', f"Use one of: {', '.join(sorted(_KEYS))}.")
    measures = body.get("measures")
    if not isinstance(measures, str) or measures not in set(DIMENSIONS.values()):
        kinds = ", ".join(sorted(set(DIMENSIONS.values())))
        raise _fault(where, f'[{name}] measures "{measures}".', f"Use one of: {kinds}.")
    amount, unit = _uncertainty(name, body.get("uncertainty"), measures, where)
    due = body.get("calibration_due")
    # A date with a time is a date too for Python; the file wants the day.
    if due is not None and type(due) is not date:
        mend = "Write a day like 2027-03-31, without quotes."
        raise _fault(where, f'[{name}] has the calibration_due "{due}".', mend)
    note = body.get("note", "")
    if not isinstance(note, str):
        raise _fault(where, f"[{name}] has a note that is no text.", "Put it in quotes.")
    return Instrument(name, measures, amount, unit, due, note)


def _uncertainty(name: str, said: object, measures: str, where: str) -> tuple[Decimal, str]:
    match = _AMOUNT.fullmatch(said) if isinstance(said, str) else None
    unit = {"%": "percent"}.get(match[2], match[2]) if match else ""
    if match is None or unit not in all_units():
        raise _fault(where, f'[{name}] has the uncertainty "{said}".', 'Write it like "0.02 mm" or "4 %".')
    if unit != "percent" and dimension(unit) != measures:
        raise _fault(where, f"[{name}] measures {measures}, and {unit} is {dimension(unit)}.", "Give a fitting unit.")
    return Decimal(match[1]), unit


def days_overdue(one: Instrument, today: date) -> int:
    """0 for one that is not."""
    return max(0, (today - one.calibration_due).days) if one.calibration_due else 0


def known_as(name: str) -> str:
    """How a name of the sheet and one of the file are compared: "Feeler_gauge" is "feeler gauges"."""
    return " ".join(word.removesuffix("s") for word in re.split(r"[\s_-]+", name.lower()) if word)


def for_sheet(found: Mapping[str, Instrument], sheet: JobSheet, today: date) -> InstrumentsTaken:
    """What the person's instruments mean for this sheet's readings; counts have no uncertainty.

    Their own figure takes the place of the sheet's. Where the calibration ran out it is no longer assured: the larger
    of the two counts. One that measures another kind of quantity is not the one that the sheet names.
    """
    own = {known_as(name): one for name, one in found.items()}
    uses: list[InstrumentUse] = []
    late: dict[str, Overdue] = {}
    missing: dict[str, None] = {}
    for spec in sheet.readings.values():
        if not spec.instrument:
            continue
        one = own.get(known_as(spec.instrument))
        if one is None or one.measures != dimension(spec.unit):
            missing[spec.instrument] = None
            continue
        is_late = one.is_overdue(today)
        if is_late:
            late[one.name] = Overdue(spec.instrument, days_overdue(one, today))
        percent = one.amount if one.unit == "percent" else Decimal(0)
        absolute = Decimal(0) if percent else convert(one.amount, one.unit, spec.unit, interval=True)
        uses.append(InstrumentUse(spec.id, one.name, max(absolute, spec.uncertainty) if is_late else absolute, percent))
    return InstrumentsTaken(tuple(uses), tuple(sorted(late.values(), key=lambda o: -o.days)), tuple(missing))
