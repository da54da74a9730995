"""The program: what each kind of intent does in each phase. `python -m bench_voice.core.table` draws it.

A cell is a word and a function. Rows are filled from a default and overridden where a phase differs, so that no cell
can be missing: `TABLE[phase][kind]` exists for every pair.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bench_voice.core import decide as d
from bench_voice.core import events as ev
from bench_voice.core.intents import SETTINGS, Intent, Kind
from bench_voice.core.register import handle_item
from bench_voice.core.state import Phase, State

Act = Callable[[State, Intent], d.Events]


@dataclass(frozen=True)
class Cell:
    """`word`: as the drawn table shows it. `act`: the events."""

    word: str
    act: Act


def _tell(state: State, intent: Intent) -> d.Events:
    needs_intent = intent.kind is Kind.QUERY or bool(intent.detail)
    return (ev.Told(intent.kind.value, intent if needs_intent else None),)


def _not_understood(state: State, intent: Intent) -> d.Events:
    return (ev.NotUnderstood(intent.heard),)


def _mark(state: State, intent: Intent) -> d.Events:
    return (ev.MarkSet(state.step.id),)


def _ended(state: State, intent: Intent) -> d.Events:
    return (ev.Refused(intent.kind.value, "ended"),)


def _standing_by(state: State, intent: Intent) -> d.Events:
    return ()


def _stand_by(state: State, intent: Intent) -> d.Events:
    return (ev.StoodBy(),)


def _carry_on(state: State, intent: Intent) -> d.Events:
    return (ev.CarriedOn(),)


def _repeat_carry_on(state: State, intent: Intent) -> d.Events:
    return (ev.Told(Kind.REPEAT.value),)


def _refuse(why: str) -> Act:
    def act(state: State, intent: Intent) -> d.Events:
        return (ev.Refused(intent.kind.value, why),)

    return act


def _lapse_then(word: str, act: Act) -> Cell:
    """Anything but affirm leaves the hold as it was; then it is done as if the phrase had not been said."""

    def both(state: State, intent: Intent) -> d.Events:
        assert state.read_back is not None
        lapsed = ev.HoldLapsed(state.read_back, "other")
        return (lapsed, *d.decide(d.fold(state, (lapsed,)), intent, state.clock_ms))

    return Cell(f"lapse, {word}", both)


def _close_then(word: str, act: Act) -> Cell:
    """Another request overtakes an open question; then it is done as if nothing had been asked."""

    def both(state: State, intent: Intent) -> d.Events:
        closed = ev.QuestionClosed("other")
        return (closed, *d.decide(d.fold(state, (closed,)), intent, state.clock_ms))

    return Cell(f"close, {word}", both)


def _ask_again(state: State, intent: Intent) -> d.Events:
    return (ev.AskedAgain(intent.heard),)


# What holds where a phase says nothing else.
_DEFAULT: dict[Kind, Cell] = {
    Kind.READING: Cell("record", d.record_reading),
    Kind.CONFIRM: Cell("read back", d.take_phrase),
    Kind.AFFIRM: Cell("nothing asked", d.nothing_asked),
    Kind.NEGATIVE: Cell("nothing asked", d.nothing_asked),
    Kind.NEXT: Cell("advance", d.advance),
    Kind.BACK: Cell("go back", d.go_back),
    Kind.REPEAT: Cell("tell", _tell),
    Kind.WHERE: Cell("tell", _tell),
    Kind.LEFT: Cell("tell", _tell),
    Kind.HELP: Cell("tell", _tell),
    Kind.QUERY: Cell("answer", _tell),
    Kind.CORRECTION: Cell("correct", d.correct),
    Kind.UNDO: Cell("undo", d.undo),
    Kind.NOTE: Cell("note", d.note),
    Kind.REMINDER: Cell("register", handle_item),
    Kind.FITTED: Cell("register", handle_item),
    Kind.TAKEN_OFF: Cell("register", handle_item),
    Kind.REMOVED: Cell("register", handle_item),
    Kind.PUT_BACK: Cell("register", handle_item),
    Kind.DONE: Cell("register", handle_item),
    Kind.REDO: Cell("redo", d.redo),
    Kind.JUDGEMENT: Cell("judge", d.judge_look),
    Kind.TIMER: Cell("timer", d.set_timer),
    Kind.MARK: Cell("mark", _mark),
    Kind.STAND_BY: Cell("stand by", _stand_by),
    Kind.CARRY_ON: Cell("tell", _repeat_carry_on),
    Kind.STOP: Cell("ask: stop?", d.stop),
    **{kind: Cell("tell", _tell) for kind in SETTINGS},
    Kind.REPLACE: Cell("replace", d.replace_part),
    Kind.JUDGED: Cell("decide on", d.decide_on),
    Kind.AMBIGUOUS: Cell("ask", d.ask),
    Kind.UNKNOWN: Cell("not understood", _not_understood),
}

_HOLD_FIRST = Cell("hold first", _refuse("hold-first"))
_CHOICES = Cell("choices", _refuse("choices"))

_OVERRIDES: dict[Phase, dict[Kind, Cell]] = {
    Phase.HOLD: {
        Kind.READING: _HOLD_FIRST,
        Kind.JUDGEMENT: _HOLD_FIRST,
        Kind.REPLACE: _HOLD_FIRST,
        Kind.JUDGED: _HOLD_FIRST,
    },
    Phase.READ_BACK: {
        **{kind: _lapse_then(cell.word, cell.act) for kind, cell in _DEFAULT.items()},
        Kind.AFFIRM: Cell("pass the hold", d.affirm_hold),
        Kind.NEGATIVE: Cell("lapse", d.negate_hold),
        Kind.REPEAT: Cell("tell", _tell),
    },
    Phase.FAILED: {Kind.READING: _CHOICES},
    Phase.ASKED: {
        **{kind: _close_then(cell.word, cell.act) for kind, cell in _DEFAULT.items()},
        Kind.AFFIRM: Cell("take the offer", d.affirm_question),
        Kind.NEGATIVE: Cell("close", d.negate_question),
        Kind.UNKNOWN: Cell("ask again", _ask_again),
        Kind.REPEAT: Cell("ask again", _ask_again),
    },
    Phase.STOPPING: {
        **{kind: _close_then(cell.word, cell.act) for kind, cell in _DEFAULT.items()},
        Kind.AFFIRM: Cell("stop the job", d.affirm_stop),
        Kind.NEGATIVE: Cell("close", d.negate_question),
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
