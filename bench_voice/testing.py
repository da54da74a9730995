"""Fakes that users may use too: a clock, a journal in memory, a whole typed conversation, small sheets from few words.

sheet = small_sheet(step("block", hold="confirm both wheels are blocked"), step("end", gate=True))
print(converse(sheet, ["next", "confirm both wheels are blocked", "affirm"]))
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from bench_voice.core import decide as rules
from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.intents import Intent, Question
from bench_voice.core.sheet import Hold, Item, ItemKind, JobSheet, Limit, Look, ReadingSpec, Step
from bench_voice.core.state import State
from bench_voice.errors import JournalError
from bench_voice.session.owner import Owner
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

# 2026-01-05 08:00:00 UTC: where a fake clock begins.
MORNING_MS = 1_767_600_000_000


@dataclass
class FakeClock:
    """Stands still until it is moved. `ms` may go back: a session has to bear it."""

    ms: int = MORNING_MS

    def now_ms(self) -> int:
        return self.ms

    def pass_(self, seconds: float) -> None:
        self.ms += int(seconds * 1000)


@dataclass
class MemoryJournal:
    """Keeps (at_ms, event) in `lines`. With `is_full` set it refuses as a full disk does, and keeps nothing."""

    lines: list[tuple[int, ev.Event]] = field(default_factory=list)
    is_full: bool = False

    def append(self, events: rules.Events, at_ms: int) -> None:
        if self.is_full:
            raise JournalError(
                "The journal cannot be written (no space left).", mend="Free some space.", slug="journal-unwritable"
            )
        self.lines.extend((at_ms, event) for event in events)

    @property
    def events(self) -> tuple[ev.Event, ...]:
        return tuple(event for _, event in self.lines)

    def replay(self, sheet: JobSheet) -> State:
        """The state as the fold of what was kept: what a restart sees."""
        state = State(sheet)
        for at_ms, event in self.lines:
            state = apply(state, event, at_ms)
        return state


class Bench:
    """A whole session without sound or files. `said` holds the sentences of every turn so far, in order."""

    def __init__(
        self, sheet: JobSheet, *, clock: FakeClock | None = None, begin: bool = True, known: rules.Events = ()
    ) -> None:
        self.sheet = sheet
        self.clock = clock or FakeClock()
        self.journal = MemoryJournal()
        self.language = load_language(sheet.language)
        self.said: list[str] = []
        self.owner = self._owner(State(sheet))
        if begin:
            self.owner.begin(known=known)

    def _owner(self, state: State) -> Owner:
        return Owner(state, self.journal, Speaker(self.language), self.clock, self._say)

    def _say(self, sentences: tuple[str, ...]) -> None:
        self.said.extend(sentences)

    @property
    def state(self) -> State:
        return self.owner.state

    def type(self, words: str) -> tuple[str, ...]:
        """One typed line; returns what was said to it."""
        self.owner.tick()
        return self._turn(lambda: self.owner.take(understand(words, self.state.expected(), self.language)))

    def take(self, intent: Intent) -> tuple[str, ...]:
        """One meaning, past the parser."""
        return self._turn(lambda: self.owner.take(intent))

    def wait(self, seconds: float) -> tuple[str, ...]:
        """Time goes by (or back, when negative) and is noticed."""
        self.clock.pass_(seconds)
        return self._turn(self.owner.tick)

    def restart(self, sheet_changed: bool = False) -> tuple[str, ...]:
        """The process ends without a word and another one comes back to the same journal."""
        self.owner = self._owner(self.journal.replay(self.sheet))
        return self._turn(lambda: self.owner.resume(sheet_changed))

    def _turn(self, act: Callable[[], None]) -> tuple[str, ...]:
        start = len(self.said)
        act()
        return tuple(self.said[start:])


def converse(sheet: JobSheet, script: Iterable[str], *, clock: FakeClock | None = None) -> str:
    """A conversation as text: `bench:` what is said, `you:` the lines of `script`, `log:` the events.

    A line of the script in parentheses is no talk: `(wait 15 s)`, `(wait 3 min)`, `(clock back 2 h)`, `(restart)`,
    `(restart, sheet changed)`.
    """
    bench = Bench(sheet, clock=clock)
    out: list[str] = []
    _written(bench, out, 0, tuple(bench.said))
    for line in script:
        words = line.strip()
        start = len(bench.journal.lines)
        if words.startswith("("):
            out.append(words)
            said = _stage(bench, words.strip("()"))
        else:
            out.append(f"you: {words}")
            said = bench.type(words)
        _written(bench, out, start, said)
    return "\n".join(out) + "\n"


_SECONDS = {"s": 1, "min": 60, "h": 3600, "d": 86_400}


def _stage(bench: Bench, direction: str) -> tuple[str, ...]:
    parts = direction.replace(",", "").split()
    if parts[0] == "restart":
        return bench.restart(sheet_changed=parts[1:] == ["sheet", "changed"])
    if parts[0] == "wait" or parts[:2] == ["clock", "back"]:
        seconds = int(parts[-2]) * _SECONDS[parts[-1]]
        return bench.wait(seconds if parts[0] == "wait" else -seconds)
    raise ValueError(f"not a stage direction: ({direction})")


def _written(bench: Bench, out: list[str], start: int, said: tuple[str, ...]) -> None:
    out.extend(f"log: {brief(event)}" for _, event in bench.journal.lines[start:])
    if said:
        out.append("bench: " + " ".join(said))


def brief(event: ev.Event) -> str:
    """An event on one line: its name and what is set in it, without the words that were heard."""
    parts = [type(event).__name__]
    for name, value in vars(event).items():
        if name in ("heard", "confidence") or value in ("", None, ()):
            continue
        if isinstance(value, Intent):
            value = value.asks.value if isinstance(value, Question) else value.kind.value
        elif isinstance(value, tuple):
            value = "+".join(map(str, value))
        parts.append(f"{name}={value}")
    return " ".join(parts)


def reading(
    id_: str,
    low: str | None = None,
    high: str | None = None,
    *,
    unit: str = "mm",
    points: int = 1,
    uncertainty: str = "0",
    spread: str | None = None,
    pair: str | None = None,
    pair_within: str | None = None,
    from_marking: str | None = None,
    is_marking: bool = False,
) -> ReadingSpec:
    """A reading named as its id, hyphens spoken as spaces; figures as text, in `unit`."""

    def figure(text: str | None) -> Decimal | None:
        return None if text is None else Decimal(text)

    return ReadingSpec(
        id_,
        id_.replace("-", " "),
        Limit(unit, figure(low), figure(high), from_marking=from_marking),
        points=points,
        uncertainty=Decimal(uncertainty),
        spread=figure(spread),
        pair=pair,
        pair_within=figure(pair_within),
        is_marking=is_marking,
    )


def step(
    id_: str,
    *,
    hold: str | None = None,
    again: bool = True,
    until: str | None = None,
    say: str = "",
    readings: Iterable[str] = (),
    looks: Iterable[str] = (),
    opens: Iterable[str] = (),
    closes: Iterable[str] = (),
    requires: Iterable[str] = (),
    needs: Iterable[str] = (),
    only_if: str | None = None,
    gate: bool = False,
    follow_up: str = "",
) -> Step:
    """A step; its hold's id is the step's own, as in sheets from YAML."""
    return Step(
        id_,
        say or f"Do {id_.replace('-', ' ')}.",
        hold=Hold(id_, hold, again, until) if hold else None,
        readings=tuple(readings),
        looks=tuple(looks),
        opens=tuple(opens),
        closes=tuple(closes),
        requires=tuple(requires),
        needs=tuple(needs),
        only_if=only_if,
        gate=gate,
        follow_up=follow_up,
    )


def small_sheet(
    *steps: Step,
    readings: Iterable[ReadingSpec] = (),
    looks: Iterable[str] = (),
    temporary: Iterable[str] = (),
    parts: Iterable[str] = (),
    renew: Iterable[str] = (),
    id_: str = "small",
    title: str = "Small job",
    machine: str = "Invented machine",
    machine_id: str = "one",
) -> JobSheet:
    """A sheet from few words. Items and looks are named as their ids, hyphens spoken as spaces."""
    items = [
        Item(key, key.replace("-", " "), kind)
        for kind, keys in ((ItemKind.TEMPORARY, temporary), (ItemKind.PART, parts), (ItemKind.RENEW, renew))
        for key in keys
    ]
    return JobSheet(
        id_,
        title,
        "1",
        machine,
        machine_id,
        tuple(steps),
        readings={spec.id: spec for spec in readings},
        looks={look: Look(look, look.replace("-", " ")) for look in looks},
        items={item.id: item for item in items},
    )
