"""What words or a recording would mean at a step, as the JSON of `understand` and `hear`. Changes nothing."""

from __future__ import annotations

import codecs
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from bench_voice.core import decide as rules
from bench_voice.core import replies
from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Expected, Intent, Kind, Question
from bench_voice.core.replies import Reply
from bench_voice.core.sheet import JobSheet, Step
from bench_voice.core.state import State
from bench_voice.errors import BenchError, UsageError
from bench_voice.plain_file import open_plain
from bench_voice.ports import Heard
from bench_voice.session.outcomes import ORDER, Outcome, is_worse, outcome
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.wording import worded

_NO_SHEET = JobSheet("none", "No sheet", "0", "no machine", "none", (Step("any", "Any step."),))
# What is about the place in a job, which there is none without a sheet.
_OF_A_STEP = frozenset(
    {Kind.NEXT, Kind.BACK, Kind.REPEAT, Kind.WHERE, Kind.LEFT, Kind.REDO, Kind.AFFIRM, Kind.NEGATIVE, Kind.CARRY_ON}
)


class Meanings:
    """Loads each sheet once, by `load`. Raises SheetError for a sheet and UsageError for a step that isn't there."""

    def __init__(self, load: Callable[[Path], JobSheet]) -> None:
        self._load = load
        self._sheets: dict[str, JobSheet] = {}

    def expected(self, sheet_path: str | None, step_id: str | None) -> Expected:
        if sheet_path is None and step_id is not None:
            raise UsageError(
                f'There is no sheet for the step "{step_id}".', mend="Name it with --sheet.", slug="step-unknown"
            )
        if sheet_path is None:
            return Expected.at(_NO_SHEET, _NO_SHEET.steps[0])
        if sheet_path not in self._sheets:
            self._sheets[sheet_path] = self._load(Path(sheet_path))
        sheet = self._sheets[sheet_path]
        if step_id is None:
            # No step named: any of the sheet's readings may be meant, no hold is open.
            anywhere = Step("anywhere", "", readings=tuple(sheet.readings), looks=tuple(sheet.looks))
            return Expected.at(sheet, anywhere)
        try:
            return Expected.at(sheet, sheet.steps[sheet.step_index(step_id)])
        except KeyError:
            known = ", ".join(step.id for step in sheet.steps)
            raise UsageError(
                f'The sheet has no step "{step_id}".',
                mend=f"Its steps: {known}.",
                slug="step-unknown",
                where=sheet_path,
            ) from None


def said(intent: Intent, expected: Expected) -> str:
    """What the assistant would say there."""
    if expected.sheet is _NO_SHEET and intent.kind in _OF_A_STEP:
        return " ".join(worded(Speaker(load_language(expected.sheet.language)), (Reply("no-sheet"),)))
    state = State(expected.sheet)
    if expected.step in expected.sheet.steps:
        state = state.with_(index=expected.sheet.steps.index(expected.step))
        earlier = expected.sheet.steps[: state.index]
        state = state.with_(confirmed=frozenset(step.hold.id for step in earlier if step.hold))
    else:
        steps = (expected.step, *expected.sheet.steps)
        from dataclasses import replace

        state = State(replace(expected.sheet, steps=steps))
    events = rules.decide(state, intent, 0)
    speaker = Speaker(load_language(expected.sheet.language))
    return " ".join(worded(speaker, replies.after(state, events)))


def as_json(id_: Any, intent: Intent, expected: Expected, heard: str | None = None) -> dict[str, Any]:
    """The object of the README, in its order."""
    is_taken = intent.kind not in (Kind.AMBIGUOUS, Kind.UNKNOWN)
    sentence = said(intent, expected)
    row = flat_of(intent)
    offered = flat_of(intent.offered) if isinstance(intent, Question) and intent.offered else None
    return {
        "id": id_,
        "heard": intent.heard if heard is None else heard,
        "accepted": is_taken,
        "kind": intent.kind.value,
        "name": row.name,
        "value": None if row.value is None or row.values else str(row.value),
        "values": [str(value) for value in row.values] if row.values else None,
        "unit": row.unit,
        "text": row.text or None,
        "said": sentence,
        "question": sentence if intent.kind is Kind.AMBIGUOUS else None,
        "offered": None
        if offered is None
        else {
            "kind": offered.kind.value,
            "name": offered.name,
            "value": None if offered.value is None else str(offered.value),
            "unit": offered.unit,
        },
        "confidence": intent.confidence,
    }


