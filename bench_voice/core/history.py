"""One point's readings over the machine's life, as the session keeps them. Their arithmetic is elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Series:
    """`pairs`: (distance or hours, value), oldest first, in `against_unit` and in the reading's limit's unit.

    `low`, `high`, `uncertainty`: what the value is judged by now; filled in by the state, not kept.
    """

    reading: str
    point: int
    against: str
    against_unit: str
    pairs: tuple[tuple[Decimal, Decimal], ...]
    low: Decimal | None = None
    high: Decimal | None = None
    uncertainty: Decimal = Decimal(0)


@dataclass(frozen=True)
class LastValue:
    """What one point of a reading was when it was last taken on this machine."""

    reading: str
    point: int
    value: Decimal
    unit: str
    at_ms: int


@dataclass(frozen=True)
class DoneBefore:
    """Something that was done on this machine, in the words of its sheet or of a note, the last time that it was done.

    `at`: the machine's distance or hours then.
    """

    text: str
    at_ms: int
    at: Decimal | None = None
    at_unit: str = ""


@dataclass(frozen=True)
class Earlier:
    """For "what was it last time?" and "when was the oil changed?". `at`: the machine's distance or hours at its newest
    session, below which none is taken without asking; `reading`: the sheet's reading that counts them, if it has one.
    """

    values: tuple[LastValue, ...] = ()
    done: tuple[DoneBefore, ...] = ()
    reading: str = ""
    at: Decimal | None = None
    at_unit: str = ""
    at_ms: int = 0
