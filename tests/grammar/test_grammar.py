"""What is listened for, and the grammar's text against pocketsphinx's own JSGF compiler."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice.core.intents import Expected, Kind
from bench_voice.core.sheet import Hold, Item, ItemKind, JobSheet, Limit, Look, ReadingSpec, Step
from bench_voice.grammar.jsgf import jsgf
from bench_voice.grammar.vocabulary import is_sayable, unknown_words, vocabulary
from bench_voice.words.phrases import load_language

LANGUAGE = load_language("en")
READINGS = {
    "output": ReadingSpec("output", "output voltage", Limit("V", high=Decimal(13)), aliases=("12-volt rail",)),
    "gap": ReadingSpec("gap", "gap", Limit("in", high=Decimal(1)), points=3),
}
STEPS = (
    Step("volts", "Measure the output.", readings=("output",)),
    Step("gap", "Measure the gap.", readings=("gap",)),
    Step("off", "Switch it off.", hold=Hold("off", "confirm mains plug is out")),
    Step("fan", "Look at the fan.", looks=("fan",)),
)
SHEET = JobSheet(
    "s", "S", "1", "bench supply", "one", STEPS,
    readings=READINGS, looks={"fan": Look("fan", "fan")},
    items={"tape": Item("tape", "warning tape", ItemKind.TEMPORARY, ("red tape",))},
)  # fmt: skip
AT = {step.id: Expected.at(SHEET, step) for step in STEPS}
VOCABULARIES = {name: vocabulary(expected, LANGUAGE) for name, expected in AT.items()}


@pytest.mark.parametrize("step", AT)
def test_numbers_and_commands_are_always_there(step: str) -> None:
    words = VOCABULARIES[step].words()
    assert {"zero", "nine", "nineteen", "ninety", "hundred", "thousand", "point"} <= set(words)
    said = set(VOCABULARIES[step].commands)
    assert {phrase for kind in (Kind.NEXT, Kind.REPEAT, Kind.STOP) for phrase in LANGUAGE.commands[kind]} <= said


def test_units_go_by_step() -> None:
    assert "volts" in VOCABULARIES["volts"].units
    assert "millivolts" in VOCABULARIES["volts"].units
    assert "inches" not in VOCABULARIES["volts"].units
    assert {"inches", "millimetres"} <= set(VOCABULARIES["gap"].units)
    assert VOCABULARIES["gap"].has_points


def test_the_hold_phrase_is_only_at_its_hold_and_among_decoys() -> None:
    at = VOCABULARIES["off"]
    assert at.hold == "confirm mains plug is out"
    assert {"confirm mains plug is not out", "is the mains plug is out", "mains plug is out"} <= set(at.decoys)
    assert at.hold not in at.decoys
    for step in ("volts", "gap", "fan"):
        assert "mains plug" not in jsgf(VOCABULARIES[step])
        assert not VOCABULARIES[step].hold


def test_names_items_and_looks_come_from_the_sheet() -> None:
    assert {"output voltage", "gap"} <= set(VOCABULARIES["volts"].names)
    assert {"warning tape", "red tape"} <= set(VOCABULARIES["fan"].items)
    assert VOCABULARIES["fan"].looks == ("fan",)
    assert "12 volt rail" not in VOCABULARIES["volts"].names  # a figure can't be said from its letters


@pytest.mark.parametrize(
    ("phrase", "can"),
    [("split pin", True), ("p s i", True), ("kpa", True), ("mm", False), ("12 volt", False), ("", False)],
)  # fmt: skip
def test_sayable(phrase: str, can: bool) -> None:
    assert is_sayable(phrase) is can


def test_unknown_words_are_listed() -> None:
    found = unknown_words(VOCABULARIES["volts"], lambda word: word != "voltage")
    assert found == ("voltage",)


@pytest.mark.parametrize("step", AT)
def test_every_rule_is_defined_once_and_used(step: str) -> None:
    text = jsgf(VOCABULARIES[step])
    defined = re.findall(r"^(?:public )?<(\w+)> =", text, re.MULTILINE)
    used = set(re.findall(r"<(\w+)>", text.replace("public <utterance>", "")))
    assert len(defined) == len(set(defined))
    assert set(defined) - {"utterance"} <= used <= set(defined)
    assert set(re.findall(r"[a-z']+", re.sub(r"<\w+>|#JSGF.*|grammar.*;|public", "", text))) <= set(
        VOCABULARIES[step].all_words()
    )


@pytest.mark.parametrize("step", AT)
def test_pocketsphinx_compiles_it(step: str, tmp_path: Path) -> None:
    from pocketsphinx import Jsgf

    path = tmp_path / "step.gram"
    path.write_text(jsgf(VOCABULARIES[step]))
    assert Jsgf(str(path)).get_rule("step.utterance") is not None
