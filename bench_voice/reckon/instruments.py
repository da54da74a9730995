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
from collections.abc import Iterable, Mapping
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

    def fault(what: str, mend: str) -> UsageError:
        return UsageError(what, mend=mend, slug="instruments", where=where)

    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise fault(f"The file cannot be read: {error}.", "Mend that line.") from error
    found: dict[str, Instrument] = {}
    for name, body in data.items():
        if not isinstance(body, dict):
            raise fault(f'"{name}" stands outside of any instrument.', "Put it under a line such as [calliper].")
        wrong = sorted(set(body) - _KEYS)
        if wrong:
            raise fault(f'[{name}] has the unknown key "{wrong[0]}".', f"Use one of: {', '.join(sorted(_KEYS))}.")
        measures, said = body.get("measures"), body.get("uncertainty")
        if not isinstance(measures, str) or measures not in set(DIMENSIONS.values()):
            kinds = ", ".join(sorted(set(DIMENSIONS.values())))
            raise fault(f'[{name}] measures "{measures}".', f"Use one of: {kinds}.")
        match = _AMOUNT.fullmatch(said) if isinstance(said, str) else None
        unit = {"%": "percent"}.get(match[2], match[2]) if match else ""
        if match is None or unit not in all_units():
            raise fault(f'[{name}] has the uncertainty "{said}".', 'Write it like "0.02 mm" or "4 %".')
        if unit != "percent" and dimension(unit) != measures:
            raise fault(f"[{name}] measures {measures}, and {unit} is {dimension(unit)}.", "Give a fitting unit.")
        due = body.get("calibration_due")
        # A date with a time is a date too for Python; the file wants the day.
        if due is not None and type(due) is not date:
            raise fault(f'[{name}] has the calibration_due "{due}".', "Write a day like 2027-03-31, without quotes.")
        note = body.get("note", "")
        if not isinstance(note, str):
            raise fault(f"[{name}] has a note that is no text.", "Put it in quotes.")
        found[name] = Instrument(name, measures, Decimal(match[1]), unit, due, note)
    return found


def overdue(instruments: Iterable[Instrument], today: date) -> tuple[Instrument, ...]:
    """Those whose calibration has run out, the longest overdue first."""
    late = [one for one in instruments if one.is_overdue(today)]
    return tuple(sorted(late, key=lambda one: (one.calibration_due or today, one.name)))


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
