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
