"""Quantities as people write them on paper, of units in pint's spelling. Signs by the SI Brochure (9th edition,
sections 2.3 and 5.4, from memory): a middle dot between units, a space before the unit, none before a degree sign."""

from __future__ import annotations

_SIGNS = {
    "N*m": "N·m", "lbf*ft": "lbf·ft", "lbf*in": "lbf·in", "ozf*in": "ozf·in", "kgf*m": "kgf·m", "kgf*cm": "kgf·cm",
    "kgf/cm**2": "kgf/cm²", "um": "µm", "uA": "µA", "ohm": "Ω", "kohm": "kΩ", "Mohm": "MΩ", "degC": "°C",
    "degF": "°F", "deg": "°", "fl_oz": "fl oz", "percent": "%", "count": "",
}  # fmt: skip


def sign(unit: str) -> str:
    """Of the unit by itself; empty for a count."""
    return _SIGNS.get(unit, unit)


def quantity(value: object, unit: str) -> str:
    """ "112 N·m", "90°", and of a count the number alone."""
    space = "" if unit in ("deg", "count") else " "
    return f"{value}{space}{sign(unit)}"
