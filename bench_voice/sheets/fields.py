"""The kinds of value that stand in a sheet, each with its check and its part of the JSON Schema.

Every scalar comes in as text (see yamltext.py). Editors read `2.0` as a number and `yes` as true: the schema allows
both.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from bench_voice.words.units import UNITS

# What people write instead, and what they most likely mean; "" where it could be two things.
_UNIT_HINTS = {
    "Nm": "N*m", "nm": "N*m", "N.m": "N*m", "N m": "N*m", "newton metres": "N*m", "ft-lb": "lbf*ft", "ft lb": "lbf*ft",
    "ftlb": "lbf*ft", "ft*lb": "lbf*ft", "lb-ft": "lbf*ft", "lb ft": "lbf*ft", "foot pounds": "lbf*ft",
    "in-lb": "lbf*in",
    "mil": "", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "MM": "mm", '"': "in", "inch": "in",
    "inches": "in",
    "thousandths": "thou", "%": "percent", "C": "degC", "°C": "degC", "F": "degF", "°F": "degF", "°": "deg",
    "degrees": "deg",
    "volt": "V", "volts": "V", "v": "V", "amp": "A", "amps": "A", "Ω": "ohm", "ohms": "ohm", "kΩ": "kohm", "MΩ": "Mohm",
    "litre": "L", "l": "L", "ml": "mL", "µm": "um", "μm": "um", "bars": "bar", "PSI": "psi", "kpa": "kPa", "KPa": "kPa",
    "seconds": "s", "minutes": "min", "hours": "h", "Kg": "kg", "RPM": "rpm", "rev/min": "rpm", "pieces": "count",
    "kgf/cm2": "kgf/cm**2", "kgf/cm^2": "kgf/cm**2", "kg/cm2": "kgf/cm**2", "tenths": "", "pounds": "",
}  # fmt: skip

# A newton metre or a nanometre; a torque or a length times a mass; a thousandth of an inch, a millimetre or an angle.
_TWO_WAYS = frozenset(
    {"Nm", "nm", "N m", "N.m", "ft-lb", "ft lb", "ftlb", "ft*lb", "lb-ft", "lb ft", "foot pounds", "in-lb", "mil"}
    | {"tenths", "pounds", "C", "F", '"', "°", "l", "M"}
)

PLACEHOLDER = re.compile(r"<([a-z][a-z ]*)>")
# Control characters, line ends and tabs aside; and the invisible ones that turn the direction of text.
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2069\ud800-\udfff\ufeff]")
_MAX_TEXT = 2000


def refuse(slug: str, what: str, mend: str) -> PydanticCustomError:
    """An error that carries its slug and its mend; the loader turns it into a `Fault`. Braces are kept as they are."""
    return PydanticCustomError(slug, "{what}", {"what": what, "mend": mend})


def _text(value: Any) -> Any:
    if value is None:
        raise refuse("sheet-text", "The text is empty.", "Write it, or take the key out.")
    if not isinstance(value, str):
        raise refuse("sheet-shape", f"A {shape(value)} stands where a text should.", "Write one text.")
    found = _CONTROL.search(value)
    if found:
        code = f"U+{ord(found.group()):04X}"
        raise refuse("sheet-text", f"The text holds the control character {code}.", "Take it out.")
    if not value.strip():
        raise refuse("sheet-text", "The text is empty.", "Write it, or take the key out.")
    if len(value) > _MAX_TEXT:
        raise refuse("sheet-text", f"The text has {len(value)} characters.", f"Keep it under {_MAX_TEXT}.")
    rest = PLACEHOLDER.sub("", value)
    if "<" in rest or ">" in rest or re.search(r"&#?\w+;", rest):
        raise refuse("sheet-text", "The text holds HTML.", "Write plain words; write 'less than' for the sign.")
    return " ".join(value.split())


def shape(value: Any) -> str:
    """What a value looks like to the person who wrote it."""
    return {dict: "group of keys", list: "list", type(None): "gap"}.get(type(value), "text")


def sentence(text: str) -> str:
    """`text` with a full stop where it ends without one: what is spoken next must not run into it."""
    return f"{text}." if text and text[-1].isalnum() else text


def _name(value: str) -> str:
    value = value.lower()
    if re.search(r"\d", value):
        raise refuse("sheet-name", f'The name "{value}" holds figures.', "Write them as words: one, two.")
    if not re.fullmatch(r"(?:[^\W\d_]|'|<[a-z ]+>)+(?:[ -](?:[^\W\d_]|'|<[a-z ]+>)+)*", value):
        raise refuse("sheet-name", f'The name "{value}" holds more than words.', "Use letters and spaces only.")
    if len(value.split()) > 6:
        raise refuse("sheet-name", f'The name "{value}" has more than six words.', "Find a shorter one.")
    return value


def _nut(value: str) -> str:
    """One nut of an order: a number as the manual's drawing has it, or a name."""
    return value if re.fullmatch(r"[1-9]\d?", value) else _name(value)


