"""Cable drop, wire gauges, battery at rest. Low voltage of vehicles and benches; mains is licensed work.

Conductors: IEC 60228 class 5 plain copper and class 1/2 (second-hand), at 20 °C. AWG: d = 0.127·92^((36−n)/39) mm.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from itertools import pairwise

from bench_voice.reckon.answer import Answer, ReckonError, Value, positive, stated, value_of
from bench_voice.reckon.measure import convert, same_kind, sensible
from bench_voice.reckon.threads import PI

IEC_60228 = "IEC 60228, table for class 5 plain copper, 20 °C"
AWG_SOURCE = "ASTM B258 (AWG formula), copper 17.241 nΩ·m"
BATTERY_SOURCE = "BCI rest-voltage table, 12 V flooded, 80 °F"
OHM_PER_KM = {
    5: {"0.5": "39.0", "0.75": "26.0", "1": "19.5", "1.5": "13.3", "2.5": "7.98", "4": "4.95", "6": "3.30",
        "10": "1.91"},
    2: {"0.5": "36.0", "1.5": "12.1", "2.5": "7.41"},
}  # fmt: skip
# Rest volts, percent of charge, specific gravity, freezing point °C.
BATTERY = tuple(
    tuple(map(Decimal, row.split()))
    for row in (
        "12.65 100 1.265 -59.4",
        "12.45 75 1.225 -48.3",
        "12.24 50 1.190 -36.7",
        "12.06 25 1.155 -26.7",
        "11.89 0 1.120 -23.3",
    )
)


def ohm_per_km(area_mm2: Decimal, conductor_class: int = 5) -> Decimal:
    """Largest resistance at 20 °C. Raises ReckonError for a section that the table lacks."""
    table = OHM_PER_KM.get(conductor_class, {})
    for size, ohm in table.items():
        if Decimal(size) == area_mm2:
            return Decimal(ohm)
    raise ReckonError(
        f"The table has no {area_mm2} mm² of class {conductor_class}.",
        mend=f"Say one of: {', '.join(table) or 'class 5 or 2'}.",
        slug="reckon-unknown",
    )


def awg_diameter_mm(gauge: int) -> Decimal:
    """0 for 1/0; raises ReckonError outside of 0 to 40."""
    if not 0 <= gauge <= 40:
        raise ReckonError(f"There is no {gauge} gauge here.", mend="Say 0 to 40.", slug="reckon-unknown")
    return Decimal("0.127") * Decimal(92) ** (Decimal(36 - gauge) / 39)


def awg_area_mm2(gauge: int) -> Decimal:
    return PI / 4 * awg_diameter_mm(gauge) ** 2


def awg_ohm_per_km(gauge: int) -> Decimal:
    """Solid copper of 100 % IACS at 20 °C: 17.241 Ω·mm²/km."""
    return Decimal("17.241") / awg_area_mm2(gauge)


def drop_v(ohm_km: Decimal, one_way_m: Decimal, current_a: Decimal) -> Decimal:
    """Both conductors: R·2·length·I."""
    return positive(ohm_km, "resistance") / 1000 * 2 * positive(one_way_m, "length") * positive(current_a, "current")


def drop_answer(
    length: Decimal, length_unit: str, current: Decimal, current_unit: str,
    area_mm2: Decimal | None = None, gauge: int | None = None,
) -> Answer:  # fmt: skip
    """`length` is one way; the current also flows back."""
    same_kind(length_unit, "length", "length")
    same_kind(current_unit, "current", "current")
    metres, amps = convert(length, length_unit, "m"), convert(current, current_unit, "A")
    if metres > 1000 or amps > 1000:
        raise ReckonError("That is more than a bench's cable.", mend="Say length and current again.",
                          slug="reckon-range")  # fmt: skip
    if area_mm2 is not None:
        ohm, source, cable = ohm_per_km(area_mm2), IEC_60228, f"{area_mm2} square millimetres"
    elif gauge is not None:
        ohm, source, cable = awg_ohm_per_km(gauge), AWG_SOURCE, f"{gauge} gauge"
    else:
        raise ReckonError("The cable has no size.", mend="Say its section or gauge.", slug="reckon-unknown")
    return Answer(
        "voltage drop",
        (
            value_of("drop", drop_v(ohm, metres, amps), "V"),
            stated("length", length, length_unit),
            stated("current", current, current_unit),
        ),
        f"About {{drop}} lost over {{length}} there and back at {{current}}, {cable}.",
        "2·length·current·ohms per metre",
        source,
        is_limit=True,
    )


def charge_percent(volts: Decimal) -> Decimal:
    """Linear between the rows of the table; 0 below, 100 above. 12 V flooded, at rest."""
    if volts >= BATTERY[0][0]:
        return Decimal(100)
    for (high, high_percent, *_), (low, low_percent, *_) in pairwise(BATTERY):
        if volts >= low:
            return low_percent + (high_percent - low_percent) * (volts - low) / (high - low)
    return Decimal(0)


def charge_band(volts: Decimal, uncertainty: Decimal = Decimal(0)) -> tuple[Decimal, Decimal]:
    """The bands (multiples of 25 %) that volts ± U reach: never one band where the meter cannot tell."""
    low, high = charge_percent(volts - abs(uncertainty)), charge_percent(volts + abs(uncertainty))
    step = Decimal(25)
    bottom = min(Decimal(75), (low / step).to_integral_value(ROUND_FLOOR) * step)
    top = (high / step).to_integral_value(ROUND_CEILING) * step
    return bottom, max(top, bottom + step)


def battery_answer(volts: Decimal, unit: str, uncertainty: Decimal | None = None, u_unit: str = "V") -> Answer:
    """Without a stated uncertainty the meter is taken as 1 %."""
    same_kind(unit, "voltage", "voltage")
    same_kind(u_unit, "voltage", "uncertainty")
    value = convert(sensible(volts, unit, "voltage"), unit, "V")
    if not Decimal(8) <= value <= 16:
        raise ReckonError(f"{value} V is no twelve volt battery at rest.", mend="Say its rest voltage.",
                          slug="reckon-range")  # fmt: skip
    doubt = value / 100 if uncertainty is None else convert(abs(uncertainty), u_unit, "V")
    low, high = charge_band(value, doubt)
    warnings = ("Above 12.9 volts it is charging or just charged: rest it.",) if value > Decimal("12.9") else ()
    return Answer(
        "battery",
        (stated("low", low, "percent"), stated("high", high, "percent"), value_of("doubt", doubt, "V", 2),
         stated("volts", volts, unit),
         Value("charge", charge_percent(value), "percent", charge_percent(value).quantize(Decimal(1)))),
        "{volts}: between {low} and {high} charged, if it rested six hours or more and the meter is within {doubt}.",
        "linear between the rows of the table",
        BATTERY_SOURCE,
        is_limit=True,
        warnings=warnings,
    )  # fmt: skip
