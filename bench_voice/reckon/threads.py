"""Metric threads: "M ten by one point two five", stress area, proof load, tapping drill.

Stress area A_s = (π/4)(d − 0.9382 P)² and proof loads of ISO 898-1 (coarse, second-hand); coarse pitches ISO 261.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from bench_voice.reckon.answer import Answer, ReckonError, positive, stated, to_place, value_of

ISO_898 = "ISO 898-1"
PI = Decimal("3.141592653589793238462643383")
COARSE: dict[Decimal, Decimal] = {
    Decimal(size): Decimal(pitch)
    for size, pitch in (
        ("2", "0.4"), ("2.5", "0.45"), ("3", "0.5"), ("4", "0.7"), ("5", "0.8"), ("6", "1"), ("8", "1.25"),
        ("10", "1.5"), ("12", "1.75"), ("14", "2"), ("16", "2"), ("18", "2.5"), ("20", "2.5"), ("22", "2.5"),
        ("24", "3"), ("27", "3"), ("30", "3.5"), ("36", "4"),
    )
}  # fmt: skip
# ISO 898-1 proof loads in N, coarse threads. [second-hand]
_PROOF_N: dict[str, dict[int, int]] = {
    "4.6": {6: 4520, 8: 8240, 10: 13000, 12: 19000},
    "8.8": {5: 8230, 6: 11600, 8: 21200, 10: 33700, 12: 48900, 14: 66700, 16: 91000, 20: 147000},
    "10.9": {5: 11800, 6: 16700, 8: 30400, 10: 48100, 12: 70000, 14: 95500, 16: 130000, 20: 203000},
    "12.9": {5: 13800, 6: 19500, 8: 35500, 10: 56300, 12: 81800, 14: 112000, 16: 152000, 20: 238000},
}
# Proof stress in MPa, for fine threads: up to M16, above.
_PROOF_MPA = {"4.6": (225, 225), "8.8": (580, 600), "10.9": (830, 830), "12.9": (970, 970)}


@dataclass(frozen=True)
class Thread:
    """Diameter and pitch in mm."""

    d: Decimal
    pitch: Decimal

    @property
    def is_coarse(self) -> bool:
        return COARSE.get(self.d) == self.pitch

    @property
    def name(self) -> str:
        return f"M{self.d.normalize():f}" + ("" if self.is_coarse else f"×{self.pitch.normalize():f}")


def thread(d: Decimal, pitch: Decimal | None = None) -> Thread:
    """Coarse pitch where none is given. Raises ReckonError for a size without one, or a pitch that cannot be."""
    positive(d, "thread diameter")
    if pitch is None:
        found = next((p for size, p in COARSE.items() if size == d), None)
        if found is None:
            raise ReckonError(f"I know no coarse pitch of M{d}.", mend="Say the pitch too.", slug="reckon-unknown")
        pitch = found
    positive(pitch, "pitch")
    if not Decimal(1) <= d <= 100 or not Decimal("0.2") <= pitch <= d / 4:
        raise ReckonError(f"M{d} by {pitch} is no metric thread.", mend="Say size by pitch.", slug="reckon-range")
    return Thread(d, pitch)


def stress_area_mm2(one: Thread) -> Decimal:
    """A_s = (π/4)(d − 0.9382 P)², ISO 898-1."""
    return PI / 4 * (one.d - Decimal("0.9382") * one.pitch) ** 2


def strength_class(name: str) -> str:
    """ "8.8", "10.9", …: checked. Raises ReckonError."""
    if name not in _PROOF_N:
        raise ReckonError(
            f'I have no proof loads for class "{name}".', mend=f"Say one of: {', '.join(_PROOF_N)}.",
            slug="reckon-unknown",
        )  # fmt: skip
    return name


def proof_load_n(one: Thread, name: str) -> Decimal:
    """ISO 898-1's table where it has the thread, else proof stress times stress area."""
    table = _PROOF_N[strength_class(name)]
    if one.is_coarse and one.d in table:
        return Decimal(table[int(one.d)])
    small, large = _PROOF_MPA[name]
    return stress_area_mm2(one) * (small if one.d <= 16 else large)


# ISO 2306 drills of the coarse threads; from memory.
_DRILL_MM = dict(
    zip(
        COARSE,
        map(Decimal, re.findall(r"\S+", "1.6 2.05 2.5 3.3 4.2 5 6.8 8.5 10.2 12 14 15.5 17.5 19.5 21 24 26.5 32")),
        strict=True,
    )
)


def tapping_drill_mm(one: Thread) -> Decimal:
    """ISO 2306's drill for a coarse thread; for a fine one d − P to a tenth, half to even, as the standard's are."""
    if one.is_coarse:
        return _DRILL_MM[one.d]
    return to_place(one.d - one.pitch, 1).normalize()


def drill_answer(one: Thread) -> Answer:
    drill = tapping_drill_mm(one)
    return Answer(
        "tapping drill", (stated("drill", drill, "mm"),), f"The drill for {one.name} is {{drill}}.",
        "about d − P", "ISO 2306 (from memory); fine threads d − P: common practice, no source",
    )  # fmt: skip


def area_answer(one: Thread) -> Answer:
    return Answer(
        "stress area", (value_of("area", stress_area_mm2(one), "mm**2"),),
        f"The stress area of {one.name} is {{area}}.",
        "(π/4)(d − 0.9382 P)²", ISO_898,
    )  # fmt: skip


def proof_answer(one: Thread, name: str) -> Answer:
    load = proof_load_n(one, name)
    shown = stated("load", to_place(load, 0), "N") if load == load.to_integral_value() else value_of("load", load, "N")
    return Answer(
        "proof load", (shown,), f"The proof load of {one.name} class {name} is {{load}}.",
        "table; fine threads: proof stress × stress area", ISO_898, is_limit=True,
    )  # fmt: skip