def as_id(text: str) -> str:
    """The id that was most likely meant; "" where nothing of it is left."""
    return re.sub(r"[^a-z0-9<>]+", "-", text.lower()).strip("-")


def _id(value: str) -> str:
    if not re.fullmatch(r"(?:[a-z0-9]|<[a-z ]+>)+(?:-(?:[a-z0-9]|<[a-z ]+>)+)*", value):
        meant = as_id(re.sub(r"<[a-z ]+>", "", value)) and as_id(value)
        mend = (
            f'Write "{meant}".' if meant and "<" not in meant else "Use small letters, digits and hyphens: left-drum."
        )
        raise refuse("sheet-id", f'"{value}" is not an id.', mend)
    return value


def _number(value: Any) -> Any:
    if isinstance(value, dict | list) or value is None:
        raise refuse("sheet-shape", f"A {shape(value)} stands where a number should.", "Write one number.")
    text = str(value).strip()
    if re.fullmatch(r"-?(?:0|[1-9]\d{0,8})(?:\.\d{1,9})?", text):
        return Decimal(text)
    if re.fullmatch(r"-?\d+,\d+", text):
        mend = f'Write a point: "{text.replace(",", ".")}".'
    elif re.fullmatch(r"-?0\d+(?:\.\d+)?", text):
        mend = "Take the leading nought away."
    elif re.fullmatch(r"-?\d+(?:\.\d+)?\s*[^\d\s.,:/].*", text):
        mend = "Write the number alone; the unit has its own key."
    elif ":" in text:
        mend = "Times are written as minutes, with a decimal point."
    else:
        mend = "Write digits and at most one decimal point."
    raise refuse("sheet-number", f'"{text}" is not a plain number.', mend)


def _positive(value: Decimal) -> Decimal:
    if value <= 0:
        raise refuse("sheet-number", f'"{value}" is not more than nought.', "Write a positive number.")
    return value


def _points(value: Any) -> Any:
    text = str(value)
    if not re.fullmatch(r"[1-9]\d?", text) or int(text) > 24:
        raise refuse("sheet-number", f'"{text}" is not a count of points.', "Write a whole number from 1 to 24.")
    return int(text)


def _unit(value: str) -> str:
    if value in UNITS:
        return value
    hint = _UNIT_HINTS.get(value)
    ways = "could be read two ways" if value in _TWO_WAYS else "is not how sheets write this unit"
    if hint:
        raise refuse("sheet-unit", f'"{value}" {ways}.', f'Write "{hint}".')
    if hint == "":
        raise refuse("sheet-unit", f'"{value}" {ways}.', "Write a unit from the list in docs/sheets.md.")
    same = [unit for unit in UNITS if unit.lower() == value.lower()]
    mend = f'Write "{same[0]}".' if same else "Write a unit from the list in docs/sheets.md."
    raise refuse("sheet-unit", f'"{value}" is not a unit that can be spoken here.', mend)


def _yes_no(value: Any) -> Any:
    if value in ("yes", "true", True):
        return True
    if value in ("no", "false", False):
        return False
    raise refuse("sheet-yes-no", f'"{value}" is neither yes nor no.', "Write yes or no.")


def _picture(value: str) -> str:
    parts = value.replace("\\", "/").split("/")
    if value.startswith(("/", "\\", "~")) or ".." in parts or ":" in value:
        raise refuse("sheet-picture", f'"{value}" leaves the sheet\'s folder.', "Put the picture beside the sheet.")
    if not value.lower().endswith((".png", ".jpg", ".jpeg")):
        raise refuse("sheet-picture", f'"{value}" is not a picture that the page can show.', "Use PNG or JPEG.")
    return value


