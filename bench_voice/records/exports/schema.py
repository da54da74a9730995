"""The JSON Schema (draft 2020-12) of a record's JSON: what another program may rely on."""

from __future__ import annotations

import json
from typing import Any

TEXT, WHOLE, YES_NO = {"type": "string"}, {"type": "integer"}, {"type": "boolean"}
DECIMAL = {"type": "string", "pattern": r"^-?\d+(\.\d+)?([eE][+-]?\d+)?$", "description": "A decimal with its digits."}
TIME = {"type": "string", "format": "date-time", "description": "UTC, to the second."}
TEXTS, NUMBERS = {"type": "array", "items": TEXT}, {"type": "array", "items": WHOLE}


def _or_none(schema: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [schema, {"type": "null"}]}


def _object(**fields: Any) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": fields,
        "required": list(fields),
        "additionalProperties": False,
    }


def _list(**fields: Any) -> dict[str, Any]:
    return {"type": "array", "items": _object(**fields)}


def _one_of(*words: str) -> dict[str, Any]:
    return {"enum": list(words)}


_VERDICT = _one_of("good", "borderline", "out", "noted")
_STAGE = _one_of("as-found", "as-left")
_BECAME = ("stands", "withdrawn", "superseded")
_LINE = {"seq": WHOLE, "at": TIME}
_SIDE = {"differ_by": _or_none(DECIMAL), "verdict": _or_none(_VERDICT)}
_SIDES = {f"{side}_{name}": what for side in ("spread", "pair") for name, what in _SIDE.items()}


def record_schema() -> dict[str, Any]:
    readings = _list(
        **_LINE, step=TEXT, reading=TEXT, name=TEXT, point=WHOLE, value=DECIMAL, unit=TEXT, in_limit_unit=DECIMAL,
        limit_unit=TEXT, at_least=_or_none(DECIMAL), at_most=_or_none(DECIMAL), margin=_or_none(DECIMAL),
        uncertainty=DECIMAL, verdict=_VERDICT, verdict_when_taken=_VERDICT, stage=_STAGE, heard=TEXT,
        is_correction=YES_NO, spread_at_most=_or_none(DECIMAL), pair_at_most=_or_none(DECIMAL), **_SIDES,
        state=_one_of(*_BECAME, "part replaced"),
    )  # fmt: skip
    differences = _list(
        seq=WHOLE, step=TEXT, reading=TEXT, name=TEXT, stage=_STAGE, side=_one_of("spread", "pair"), differ_by=DECIMAL,
        at_most=DECIMAL, unit=TEXT, margin=DECIMAL, verdict=_VERDICT, points=NUMBERS, other=_or_none(TEXT),
        other_points=NUMBERS, state=_one_of(*_BECAME, "part replaced"),
    )  # fmt: skip
    schema = _object(
        title=TEXT, sheet=TEXT, sheet_version=TEXT, machine=TEXT, machine_id=TEXT, source=TEXT, note=TEXT, who=TEXT,
        machine_marks=TEXT, zone=TEXT, distance=TEXT, clock_went_back=YES_NO,
        status=_one_of("open", "signed-off", "stopped"), first_line=TEXT, started=_or_none(TIME), ended=_or_none(TIME),
        readings=readings,
        differences=differences,
        carried_over=_list(
            journal=TEXT, step=TEXT, reading=TEXT, point=WHOLE, value=DECIMAL, unit=TEXT, stage=_STAGE
        ),
        instruments=_list(
            overdue=_list(instrument=TEXT, days=WHOLE),
            missing=TEXTS,
            uses=_list(reading=TEXT, instrument=TEXT, uncertainty=DECIMAL, percent=DECIMAL),
        ),
        wear=_list(
            reading=TEXT, name=TEXT, point=WHOLE, sessions=WHOLE, unit=TEXT, against=TEXT, against_unit=TEXT,
            values={"type": "object", "additionalProperties": DECIMAL}, notes=TEXTS, text=TEXT,
        ),
        looks=_list(
            **_LINE, step=TEXT, look=TEXT, name=TEXT, judgement=_one_of("good", "doubtful", "bad"), note=TEXT,
            heard=TEXT, state=_one_of(*_BECAME),
        ),
        decisions=_list(
            **_LINE, step=TEXT, what=TEXT, name=TEXT, reason=TEXT, verdict=TEXT, side=TEXT, why=TEXT,
            reopened_at=_or_none(TIME), changed=_or_none(_one_of("value", "limit", "pair")),
            state=_one_of(*_BECAME, "reopened"),
        ),
        holds=_list(**_LINE, hold=TEXT, phrase=TEXT, heard=TEXT, state=_one_of("stands", "withdrawn", "asked again")),
        register=_list(
            key=TEXT, name=TEXT, kind=_one_of("temporary", "part", "renew", "reminder"), opened=TIME,
            closed=_or_none(TIME), state=_one_of("open", "closed", "withdrawn"),
        ),
        notes=_list(**_LINE, step=TEXT, text=TEXT, state=_one_of("stands", "withdrawn")),
        steps=_list(**_LINE, step=TEXT, how=_one_of("start", "next", "back", "redo")),
        marks=_list(**_LINE, step=TEXT),
        interruptions=_list(**_LINE, gap_ms=WHOLE, torn_bytes=_or_none(WHOLE)),
        tightened=_list(
            **_LINE, step=TEXT, torque=TEXT, stage=WHOLE, stages=WHOLE, target=_or_none(DECIMAL),
            turn=_or_none(DECIMAL), unit=TEXT, order=TEXTS, thread=TEXT, condition=TEXT,
        ),
        follow_ups=TEXTS,
        journal=_object(name=TEXT, events=WHOLE, last_hash=TEXT, torn_bytes=WHOLE, sheet_hash=TEXT),
    )  # fmt: skip
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Record of a session"} | schema


def schema_text() -> str:
    """As it is shipped in records/record.schema.json."""
    return json.dumps(record_schema(), indent=1, ensure_ascii=False) + "\n"
