"""An invented workshop for the tests: a farm trailer, a generator engine, a bench supply. All figures are invented."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Asks, Expected, Intent, Kind
from bench_voice.core.sheet import Hold, Item, ItemKind, JobSheet, Limit, Look, ReadingSpec, Step


def D(text: str | int) -> Decimal:
    return Decimal(text)


READINGS = {
    r.id: r
    for r in (
        ReadingSpec("left-lining", "left lining", Limit("mm", low=D("1.5"), new=D("5.0"))),
        ReadingSpec("right-lining", "right lining", Limit("mm", low=D("1.5"), new=D("5.0"))),
        ReadingSpec("drum", "drum diameter", Limit("mm", high=D("230.0"), new=D("228.0")), aliases=("drum",)),
        ReadingSpec("pad", "front pad", Limit("mm", low=D("2.0"), new=D("9.0")), aliases=("pad",), points=4),
        ReadingSpec("nut", "hub nut torque", Limit("N*m", low=D(80), high=D(90)), aliases=("hub nut", "torque")),
        ReadingSpec("bolt", "clamp bolt torque", Limit("lbf*ft", low=D(60), high=D(70))),
        ReadingSpec("tyre", "tyre pressure", Limit("kPa", low=D(240), high=D(260)), aliases=("tire pressure",)),
        ReadingSpec("spare", "spare wheel pressure", Limit("psi", low=D(34), high=D(38))),
        ReadingSpec("idle", "idle voltage", Limit("V", low=D("13.8"), high=D("14.6"))),
        ReadingSpec("ripple", "ripple", Limit("mV", high=D(80)), aliases=("ripple voltage",)),
        ReadingSpec("gap", "spark gap", Limit("in", low=D("0.025"), high=D("0.030"))),
        ReadingSpec("float", "end float", Limit("thou", low=D(1), high=D(10))),
        ReadingSpec("head", "head temperature", Limit("degC", high=D(110))),
        ReadingSpec("warm", "warm up time", Limit("s", high=D(300))),
        ReadingSpec("speed", "engine speed", Limit("rpm", low=D(2950), high=D(3050)), aliases=("speed",)),
        ReadingSpec("left-play", "left bearing play", Limit("mm", high=D("0.15")), aliases=("left play",)),
        ReadingSpec("right-play", "right bearing play", Limit("mm", high=D("0.15")), aliases=("right play",)),
        ReadingSpec("hours", "hour meter", Limit("h")),
        ReadingSpec("free", "free length", Limit("mm")),
        ReadingSpec("bound", "pedal travel", Limit("mm", high=D(30)), plausible=(D(5), D(80))),
        ReadingSpec("oil", "oil filled", Limit("mL", low=D(550), high=D(600))),
        ReadingSpec("resistance", "coil resistance", Limit("kohm", low=D("5.0"), high=D("7.5"))),
        ReadingSpec("mass", "counterweight", Limit("kg", low=D(20), high=D(25))),
    )
}
HOLD = Hold("blocks", "confirm the wheels are blocked front and rear")
OTHER_HOLD = Hold("mains", "confirm the mains lead is unplugged")
LOOKS = {
    "surface": Look("surface", "drum surface", aliases=("friction surface",)),
    "lip": Look("lip", "seal lip"),
}
ITEMS = {
    "strap": Item("strap", "strap on the brake lever", ItemKind.TEMPORARY, aliases=("strap", "brake strap")),
    "plug": Item("plug", "plug in the fuel line", ItemKind.TEMPORARY, aliases=("fuel plug",)),
    "guard": Item("guard", "belt guard", ItemKind.PART),
    "left-cap": Item("left-cap", "left hub cap", ItemKind.PART),
    "right-cap": Item("right-cap", "right hub cap", ItemKind.PART),
    "pin": Item("pin", "split pin", ItemKind.RENEW, aliases=("cotter pin",)),
}
# What each step waits for, by the name that the table uses.
PLACES: dict[str, tuple[str, ...]] = {
    "lining": ("left-lining",),
    "drum": ("drum",),
    "pad": ("pad",),
    "torque": ("nut",),
    "bolt": ("bolt",),
    "tyre": ("tyre",),
    "spare": ("spare",),
    "volts": ("idle", "ripple"),
    "gap": ("gap",),
    "float": ("float",),
    "head": ("head",),
    "warm": ("warm",),
    "speed": ("speed",),
    "play": ("left-play", "right-play"),
    "hours": ("hours",),
    "free": ("free",),
    "bound": ("bound",),
    "oil": ("oil",),
    "resistance": ("resistance",),
    "mass": ("mass",),
    "nothing": (),
    "hold": (),
    "other-hold": (),
    "look": (),
    "failed": ("left-lining",),
}


def _step(place: str) -> Step:
    hold = {"hold": HOLD, "other-hold": OTHER_HOLD}.get(place)
    return Step(place, f"Do {place}.", readings=PLACES[place], hold=hold, looks=tuple(LOOKS) if place == "look" else ())


STEPS = {place: _step(place) for place in PLACES}
SHEET = JobSheet(
    id="workshop",
    title="Invented workshop",
    version="1",
    machine="farm trailer and generator",
    machine_id="T1",
    steps=tuple(STEPS.values()),
    readings=READINGS,
    looks=LOOKS,
    items=ITEMS,
)


def at(place: str) -> Expected:
    """As if the step had just been read out; at "failed" its reading is out of limits."""
    expected = Expected.at(SHEET, STEPS[place])
    return replace(expected, has_failed=True) if place == "failed" else expected


def canonical(intent: Intent) -> str:
    """One line that says all of the meaning; "-" for nothing."""
    if intent.kind is Kind.UNKNOWN:
        return "-"
    if intent.kind is Kind.AMBIGUOUS:
        options = " / ".join(_fields(option) for option in intent.options)
        words = ["ask", str(intent.asks), "offers" if intent.is_offer else "", options]
        if intent.asks in (Asks.WRONG_UNIT, Asks.HOW_MANY_POINTS):
            words.append(f"[{intent.detail}]")
        return " ".join(word for word in words if word)
    return " ".join(word for word in (intent.kind.value, _fields(intent)) if word)


def _fields(intent: Intent) -> str:
    row = flat_of(intent)
    amount = ",".join(map(str, row.values)) if row.values else "" if row.value is None else str(row.value)
    detail = f"[{row.detail}]" if row.detail else ""
    text = f'"{row.text}"' if row.text else ""
    return " ".join(part for part in (row.name or "", amount, row.unit or "", text, detail) if part)
