"""Units in pint's spelling as they are printed. By the SI Brochure (9th edition, sections 2.3 and 5.4, from memory): a
middle dot between units, a space before the unit, none before a degree sign."""

from __future__ import annotations

# Letters that a sentence of the answers spells out, and a page does not.
_ON_PAPER = {"um": "µm", "uA": "µA", "ohm": "Ω", "kohm": "kΩ", "Mohm": "MΩ", "count": ""}


def shown_unit(unit: str) -> str:
    """The unit as it is printed: "N·m", "mm²"."""
    if unit == "fl_oz":  # pint's is the US one
        return "US fl oz"
    text = unit.replace("**2", "²").replace("**3", "³").replace("*", "·").replace("deg", "°")
    return text.replace("us_", "US ").replace("_", " ").replace("percent", "%")


def sign(unit: str) -> str:
    """The unit as it is written on a page: "N·m", "Ω"; empty for a count."""
    return _ON_PAPER.get(unit, shown_unit(unit))


def quantity(value: object, unit: str) -> str:
    """ "112 N·m", "90°", and of a count the number alone."""
    space = "" if unit in ("deg", "count") else " "
    return f"{value}{space}{sign(unit)}"
