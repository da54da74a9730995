"""An intent as one row of fields, the same for every kind: as a journal keeps it and as JSON shows it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import assert_never

from bench_voice.core.intents import (
    CONVERSION,
    Asks,
    Calculation,
    Command,
    Confirmation,
    Conversion,
    Intent,
    ItemChange,
    Judgement,
    Kind,
    Measurement,
    Query,
    Question,
    Remark,
    Replacement,
    Setting,
    Timer,
    Topic,
    Unknown,
)
from bench_voice.core.sheet import Finding

_AT_END = "end"


@dataclass(frozen=True)
class Flat:
    """Which fields are set depends on `kind`; the rest keep their defaults, which a journal leaves out.

    `name`: id from the sheet. `text`: free words, a finding, a query's topic; "correction" where a question is about
    one. `detail`: the note of a judgement, "end" of a setting, the unit or the sentence that answers a query.
    `in_limit_unit`: of a conversion the answer.
    """

    kind: Kind
    name: str | None = None
    value: Decimal | None = None
    unit: str | None = None
    in_limit_unit: Decimal | None = None
    values: tuple[Decimal, ...] = ()
    values_in_limit_unit: tuple[Decimal, ...] = ()
    text: str = ""
    heard: str = ""
    asks: Asks | None = None
    options: tuple[Flat, ...] = ()
    is_offer: bool = False
    detail: str = ""
    confidence: float | None = None

    @property
    def offered(self) -> Flat | None:
        """What *affirm* would take, if anything is offered."""
        return self.options[0] if self.is_offer and self.options else None


def flat_of(intent: Intent) -> Flat:
    """The row of an intent."""
    kind, heard, sure = intent.kind, intent.heard, intent.confidence
    match intent:
        case Command() | Unknown():
            return Flat(kind, heard=heard, confidence=sure)
        case Setting(is_at_end=is_at_end):
            return Flat(kind, heard=heard, confidence=sure, detail=_AT_END if is_at_end else "")
        case Measurement():
            return Flat(
                kind,
                name=intent.name,
                value=intent.value,
                unit=intent.unit,
                in_limit_unit=intent.in_limit_unit,
                values=intent.values,
                values_in_limit_unit=intent.values_in_limit_unit,
                heard=heard,
                confidence=sure,
            )
        case Confirmation(hold=name) | Replacement(name=name):
            return Flat(kind, name=name, heard=heard, confidence=sure)
        case ItemChange(name=name, text=text):
            return Flat(kind, name=name, text=text, heard=heard, confidence=sure)
        case Remark(text=text):
            return Flat(kind, text=text, heard=heard, confidence=sure)
        case Judgement(name=name, finding=finding, note=note):
            text = "" if finding is None else finding.value
            return Flat(kind, name=name, text=text, detail=note, heard=heard, confidence=sure)
        case Timer(value=value, unit=unit, text=text):
            return Flat(kind, value=value, unit=unit, text=text, heard=heard, confidence=sure)
        case Query(topic=topic, name=name):
            return Flat(kind, name=name, text=topic.value, heard=heard, confidence=sure)
        case Conversion():
            return Flat(
                kind,
                value=intent.value,
                unit=intent.unit,
                in_limit_unit=intent.answer,
                text=CONVERSION,
                detail=intent.target,
                heard=heard,
                confidence=sure,
            )
        case Calculation():
            return Flat(
                kind,
                name=intent.name,
                value=intent.value,
                unit=intent.unit,
                text=intent.topic,
                detail=intent.sentence,
                heard=heard,
                confidence=sure,
            )
        case Question():
            return Flat(
                kind,
                name=intent.name,
                unit=intent.unit,
                text=Kind.CORRECTION.value if intent.is_about_correction else intent.text,
                asks=intent.asks,
                options=tuple(map(flat_of, intent.options)),
                is_offer=intent.is_offer,
                detail=intent.detail,
                heard=heard,
                confidence=sure,
            )
        case _:
            assert_never(intent)


def intent_of(row: Flat) -> Intent:
    """The intent of a row. Total: fields that its kind has no use for are dropped."""
    heard, sure = row.heard, row.confidence
    match row.kind:
        case Kind.READING | Kind.CORRECTION as kind:
            return Measurement(
                kind,
                row.name,
                row.value,
                row.unit,
                row.in_limit_unit,
                row.values,
                row.values_in_limit_unit,
                heard=heard,
                confidence=sure,
            )
        case Kind.CONFIRM:
            return Confirmation(row.name, heard=heard, confidence=sure)
        case Kind.REPLACE:
            return Replacement(row.name, heard=heard, confidence=sure)
        case Kind.FITTED | Kind.TAKEN_OFF | Kind.REMOVED | Kind.PUT_BACK | Kind.REMINDER | Kind.DONE as kind:
            return ItemChange(kind, row.name, row.text, heard=heard, confidence=sure)
        case Kind.NOTE | Kind.JUDGED as kind:
            return Remark(kind, row.text, heard=heard, confidence=sure)
        case Kind.JUDGEMENT:
            finding = next((one for one in Finding if one.value == row.text), None)
            return Judgement(row.name, finding, row.detail, heard=heard, confidence=sure)
        case Kind.TIMER:
            return Timer(row.value or Decimal(0), row.unit or "", row.text, heard=heard, confidence=sure)
        case Kind.QUERY:
            return _query(row)
        case Kind.AMBIGUOUS:
            is_about_correction = row.text == Kind.CORRECTION.value
            return Question(
                row.asks or Asks.WHICH_NUMBER,
                row.name,
                tuple(map(intent_of, row.options)),
                row.is_offer,
                row.unit,
                "" if is_about_correction else row.text,
                is_about_correction,
                row.detail,
                heard=heard,
                confidence=sure,
            )
        case Kind.UNKNOWN:
            return Unknown(heard=heard, confidence=sure)
        case Kind.LOUDER | Kind.QUIETER | Kind.FASTER | Kind.SLOWER | Kind.SOUND_CHECK as kind:
            return Setting(kind, row.detail == _AT_END, heard=heard, confidence=sure)
        case kind:
            return Command(kind, heard=heard, confidence=sure)


def _query(row: Flat) -> Intent:
    heard, sure = row.heard, row.confidence
    if row.text in list(Topic):
        return Query(Topic(row.text), row.name, heard=heard, confidence=sure)
    if row.text == CONVERSION and row.value is not None and row.unit is not None and row.in_limit_unit is not None:
        return Conversion(row.value, row.unit, row.detail, row.in_limit_unit, heard=heard, confidence=sure)
    return Calculation(row.text, row.detail, row.name, row.value, row.unit, heard=heard, confidence=sure)
