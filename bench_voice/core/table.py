"""The program: what each kind of intent does in each phase. `python -m bench_voice.core.table` draws it.

A cell is a word and a function. Rows are filled from a default and overridden where a phase differs, so that no cell
can be missing: `TABLE[phase][kind]` exists for every pair.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from bench_voice.core import cells
from bench_voice.core import events as ev
from bench_voice.core.cases import Answer, Lapse, Refusal
from bench_voice.core.events import Events
from bench_voice.core.intents import (
    SETTINGS,
    Calculation,
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
)
from bench_voice.core.register import handle_item
from bench_voice.core.state import Phase, State

Shape = TypeVar("Shape")
Act = Callable[[State, Intent], Events]


def _nothing(state: State, intent: Intent) -> Intent | None:
    return None


def _the_same(state: State, intent: Intent) -> Intent | None:
    return intent


@dataclass(frozen=True)
class Cell:
    """`word`: as the drawn table shows it. `act`: the events. `then`: what is decided next, in the state they leave."""

    word: str
    act: Act
    then: Callable[[State, Intent], Intent | None] = _nothing


def _of(shape: type[Shape], word: str, act: Callable[[State, Shape], Events]) -> Cell:
    """A cell for kinds that have this shape."""

    def checked(state: State, intent: Intent) -> Events:
        if not isinstance(intent, shape):
            raise TypeError(f"{intent.kind} has the shape {type(intent).__name__}, not {shape.__name__}")
        return act(state, intent)

    return Cell(word, checked)


def _tell(state: State, intent: Intent) -> Events:
    is_asked = isinstance(intent, Query | Conversion | Calculation)
    is_at_end = isinstance(intent, Setting) and intent.is_at_end
    return (ev.Told(intent.kind, intent if is_asked or is_at_end else None),)


def _not_understood(state: State, intent: Intent) -> Events:
    return (ev.NotUnderstood(intent.heard),)


def _mark(state: State, intent: Intent) -> Events:
    return (ev.MarkSet(state.step.id),)


def _ended(state: State, intent: Intent) -> Events:
    return (ev.Refused(intent.kind, Refusal.ENDED),)


def _standing_by(state: State, intent: Intent) -> Events:
    return ()


def _stand_by(state: State, intent: Intent) -> Events:
    return (ev.StoodBy(),)


def _carry_on(state: State, intent: Intent) -> Events:
    return (ev.CarriedOn(),)


def _repeat_carry_on(state: State, intent: Intent) -> Events:
    return (ev.Told(Kind.REPEAT),)


def _refuse(why: Refusal) -> Act:
    def act(state: State, intent: Intent) -> Events:
        return (ev.Refused(intent.kind, why),)

    return act


def _lapse(state: State, intent: Intent) -> Events:
    assert state.read_back is not None
    return (ev.HoldLapsed(state.read_back, Lapse.OTHER),)


def _lapse_then(word: str) -> Cell:
    """Anything but affirm leaves the hold as it was; then it is done as if the phrase had not been said."""
    return Cell(f"lapse, {word}", _lapse, _the_same)


def _close(state: State, intent: Intent) -> Events:
    return (ev.QuestionClosed(Answer.OTHER),)


def _close_then(word: str) -> Cell:
    """Another request overtakes an open question; then it is done as if nothing had been asked."""
    return Cell(f"close, {word}", _close, _the_same)


def _ask_again(state: State, intent: Intent) -> Events:
    return (ev.AskedAgain(intent.heard),)


# What holds where a phase says nothing else.
_DEFAULT: dict[Kind, Cell] = {
    Kind.READING: _of(Measurement, "record", cells.record_reading),
    Kind.CONFIRM: _of(Confirmation, "read back", cells.take_phrase),
    Kind.AFFIRM: Cell("nothing asked", cells.nothing_asked),
    Kind.NEGATIVE: Cell("nothing asked", cells.nothing_asked),
    Kind.NEXT: Cell("advance", cells.advance),
    Kind.BACK: Cell("go back", cells.go_back),
    Kind.REPEAT: Cell("tell", _tell),
    Kind.WHERE: Cell("tell", _tell),
    Kind.LEFT: Cell("tell", _tell),
    Kind.HELP: Cell("tell", _tell),
    Kind.QUERY: Cell("answer", _tell),
    Kind.CORRECTION: _of(Measurement, "correct", cells.correct),
    Kind.UNDO: Cell("undo", cells.undo),
    Kind.NOTE: _of(Remark, "note", cells.note),
    Kind.REMINDER: _of(ItemChange, "register", handle_item),
    Kind.FITTED: _of(ItemChange, "register", handle_item),
    Kind.TAKEN_OFF: _of(ItemChange, "register", handle_item),
    Kind.REMOVED: _of(ItemChange, "register", handle_item),
    Kind.PUT_BACK: _of(ItemChange, "register", handle_item),
    Kind.DONE: _of(ItemChange, "register", handle_item),
    Kind.REDO: Cell("redo", cells.redo),
    Kind.JUDGEMENT: _of(Judgement, "judge", cells.take_judgement),
    Kind.TIMER: _of(Timer, "timer", cells.set_timer),
    Kind.MARK: Cell("mark", _mark),
    Kind.STAND_BY: Cell("stand by", _stand_by),
    Kind.CARRY_ON: Cell("tell", _repeat_carry_on),
    Kind.STOP: Cell("ask: stop?", cells.stop),
    **{kind: Cell("tell", _tell) for kind in SETTINGS},
    Kind.REPLACE: _of(Replacement, "replace", cells.replace_part),
    Kind.JUDGED: _of(Remark, "decide on", cells.decide_on),
    Kind.AMBIGUOUS: _of(Question, "ask", cells.ask),
    Kind.UNKNOWN: Cell("not understood", _not_understood),
}

_HOLD_FIRST = Cell("hold first", _refuse(Refusal.HOLD_FIRST))

_OVERRIDES: dict[Phase, dict[Kind, Cell]] = {
    Phase.HOLD: {
        Kind.READING: _HOLD_FIRST,
        Kind.JUDGEMENT: _HOLD_FIRST,
        Kind.REPLACE: _HOLD_FIRST,
        Kind.JUDGED: _HOLD_FIRST,
    },
    Phase.READ_BACK: {
        **{kind: _lapse_then(cell.word) for kind, cell in _DEFAULT.items()},
        Kind.AFFIRM: Cell("pass the hold", cells.affirm_hold),
        Kind.NEGATIVE: Cell("lapse", cells.negate_hold),
        Kind.REPEAT: Cell("tell", _tell),
    },
    Phase.FAILED: {Kind.READING: _of(Measurement, "ask what it is", cells.retake)},
    Phase.ASKED: {
        **{kind: _close_then(cell.word) for kind, cell in _DEFAULT.items()},
        Kind.AFFIRM: Cell("take the offer", cells.affirm_question, cells.offered),
        Kind.NEGATIVE: Cell("close", cells.negate_question),
        Kind.CORRECTION: Cell("close, correct", _close, cells.retaken),
        Kind.REDO: Cell("close, redo", cells.measured_again, cells.retaken),
        Kind.REPLACE: replace(_of(Replacement, "close, replace", cells.new_part), then=cells.retaken),
        Kind.UNKNOWN: Cell("ask again", _ask_again),
        Kind.REPEAT: Cell("ask again", _ask_again),
    },
    Phase.STOPPING: {
        **{kind: _close_then(cell.word) for kind, cell in _DEFAULT.items()},
        Kind.AFFIRM: Cell("stop the job", cells.affirm_stop),
        Kind.NEGATIVE: Cell("close", cells.negate_question),
        Kind.UNKNOWN: Cell("ask again", _ask_again),
        Kind.REPEAT: Cell("ask again", _ask_again),
    },
    Phase.STAND_BY: {
        **dict.fromkeys(_DEFAULT, Cell("silent", _standing_by)),
        Kind.CARRY_ON: Cell("carry on", _carry_on),
    },
    Phase.ENDED: dict.fromkeys(_DEFAULT, Cell("ended", _ended)),
}

TABLE: Mapping[Phase, Mapping[Kind, Cell]] = {
    phase: {kind: _OVERRIDES.get(phase, {}).get(kind, _DEFAULT[kind]) for kind in Kind} for phase in Phase
}


def drawn() -> str:
    """The table as Markdown, kinds down, phases across."""
    phases = list(Phase)
    lines = [
        "| intent | " + " | ".join(phase.value for phase in phases) + " |",
        "|---|" + "---|" * len(phases),
    ]
    for kind in Kind:
        lines.append(f"| {kind.value} | " + " | ".join(TABLE[phase][kind].word for phase in phases) + " |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(drawn(), end="")