def ears_json(heard: Sequence[Heard], explain: bool) -> list[dict[str, Any]]:
    """One entry an ear, with `explain` all figures of its evidence."""
    found = []
    for one in heard:
        entry: dict[str, Any] = {"ear": one.ear, "heard": one.words or one.free_words or ""}
        if explain:
            entry |= {
                "weight": one.weight,
                "alternatives": [list(pair) for pair in one.alternatives],
                "free": one.free_words,
                "fits": [asdict(fit) for fit in one.fits],
                "soundings": [asdict(sounding) for sounding in one.soundings],
                "by_phones": one.by_phones,
                "evidence": one.evidence,
            }
        found.append(entry)
    return found


def read_list(path: Path) -> list[tuple[Any, dict[str, Any] | BenchError]]:
    """Lines of a JSONL list: (id, object) or (id, what is wrong with the line)."""
    try:
        with open_plain(path) as file:
            content = file.read()
    except OSError as error:
        raise UsageError(
            f"The list cannot be read: {error.strerror or error}.",
            mend="Give a UTF-8 file, one JSON object a line.",
            slug="list-unreadable",
            where=str(path),
        ) from error
    # Bytes end a line at CR and LF alone; a text would end one at U+2028 too, which may stand within a JSON string.
    lines = enumerate(content.removeprefix(codecs.BOM_UTF8).splitlines(), 1)
    return [_line(line, f"line {number}") for number, line in lines if line.strip()]


def _line(line: bytes, where: str) -> tuple[Any, dict[str, Any] | BenchError]:
    try:
        entry = json.loads(line.decode())
    except (ValueError, RecursionError):
        entry = None
    if not isinstance(entry, dict):
        return None, _bad_line("This line is not a JSON object in UTF-8.", "Write one object a line.", where)
    id_ = entry.get("id")
    try:
        # As a part of what is printed: NaN and 1e999 are no JSON there, and the depth has an end.
        json.dumps({"id": [id_]}, allow_nan=False)
    except (ValueError, RecursionError):
        return None, _bad_line('Its "id" cannot be given back.', "Write a text or a plain number.", where)
    return id_, entry


def asked(entry: dict[str, Any], key: str) -> tuple[str, str | None, str | None]:
    """The line's words or recording (`key`), its sheet and its step. Raises UsageError `list-line`."""
    for name in (key, "sheet", "step"):
        value = entry.get(name)
        if value is None and name != key:
            continue
        if not isinstance(value, str):
            raise _bad_line(f'The line has no "{name}" in words.', "Write it as a text in quotes.")
        # JSON can write what no text or file name holds: U+0000, and half of a surrogate pair.
        if any(char == "\0" or "\ud800" <= char <= "\udfff" for char in value):
            raise _bad_line(f'The line\'s "{name}" holds U+0000 or half of a surrogate pair.', "Write plain text.")
    return entry[key], entry.get("sheet"), entry.get("step")


def _bad_line(what: str, mend: str, where: str = "") -> UsageError:
    return UsageError(what, mend=mend, slug="list-line", where=where)


class Against:
    """What came of the lines of a list that say what is expected of them (`expect`) and what they were (`was`)."""

    def __init__(self) -> None:
        self._now: list[Outcome] = []
        self._then: list[Outcome] = []
        self.worse: list[Any] = []
        self._better: list[Any] = []

    def seen(self, id_: Any, entry: dict[str, Any], body: dict[str, Any]) -> dict[str, Any]:
        """What to add to the line's output: nothing where nothing was expected."""
        expect = entry.get("expect")
        if not isinstance(expect, dict):
            return {}
        now = outcome(body, expect)
        self._count(id_, entry, now)
        return {"outcome": now.value}

    def failed(self, id_: Any, entry: dict[str, Any]) -> None:
        """A line that could not be heard at all."""
        if isinstance(entry.get("expect"), dict):
            self._count(id_, entry, Outcome.NOTHING)

    def _count(self, id_: Any, entry: dict[str, Any], now: Outcome) -> None:
        was = entry.get("was")
        then = next((one for one in ORDER if one.value == was), Outcome.RIGHT)
        self._now.append(now)
        self._then.append(then)
        if is_worse(now, then):
            self.worse.append(id_)
        elif is_worse(then, now):
            self._better.append(id_)

    @property
    def summary(self) -> str:
        """One line for people, "" where nothing was expected."""
        if not self._now:
            return ""
        parts = [f"{one.value} {self._now.count(one)} (was {self._then.count(one)})" for one in ORDER]
        ids = [
            f"{word}: {', '.join(map(str, found))}"
            for word, found in (("worse", self.worse), ("better", self._better))
            if found
        ]
        return f"{len(self._now)} with an expectation: {', '.join(parts)}. {'; '.join(ids) or 'None has changed'}."
