"""No false alarm: the demo sheets, the beginning and 20 generated ones get no fault and no note."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import pytest

from bench_voice.core.sheet import ItemKind
from bench_voice.sheets import (
    check_file,
    check_text,
    json_schema,
    load_sheet,
    load_text,
    needs_list,
    schema_text,
    start_sheet_text,
)
from bench_voice.words.units import UNITS

HERE = Path(__file__).parent
DEMO = HERE.parents[1] / "demo"
DEMOS = ["trailer-hub-brake", "generator-service", "bench-supply-check"]


def _generated() -> ModuleType:
    spec = spec_from_file_location("generated", HERE / "generated.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


GENERATED = _generated()


@pytest.mark.parametrize("name", DEMOS)
def test_demo_sheets(name: str) -> None:
    assert [str(fault) for fault in check_file(DEMO / f"{name}.yaml")] == []
    sheet = load_sheet(DEMO / f"{name}.yaml")
    assert "invented" in sheet.note
    assert "licensed practice come first" in sheet.note


def test_the_beginning_is_good_as_it_stands() -> None:
    assert [str(fault) for fault in check_text(start_sheet_text(), "start.yaml")] == []


@pytest.mark.parametrize("seed", range(20))
def test_generated_sheets(seed: int) -> None:
    text = GENERATED.sheet(8 + 5 * seed, seed)
    assert [str(fault) for fault in check_text(text, "generated.yaml")] == []
    assert len(load_text(text, "generated.yaml").steps) == 8 + 5 * seed


@pytest.mark.parametrize("path", sorted((HERE / "good").glob("*.yaml")), ids=lambda path: path.stem)
def test_other_good_sheets(path: Path) -> None:
    assert [str(fault) for fault in check_file(path)] == []


def test_a_first_readers_draft_is_told_everything_at_once() -> None:
    """The new-user trial of docs/sheets.md: every slip of the draft in the first run, none of them twice."""
    found = check_file(HERE / "first-draft.yaml")
    assert [(f.line, f.slug) for f in found] == [
        (28, "sheet-unit"),
        (32, "sheet-unit"),
        (35, "sheet-id"),
        (39, "sheet-coarse"),
        (41, "sheet-coarse"),
        (49, "sheet-id"),
        (60, "sheet-id"),
        (71, "sheet-picture"),
        (79, "sheet-id"),
    ]
    assert len(load_sheet(HERE / "good" / "washer-pump.yaml").steps) == 12  # ten, one of them tightened in three stages


def test_the_generator_has_eight_valve_clearances_in_thousandths() -> None:
    sheet = load_sheet(DEMO / "generator-service.yaml")
    gaps = [r for r in sheet.readings.values() if r.name.endswith(("inlet", "exhaust"))]
    assert len(gaps) == 8
    assert {gap.unit for gap in gaps} == {"thou"}


def test_the_trailer_has_what_the_demo_tells() -> None:
    sheet = load_sheet(DEMO / "trailer-hub-brake.yaml")
    kinds = {item.kind for item in sheet.items.values()}
    assert kinds == {ItemKind.TEMPORARY, ItemKind.PART, ItemKind.RENEW}
    hub = sheet.steps[sheet.step_index("left-hub-on")]
    assert hub.requires == ("left-spacer",)
    assert sheet.steps[-1].gate
    assert "fifty kilometres" in sheet.steps[-1].follow_up
    assert sheet.steps[sheet.step_index("left-shoes")].only_if == "left-lining"


def test_the_shipped_schema_is_that_of_the_models() -> None:
    shipped = (files("bench_voice.sheets") / "job-sheet.schema.json").read_text(encoding="utf-8")
    assert shipped == schema_text(), "write schema_text() to bench_voice/sheets/job-sheet.schema.json"
    assert json.loads(shipped) == json_schema()


def test_the_schema_names_the_keys_as_they_are_written() -> None:
    keys = set(json_schema()["$defs"]["Step"]["properties"])
    assert {"take off", "put back", "fit new", "final gate", "only if replaced", "follow up"} <= keys
    assert json_schema()["additionalProperties"] is False


def test_needs_list() -> None:
    text = needs_list(load_sheet(DEMO / "trailer-hub-brake.yaml"))
    for line in ("  [ ] torque wrench", "  [ ] bright tape", "  [ ] left split pin", "  [ ] set of brake shoes"):
        assert line in text.splitlines()
    assert text.count("torque wrench") == 1


def test_the_wrench_of_a_torque_is_needed_too() -> None:
    sheet = load_sheet(HERE / "good" / "piston-pump.yaml")
    readings = {key: replace(spec, instrument="") for key, spec in sheet.readings.items()}
    text = needs_list(replace(sheet, readings=readings, tools=()))
    assert text.count("  [ ] torque wrench") == 1


def test_the_sheet_of_the_docs_page_is_good() -> None:
    page = (DEMO.parent / "docs" / "sheets.md").read_text(encoding="utf-8")
    text = page.split("```yaml\n")[1].split("```")[0]
    assert [str(fault) for fault in check_text(text, "saw.yaml")] == []
    assert len(load_text(text, "saw.yaml").steps) == 10


def test_the_docs_page_names_every_key_and_unit() -> None:
    page = (DEMO.parent / "docs" / "sheets.md").read_text(encoding="utf-8").replace("\\*", "*")
    schema = json_schema()
    keys = set(schema["properties"])
    for model in ("Caution", "Instrument", "Limit", "Reading", "Look", "Item", "Step", "Hold"):
        keys |= set(schema["$defs"][model]["properties"])
    missing = [
        key for key in sorted(keys) if f"`{key}`" not in page and f"`{key}: " not in page and f"{key}:" not in page
    ]
    assert missing == []
    assert [unit for unit in UNITS if f" {unit} " not in page and f" {unit}." not in page] == []
