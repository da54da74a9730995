"""How quantities are written on pages. The SI Brochure (9th edition, from memory): N·m with a middle dot (2.3.4), °C
after a space and the degree of angle without one (5.4.3)."""

from __future__ import annotations

import pytest

from bench_voice.core.signs import quantity, sign
from bench_voice.words.phrases import load_language


@pytest.mark.parametrize(
    ("value", "unit", "written"),
    [
        ("112", "N*m", "112 N·m"),
        ("4.60", "mm", "4.60 mm"),
        ("20", "degC", "20 °C"),
        ("90", "deg", "90°"),
        ("2", "count", "2"),
        ("5", "um", "5 µm"),
        ("3", "kgf/cm**2", "3 kgf/cm²"),
    ],
)
def test_quantities_are_written_as_on_paper(value: str, unit: str, written: str) -> None:
    assert quantity(value, unit) == written


def test_no_unit_is_shown_in_the_spelling_of_the_library() -> None:
    units = [*load_language("en").unit_said, *load_language("de").unit_said]
    assert len(units) > 60
    assert not [unit for unit in units if set("*_") & set(sign(unit))]