def _list(value: Any) -> Any:
    """One name may stand without brackets; a gap is no list."""
    if isinstance(value, str):
        return [value]
    if value is None or isinstance(value, dict):
        raise refuse("sheet-shape", f"A {shape(value)} stands where a list should.", "Write a list: [one, two].")
    return value


_ONE_TEXT: dict[str, Any] = {"type": ["string", "number"]}
# Schema patterns say what a regular expression can: no control characters, `<…>` only as a place holder.
_TEXT_PATTERN = (
    r"^(?![\s\S]*&#?\w+;)(?:[^<>\u0000-\u0008\u000b-\u001f\u007f-\u009f\u200b-\u200f\u202a-\u202e]|<[a-z][a-z ]*>)*$"
)
_PHRASE_PATTERN = r"^([Cc]onfirm|[Bb]estätige)( [A-Za-zÀ-ɏ'<>-]+){4,}\.?$"
_PICTURE_PATTERN = r"^(?![/~])(?!.*\.\.)[^:\\]+\.([Pp][Nn][Gg]|[Jj][Pp][Ee]?[Gg])$"
Text = Annotated[
    str,
    BeforeValidator(_text),
    WithJsonSchema({"type": "string", "minLength": 1, "maxLength": _MAX_TEXT, "pattern": _TEXT_PATTERN}),
]
Phrase = Annotated[str, BeforeValidator(_text), WithJsonSchema({"type": "string", "pattern": _PHRASE_PATTERN})]
Word = Annotated[str, BeforeValidator(_text), WithJsonSchema(_ONE_TEXT)]
Name = Annotated[
    str,
    BeforeValidator(_text),
    AfterValidator(_name),
    WithJsonSchema({"type": "string", "pattern": "^[A-Za-zÀ-ɏ'<> -]+$"}),
]
Id = Annotated[
    str, BeforeValidator(_text), AfterValidator(_id), WithJsonSchema({"type": "string", "pattern": "^[a-z0-9<> -]+$"})
]
Number = Annotated[
    Decimal,
    BeforeValidator(_number),
    WithJsonSchema({"anyOf": [{"type": "number"}, {"type": "string", "pattern": r"^-?(0|[1-9]\d*)(\.\d+)?$"}]}),
]
Positive = Annotated[
    Decimal,
    BeforeValidator(_number),
    AfterValidator(_positive),
    WithJsonSchema(
        {"anyOf": [{"type": "number", "exclusiveMinimum": 0}, {"type": "string", "pattern": r"^\d+(\.\d+)?$"}]}
    ),
]
# The proofreader says so; a sheet that a journal keeps may be older than its rule.
NotNegative = Annotated[
    Decimal,
    BeforeValidator(_number),
    WithJsonSchema(
        {"anyOf": [{"type": "number", "minimum": 0}, {"type": "string", "pattern": r"^(0|[1-9]\d*)(\.\d+)?$"}]}
    ),
]
Points = Annotated[int, BeforeValidator(_points), WithJsonSchema({"type": "integer", "minimum": 1, "maximum": 24})]
Unit = Annotated[
    str, BeforeValidator(_text), AfterValidator(_unit), WithJsonSchema({"type": "string", "enum": list(UNITS)})
]
YesNo = Annotated[bool, BeforeValidator(_yes_no), WithJsonSchema({"enum": [True, False, "yes", "no"]})]
Picture = Annotated[
    str,
    BeforeValidator(_text),
    AfterValidator(_picture),
    WithJsonSchema({"type": "string", "pattern": _PICTURE_PATTERN}),
]
_OR_ONE: dict[str, Any] = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
Texts = Annotated[list[Text], BeforeValidator(_list), WithJsonSchema(_OR_ONE)]
Names = Annotated[list[Name], BeforeValidator(_list), WithJsonSchema(_OR_ONE)]
Nut = Annotated[
    str,
    BeforeValidator(_text),
    AfterValidator(_nut),
    WithJsonSchema({"anyOf": [{"type": "integer", "minimum": 1}, {"type": "string"}]}),
]
Nuts = Annotated[
    list[Nut],
    BeforeValidator(_list),
    WithJsonSchema({"type": "array", "items": {"type": ["string", "integer"]}, "minItems": 1}),
]
Ids = Annotated[list[Id], BeforeValidator(_list), WithJsonSchema(_OR_ONE)]
