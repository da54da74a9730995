"""What is made from a sheet for people and editors: list of needs, a beginning, the schema."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

from bench_voice.core.sheet import ItemKind, JobSheet, Limit, ReadingSpec
from bench_voice.core.signs import quantity, sign
from bench_voice.sheets import models
from bench_voice.sheets.start import BEGINNING


def needs_list(sheet: JobSheet) -> str:
    """Tools, parts, supplies and instruments to have ready, as text to print."""
    read_off = [spec.instrument for spec in sheet.readings.values()]
    wrenches = [step.torque.instrument for step in sheet.steps if step.torque]
    instruments = [name for name in dict.fromkeys((*read_off, *wrenches)) if name]
    new = [item.name for item in sheet.items.values() if item.kind is ItemKind.RENEW]
    lines = [f"{sheet.title}", f"{sheet.machine} ({sheet.machine_id}), sheet {sheet.id}, version {sheet.version}"]
    for title, entries in (
        ("Tools", sheet.tools),
        ("Instruments", tuple(i for i in instruments if i not in sheet.tools)),
        ("Parts", sheet.parts),
        ("Renewed on this job", tuple(new)),
        ("Supplies", sheet.supplies),
    ):
        if entries:
            lines += ["", f"{title}:"] + [f"  [ ] {entry}" for entry in entries]
    licensed = [(step.id, step.licensed) for step in sheet.steps if step.licensed]
    if licensed:
        lines += ["", "Who may do it:"] + [f"  {step}: {who}" for step, who in licensed]
    minutes = sum((step.minutes or Decimal(0) for step in sheet.steps), Decimal(0))
    if minutes:
        lines += ["", f"Time, as the sheet has it: {minutes} minutes."]
    return "\n".join(lines)


def limit_words(limit: Limit) -> str:
    """The limit as a person reads it: "at least 2.0 mm"."""
    if limit.low is not None and limit.high is not None:
        words = f"between {limit.low} and {quantity(limit.high, limit.unit)}"
    elif limit.low is not None:
        words = f"at least {quantity(limit.low, limit.unit)}"
    elif limit.rows:
        rows = "; ".join(f"for {row.key} {limit_words(Limit(limit.unit, row.low, row.high))}" for row in limit.rows)
        return f"by the marking: {rows}"
    elif limit.high is not None:
        words = f"at most {quantity(limit.high, limit.unit)}"
    else:
        return "a count, recorded only" if limit.unit == "count" else f"in {sign(limit.unit)}, recorded only"
    return words + (", or as marked on the part" if limit.from_marking else "")


def difference_words(spec: ReadingSpec) -> list[str]:
    """The limits of differences as a person reads them, none where the sheet sets none."""
    limits = (("points", spec.spread), ("sides", spec.pair_within))
    return [f"{what} differ by at most {quantity(most, spec.unit)}" for what, most in limits if most is not None]


def json_schema() -> dict[str, Any]:
    """The JSON Schema of a sheet (draft 2020-12), for editors; `check` finds what a schema cannot."""
    schema = models.Sheet.model_json_schema(by_alias=True, mode="validation")
    # `castle-nut:` with nothing behind it is an item with everything by default.
    for group in ("looks", "items"):
        for where in ("additionalProperties", "patternProperties"):
            found = schema["properties"][group].get(where)
            if isinstance(found, dict) and "$ref" in found:
                schema["properties"][group][where] = _or_nothing(found)
            elif isinstance(found, dict):
                schema["properties"][group][where] = {key: _or_nothing(value) for key, value in found.items()}
    for group in schema["properties"].values():
        if "patternProperties" in group:
            group["additionalProperties"] = False
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Job sheet"
    return schema


def _or_nothing(schema: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [schema, {"type": "null"}]}


def schema_text() -> str:
    """The schema as it is shipped in job-sheet.schema.json."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def start_sheet_text() -> str:
    """A commented beginning that passes `check` as it stands."""
    return BEGINNING
