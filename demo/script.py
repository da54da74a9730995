"""The mechanic's script: what is said at each turn, and which journal events it is meant to bring about.

An expectation is an event's name and the fields that matter, as text: `{"ReadingRecorded": {"value": "4.6"}}`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

Event = Mapping[str, Any]  # a journal event: "event" is its name, the rest its fields, numbers as text

# What the journal must hold, one for one and in order, of what the script means: nothing more, nothing less.
COUNTED = (
    "ReadingRecorded",
    "ReadingCorrected",
    "ReadingReopened",
    "ReadingDecided",
    "LookJudged",
    "HoldConfirmed",
    "ItemOpened",
    "ItemClosed",
    "NoteTaken",
    "StepDone",
    "Undone",
    "SessionResumed",
    "JobStopped",
    "SignedOff",
)


# A line that must not be taken: not understood, refused, or read or asked back and then denied by the mechanic.
# An answer of nothing at all will do as well: the line was taken for talk.
NOT_TAKEN = "NotTaken"
REFUSALS = ("NotUnderstood", "Refused", "HoldLapsed", "AskedAgain")


@dataclass(frozen=True)
class Want:
    """One event that must come. `fields`: name -> text; a field that is not named may be anything."""

    event: str
    fields: tuple[tuple[str, str], ...] = ()

    def is_met_by(self, event: Event) -> bool:
        if self.event == NOT_TAKEN:
            return event["event"] in REFUSALS or (event["event"] == "QuestionClosed" and event["how"] == "negative")
        return event["event"] == self.event and all(str(event.get(key)) == value for key, value in self.fields)

    def __str__(self) -> str:
        return f"{self.event}({', '.join(f'{key}={value}' for key, value in self.fields)})"


@dataclass(frozen=True)
class Turn:
    """`say` is spoken; empty with `kill`, which ends the process with SIGKILL and starts it again.

    `wants`: events that must all come of it. `answer`: the assistant reads the hold phrase back; the mechanic affirms.
    `shows`: what the demo shows here, for the reader of the transcript; "" for the ordinary turns.
    """

    say: str
    wants: tuple[Want, ...]
    shows: str = ""
    kill: bool = False


@dataclass(frozen=True)
class Script:
    sheet: Path
    turns: tuple[Turn, ...]


def load(path: Path) -> Script:
    """Reads a script; numbers stay text: 4.60 keeps its digits. Raises `ValueError` for a turn without effect."""
    data = YAML(typ="safe", pure=True)
    # A class of its own: what is added to a class counts for every reader that uses it.
    data.Constructor = type("Texts", (data.Constructor,), {})
    data.Constructor.add_constructor("tag:yaml.org,2002:float", lambda loader, node: str(node.value))
    data.Constructor.add_constructor("tag:yaml.org,2002:int", lambda loader, node: str(node.value))
    raw = data.load(path.read_text(encoding="utf-8"))
    turns = []
    for number, entry in enumerate(raw["turns"], 1):
        wants = tuple(
            Want(name, tuple((key, str(value)) for key, value in (fields or {}).items()))
            for name, fields in entry["want"].items()
        )
        if not wants or bool(entry.get("say")) == bool(entry.get("kill")):
            raise ValueError(f"{path.name}, turn {number}: a turn says something or kills, and wants an event.")
        turns.append(Turn(entry.get("say", ""), wants, entry.get("shows", ""), bool(entry.get("kill"))))
    return Script(path.parent / raw["sheet"], tuple(turns))


def typed_lines(script: Script) -> list[list[str]]:
    """The script as typed lines, with the affirm after each hold phrase; one list for each process."""
    runs: list[list[str]] = [[]]
    for turn in script.turns:
        if turn.kill:
            runs.append([])
            continue
        runs[-1].append(turn.say)
        if any(want.event == "HoldConfirmed" for want in turn.wants):
            runs[-1].append("affirm")
    return runs


def differences(script: Script, events: Iterable[Event]) -> list[str]:
    """Where the journal is not what the script meant, in sentences; empty when it is exactly that.

    The register entries that the sheet itself opens (`by` "step") follow from its steps, so they are not in the script;
    that they were closed again is, each by its own event.
    """
    meant = [want for turn in script.turns for want in turn.wants if want.event in COUNTED]
    found = [
        event
        for event in events
        if event["event"] in COUNTED and not (event["event"] == "ItemOpened" and event.get("by") == "step")
    ]
    wrong = []
    for want, event in zip(meant, found, strict=False):
        if not want.is_met_by(event):
            wrong.append(f"The script meant {want}; the journal holds {shown(event)}.")
            break  # everything after the first difference is shifted
    else:
        if len(meant) > len(found):
            wrong.append(
                f"The script meant {meant[len(found)]} and {len(meant) - len(found) - 1} more; the journal ends."
            )
        wrong += [f"Nothing in the script meant {shown(event)}." for event in found[len(meant) :]]
    if wrong:
        return wrong
    refusals = [want for turn in script.turns for want in turn.wants if want.event == "NextRefused"]
    refused = [event for event in events if event["event"] == "NextRefused"]
    return [f"{want} is not in the journal." for want in refusals if not any(want.is_met_by(e) for e in refused)]


def shown(event: Event) -> str:
    """An event on one line, without what is the same in all."""
    skipped = {"event", "type", "heard", "confidence", "in_limit_unit"}
    return f"{event['event']}({', '.join(f'{k}={v}' for k, v in event.items() if k not in skipped)})"
