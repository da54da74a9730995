"""Tyre markings: date code, load index, speed symbol."""

from __future__ import annotations

import re
from decimal import Decimal

from bench_voice.reckon.answer import Answer, ReckonError, stated

DATE_SOURCE = "49 CFR 574.5 (64 FR 36807)"
TABLES = "UNECE R30, R75; ETRTO"
SPEED_KMH = {
    "J": 100, "K": 110, "L": 120, "M": 130, "N": 140, "P": 150, "Q": 160, "R": 170, "S": 180, "T": 190, "U": 200,
    "H": 210, "V": 240, "W": 270, "Y": 300,
}  # fmt: skip
# Load in kg by index. Seen or second-hand: 55, 58, 70 to 75, 80, 90, 100, 103, 105, 110; the rest from memory.
_LOADS = """
40 140  41 145  42 150  43 155  44 160  45 165  46 170  47 175  48 180  49 185  50 190  51 195  52 200  53 206  54 212
55 218  56 224  57 230  58 236  59 243  60 250  61 257  62 265  63 272  64 280  65 290  66 300  67 307  68 315  69 325
70 335  71 345  72 355  73 365  74 375  75 387  76 400  77 412  78 425  79 437  80 450  81 462  82 475  83 487  84 500
85 515  86 530  87 545  88 560  89 580  90 600  91 615  92 630  93 650  94 670  95 690  96 710  97 730  98 750  99 775
100 800 101 825 102 850 103 875 104 900 105 925 106 950 107 975 108 1000 109 1030 110 1060
"""
LOAD_KG = {int(index): int(load) for index, load in re.findall(r"(\d+) (\d+)", _LOADS)}


def date_code(code: str) -> tuple[int, int]:
    """(week, year) of four digits. Raises ReckonError for week 00 or 54 and more, and for the old three digits."""
    if not re.fullmatch(r"\d{4}", code):
        what = "has three digits: made before July 2000, too old" if re.fullmatch(r"\d{3}", code) else "is no date code"
        raise ReckonError(f'"{code}" {what}.', mend="Read the four digits at the end of the DOT line.",
                          slug="reckon-unknown")  # fmt: skip
    week, year = int(code[:2]), 2000 + int(code[2:])
    if not 1 <= week <= 53:
        raise ReckonError(f"There is no week {code[:2]}.", mend="Read the four digits again.", slug="reckon-range")
    return week, year


def date_answer(code: str) -> Answer:
    week, year = date_code(code)
    return Answer(
        "tyre date", (stated("week", Decimal(week), "count"), stated("year", Decimal(year), "count")),
        "Made in week {week} of {year}.", "week, then year", DATE_SOURCE,
    )  # fmt: skip


def load_kg(index: int) -> Decimal:
    if index not in LOAD_KG:
        raise ReckonError(f"I have no load index {index}.", mend="Say 40 to 110.", slug="reckon-unknown")
    return Decimal(LOAD_KG[index])


def load_answer(index: int) -> Answer:
    return Answer(
        "load index", (stated("load", load_kg(index), "kg"),), f"Load index {index} carries {{load}}.",
        "table", TABLES, is_limit=True,
    )  # fmt: skip


def speed_kmh(symbol: str) -> Decimal:
    """Raises ReckonError for a symbol that is not in the table; ZR has no single speed."""
    key = symbol.upper()
    if key == "ZR":
        raise ReckonError("ZR means over 240 km/h, without an upper figure.", mend="Read the service description.",
                          slug="reckon-unknown")  # fmt: skip
    if key not in SPEED_KMH:
        raise ReckonError(f'"{symbol}" is no speed symbol that I have.', mend=f"Say one of: {' '.join(SPEED_KMH)}.",
                          slug="reckon-unknown")  # fmt: skip
    return Decimal(SPEED_KMH[key])


def speed_answer(symbol: str) -> Answer:
    return Answer(
        "speed symbol", (stated("speed", speed_kmh(symbol), "km/h"),), f"Speed symbol {symbol.upper()}: {{speed}}.",
        "table", TABLES, is_limit=True,
    )  # fmt: skip
