"""English words of the units that no reading has, and the language of the speech parser widened by them.

US and imperial measures need their word; bare, they are asked.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from bench_voice.words.phrases import Language, load_language

# unit -> (one, many, understood too)
WORDS: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "ft": ("foot", "feet", ("ft",)),
    "N*cm": ("newton centimetre", "newton centimetres", ("newton centimeter", "newton centimeters")),
    "dyn*cm": ("dyne centimetre", "dyne centimetres", ("dyne centimeter", "dyne centimeters")),
    "Pa": ("pascal", "pascals", ()),
    "hPa": ("hectopascal", "hectopascals", ("hecto pascal", "hecto pascals")),
    "MPa": ("megapascal", "megapascals", ("mega pascal", "mega pascals")),
    "atm": ("atmosphere", "atmospheres", ()),
    "inHg": ("inch of mercury", "inches of mercury", ()),
    "us_gal": ("u s gallon", "u s gallons", ("us gallon", "us gallons", "american gallon", "american gallons")),
    "us_qt": ("u s quart", "u s quarts", ("us quart", "us quarts", "american quart", "american quarts")),
    "us_pint": ("u s pint", "u s pints", ("us pint", "us pints", "american pint", "american pints")),
    "fl_oz": ("u s fluid ounce", "u s fluid ounces", ("us fluid ounce", "us fluid ounces")),
    "imp_gal": ("imperial gallon", "imperial gallons", ("u k gallon", "u k gallons", "uk gallon", "uk gallons")),
    "imp_qt": ("imperial quart", "imperial quarts", ("uk quart", "uk quarts")),
    "imp_pint": ("imperial pint", "imperial pints", ("u k pint", "u k pints", "uk pint", "uk pints")),
    "imp_fl_oz": ("imperial fluid ounce", "imperial fluid ounces", ("uk fluid ounce", "uk fluid ounces")),
    "in**3": ("cubic inch", "cubic inches", ()),
    "N": ("newton", "newtons", ()),
    "kN": ("kilonewton", "kilonewtons", ("kilo newton", "kilo newtons")),
    "lbf": ("pound force", "pounds force", ()),
    "kgf": ("kilogram force", "kilograms force", ()),
    "W": ("watt", "watts", ()),
    "kW": ("kilowatt", "kilowatts", ("kilo watt", "kilo watts")),
    "hp": ("mechanical horsepower", "mechanical horsepower", ("imperial horsepower",)),
    "metric_hp": ("metric horsepower", "metric horsepower", ()),
    "A*h": ("amp hour", "amp hours", ("ampere hour", "ampere hours")),
    "C": ("coulomb", "coulombs", ()),
    "km/h": ("kilometre per hour", "kilometres per hour",
             ("kilometer per hour", "kilometers per hour", "kilometres an hour", "kilometers an hour", "k p h")),
    "mph": ("mile per hour", "miles per hour", ("miles an hour", "mile an hour", "m p h", "mph")),
    "rad": ("radian", "radians", ()),
    "mm**2": ("square millimetre", "square millimetres", ("square millimeter", "square millimeters", "square mm")),
    "in**2": ("square inch", "square inches", ()),
}  # fmt: skip
_AMBIGUOUS = {
    "gallon": ("us_gal", "imp_gal"),
    "quart": ("us_qt", "imp_qt"),
    "pint": ("us_pint", "imp_pint"),
    "fluid ounce": ("fl_oz", "imp_fl_oz"),
    "fl oz": ("fl_oz", "imp_fl_oz"),
    "horsepower": ("hp", "metric_hp"),
}


@cache
def language() -> Language:
    """English with the units above. The words "fluid ounce" alone lose their US meaning here."""
    base = load_language("en")
    ambiguous = dict(base.ambiguous_units)
    for word, options in _AMBIGUOUS.items():
        for form in {word, word if word in ("horsepower", "fl oz") else word + "s"}:
            ambiguous[tuple(form.split())] = (options, True)
    units = {phrase: unit for phrase, unit in base.units.items() if phrase not in ambiguous}
    for unit, (one, many, also) in WORDS.items():
        units.update({tuple(form.split()): unit for form in (one, many, *also)})
    # "10 A": after figures only, since "a" is an article.
    units[("a",)] = "A"
    typed = base.typed_only | {"a"}
    longest = max(len(phrase) for phrase in (*units, *ambiguous))
    return replace(base, units=units, ambiguous_units=ambiguous, typed_only=typed, longest_unit=longest)
