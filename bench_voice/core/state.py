"""The state of a session: the fold of its events. Small and frozen; history stays in the journal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from bench_voice.core.cases import Basis, Changed, Ending, Open, OpenedBy, Stage
from bench_voice.core.events import InstrumentUse
from bench_voice.core.history import Earlier, Series
from bench_voice.core.intents import Asks, Expected, Question, id_of
from bench_voice.core.sheet import Finding, Hold, ItemKind, JobSheet, Limit, ReadingSpec, Step
from bench_voice.core.verdict import Judged, Side, Verdict, judge, judge_difference, judge_points


class Phase(StrEnum):
    """Where a session is; every intent means something in each (see `core.table`)."""

    HOLD = "hold"  # the step's phrase is awaited
    READ_BACK = "read-back"  # the phrase was heard and read back; affirm is awaited
    READING = "reading"
    FAILED = "failed"  # a reading is out of limits or borderline and not decided on
    LOOK = "look"
    CLOSE = "close"  # register items that this step asks about
    READY = "ready"  # nothing is asked: next goes on
    GATE = "gate"  # the final gate with something open
    ASKED = "asked"  # a question with or without an offer is open
    STOPPING = "stopping"  # "stop the job" waits for affirm
    STAND_BY = "stand-by"
    ENDED = "ended"


@dataclass(frozen=True)
class Point:
    seq: int
    value: Decimal
    unit: str
    in_limit_unit: Decimal


@dataclass(frozen=True)
class Figures:
    """What a verdict rests on, in the limit's unit: values with U of each, the limit, and the other side's values where
    the difference to it is limited; () where they are not known.
    """

    values: tuple[Decimal, ...]
    doubts: tuple[Decimal, ...]
    limit: tuple[Decimal | None, Decimal | None]
    others: tuple[Decimal, ...] = ()


@dataclass(frozen=True)
class Taken:
    """What stands for one reading at one step. `decided`: the reason of a decision, which holds for the very `figures`
    that it was made on; without any, whatever they are.
    """

    points: tuple[Point, ...] = ()
    stage: Stage = Stage.AS_FOUND
    decided: str = ""
    figures: Figures | None = None

    @property
    def values(self) -> tuple[Decimal, ...]:
        return tuple(point.in_limit_unit for point in self.points)


@dataclass(frozen=True)
class Entry:
    """An open entry of the register."""

    key: str
    name: str
    kind: ItemKind
    by: OpenedBy


@dataclass(frozen=True)
class Change:
    """The person's change at `seq`, with what undo puts back: per field of the state, what the change touched."""

    seq: int
    what: Changed
    before: Mapping[str, object]
    step: str

    @property
    def where(self) -> tuple[str, str] | None:
        """Step and key of the reading or look that it touched."""
        for name in ("taken", "looked"):
            touched = self.before.get(name)
            if isinstance(touched, Mapping) and touched:
                step, key = next(iter(touched))
                return step, key
        return None

    @property
    def reading(self) -> str | None:
        return self.where[1] if self.where else None

    @property
    def item(self) -> tuple[str, Entry | None] | None:
        """Key of the register's entry that it touched, and the entry that it closed."""
        touched = self.before.get("register")
        return next(iter(touched.items())) if isinstance(touched, Mapping) and touched else None

    @property
    def held(self) -> frozenset[str]:
        """Holds that this change confirmed."""
        touched = self.before.get("confirmed", {})
        return frozenset(touched) if isinstance(touched, Mapping) else frozenset()


@dataclass(frozen=True)
class State:
    """`taken` is keyed by (step id, reading id), `looked` by (step id, look id) -> (finding, decided reason)."""

    sheet: JobSheet
    seq: int = 0
    at_ms: int = 0  # never goes back
    clock_ms: int = 0  # as the wall clock showed it at the last event
    index: int = 0
    done: frozenset[str] = frozenset()
    read_out: frozenset[str] = frozenset()  # step ids; what they take off may be off
    passed_over: frozenset[str] = frozenset()
    confirmed: frozenset[str] = frozenset()  # hold ids
    read_back: str | None = None  # hold id that waits for affirm
    read_back_ms: int = 0
    taken: Mapping[tuple[str, str], Taken] = field(default_factory=dict)
    looked: Mapping[tuple[str, str], tuple[Finding, str]] = field(default_factory=dict)
    replaced: frozenset[str] = frozenset()  # reading ids whose part was replaced
    register: Mapping[str, Entry] = field(default_factory=dict)
    timers: Mapping[str, tuple[int, str]] = field(default_factory=dict)  # key -> (due_ms, text)
    question: Question | None = None
    stopping: bool = False
    standing_by: bool = False
    ended: Ending | None = None
    last_reading: tuple[str, str, int] | None = None  # step, reading, point
    changes: tuple[Change, ...] = ()
    uses: Mapping[str, InstrumentUse] = field(default_factory=dict)  # reading id -> the person's own instrument
    history: tuple[Series, ...] = ()
    earlier: Earlier = field(default_factory=Earlier)

    def at(self, at_ms: int) -> State:
        """The same at `at_ms` (wall clock); a clock that jumps back is taken as standing."""
        return self.with_(at_ms=max(self.at_ms, at_ms), clock_ms=at_ms)

    def with_(self, **fields: Any) -> State:
        # dataclasses.replace gives every field to __init__ anew: ten times slower, and this is done for each event.
        if not fields.keys() <= self.__dict__.keys():
            raise TypeError(f"a state has no field {sorted(fields.keys() - self.__dict__.keys())[0]}")
        new = object.__new__(State)
        new.__dict__.update(self.__dict__)
        new.__dict__.update(fields)
        return new

    @property
    def step(self) -> Step:
        return self.sheet.steps[self.index]

    def held(self) -> Hold | None:
        """The hold that work waits for: the first open one on the way here, this step's included. None is walked past.

        One before this step is open after a resume or a "do it again": its phrase is taken here, where the work is.
        """
        for step in self.sheet.steps[: self.index + 1]:
            if step.hold and step.hold.id not in self.confirmed and step.id not in self.passed_over:
                return step.hold
        return None

    def may_have_changed(self, hold: Hold) -> bool:
        """Whether a confirmed hold has to be asked again after an interruption or on the way back."""
        return hold.again and hold.id in self.confirmed and hold.until not in self.done

    def limit_of(self, spec: ReadingSpec) -> Limit:
        """The limit that counts: the value marked on the part where it was read, else the sheet's.

        Of a table the row that the marking names; without one nothing is judged (and nothing is recorded).
        """
        marking = spec.limit.from_marking
        if marking is None:
            return spec.limit
        values = [t.values[-1] for (_, reading), t in self.taken.items() if reading == marking and t.values]
        if not values:
            return spec.limit
        if spec.limit.rows:
            row = spec.limit.row(values[-1])
            return replace(spec.limit, low=row.low, high=row.high) if row else spec.limit
        if spec.limit.high is not None or spec.limit.low is None:
            return replace(spec.limit, high=values[-1])
        return replace(spec.limit, low=values[-1])

    def uncertainty_of(self, spec: ReadingSpec, value: Decimal) -> Decimal:
        """U (k = 2) of `value`, in the limit's unit: of the person's own instrument, else of the sheet's."""
        use = self.uses.get(spec.id)
        return spec.uncertainty if use is None else use.uncertainty(value)

    def judge(self, spec: ReadingSpec, value: Decimal) -> Judged:
        """One value against the limit that counts now."""
        return judge(value, self.limit_of(spec), self.uncertainty_of(spec, value))

    def taken_at(self, step: str, reading: str) -> Taken:
        return self.taken.get((step, reading), Taken())

    def verdict_at(self, step: str, reading: str) -> Judged:
        """Worst of the points taken so far, the spread, and the difference to the other side where it is known."""
        spec = self.sheet.readings[reading]
        values = self.taken_at(step, reading).values
        doubts = tuple(self.uncertainty_of(spec, value) for value in values)
        judged = judge_points(values, self.limit_of(spec), spec, doubts)
        pair = self.pair_of(spec, values)
        return pair if pair is not None and pair.verdict.rank > judged.verdict.rank else judged

    def settled_with(self, reading: str) -> tuple[str, ...]:
        """What one decision on `reading` settles here: it, and the other side where they only differ too much."""
        pair = self.sheet.readings[reading].pair
        if pair is None or pair not in self.failed() or not self.only_differ(self.step.id, (reading, pair)):
            return (reading,)
        return (reading, pair)

    def only_differ(self, step: str, sides: tuple[str, str]) -> bool:
        """Whether the difference is the worst of both sides. A side that breaks its own limit is named for that, and
        nobody has heard of the difference yet.
        """
        return all(self.verdict_at(step, one).side is Side.PAIR for one in sides)

    def _others(self, spec: ReadingSpec) -> tuple[Decimal, ...]:
        """What stands for the other side, where the difference to it is limited."""
        if not spec.pair or spec.pair_within is None:
            return ()
        return tuple(point.in_limit_unit for point in self.other_points(spec))

    def other_points(self, spec: ReadingSpec) -> tuple[Point, ...]:
        """The points that stand for the other side of a pair."""
        found = [t.points for (_, r), t in self.taken.items() if r == spec.pair and t.points]
        return found[-1] if found else ()

    def pair_of(self, spec: ReadingSpec, values: tuple[Decimal, ...]) -> Judged | None:
        """The difference to the other side, where both are known."""
        others = self._others(spec)
        if not others or spec.pair is None or spec.pair_within is None or len(values) != spec.points:
            return None
        mean = sum(values, Decimal(0)) / len(values)
        other = sum(others, Decimal(0)) / len(others)
        # A mean is as doubtful as one reading: the points share the instrument's error.
        own = self.uncertainty_of(spec, mean)
        theirs = self.uncertainty_of(self.sheet.readings[spec.pair], other)
        judged = judge_difference(mean, other, spec.pair_within, spec.unit, own, theirs)
        return Judged(judged.verdict, judged.margin, Side.PAIR)

    def figures_at(self, step: str, reading: str) -> Figures:
        """What the verdict there rests on now."""
        spec, values = self.sheet.readings[reading], self.taken_at(step, reading).values
        limit = self.limit_of(spec)
        doubts = tuple(self.uncertainty_of(spec, value) for value in values)
        return Figures(values, doubts, (limit.low, limit.high), self._others(spec))

    def changed_since_decided(self, step: str, reading: str) -> Basis | None:
        """Which of the figures that a decision was made on is another one now: None where it holds.

        The other side that was not known then changes nothing as long as the difference to it is good.
        """
        taken = self.taken_at(step, reading)
        was = taken.figures
        if not taken.decided or was is None:
            return None
        now = self.figures_at(step, reading)
        if (now.values, now.doubts) != (was.values, was.doubts):
            return Basis.VALUE
        if now.limit != was.limit:
            return Basis.LIMIT
        if now.others == was.others:
            return None
        pair = self.pair_of(self.sheet.readings[reading], now.values)
        return None if not was.others and pair is not None and pair.verdict is Verdict.GOOD else Basis.PAIR

    def wear(self) -> tuple[Series, ...]:
        """The machine's history with what was measured now, and what each value is judged by now."""
        found = []
        for one in self.history:
            spec = self.sheet.readings.get(one.reading)
            if spec is None:
                continue
            limit, pairs = self.limit_of(spec), one.pairs
            at, values = self._latest(one.against, 0), self._latest(one.reading, one.point)
            if at is not None and values is not None:
                pairs = (*pairs, (at, values))
            doubt = self.uncertainty_of(spec, pairs[-1][1]) if pairs else spec.uncertainty
            found.append(replace(one, pairs=pairs, low=limit.low, high=limit.high, uncertainty=doubt))
        return tuple(found)

    def _latest(self, reading: str, point: int) -> Decimal | None:
        """The point's value at the last step that took it, in the limit's unit."""
        found = [t.values[point] for (_, r), t in self.taken.items() if r == reading and len(t.values) > point]
        return found[-1] if found else None

    def waits(self) -> tuple[str, ...]:
        """Readings of this step with points still wanted."""
        step = self.step
        return tuple(r for r in step.readings if len(self.taken_at(step.id, r).points) < self.sheet.readings[r].points)

    def needs_decision(self, step: str, reading: str) -> bool:
        """Taken in full, not good, and not decided on as it is."""
        taken = self.taken_at(step, reading)
        if not taken.points or len(taken.points) < self.sheet.readings[reading].points:
            return False
        if taken.decided and not self.changed_since_decided(step, reading):
            return False
        return self.verdict_at(step, reading).verdict in (Verdict.BORDERLINE, Verdict.OUT)

    def failed(self) -> tuple[str, ...]:
        """Readings of this step that keep it open, what is not good by itself before what only differs too much from
        the other side. All points are taken first: as found is kept whole."""
        found = [r for r in self.step.readings if self.needs_decision(self.step.id, r)]
        return tuple(sorted(found, key=lambda r: self.verdict_at(self.step.id, r).side is Side.PAIR))

    def retakes(self) -> tuple[str, ...]:
        """Readings of this step that are taken: what keeps it open first, then what was taken last."""
        if self.held():
            return ()
        failed, waits = self.failed(), self.waits()
        last = [self.last_reading[1]] if self.last_reading and self.last_reading[0] == self.step.id else []
        found = [r for r in (*failed, *last, *self.step.readings) if r in self.step.readings and r not in waits]
        return tuple(dict.fromkeys(found))

    def looks_wanted(self) -> tuple[str, ...]:
        return tuple(look for look in self.step.looks if (self.step.id, look) not in self.looked)

    def looks_bad(self) -> tuple[str, ...]:
        """Looks of this step judged doubtful or bad and not decided on."""
        found = []
        for look in self.step.looks:
            finding, decided = self.looked.get((self.step.id, look), (Finding.GOOD, ""))
            if finding is not Finding.GOOD and not decided:
                found.append(look)
        return tuple(found)

    def closes(self) -> tuple[str, ...]:
        """Register keys that this step asks about and that are open."""
        return tuple(key for key in self.step.closes if key in self.register)

    def superseded_by(self, step: str, reading: str) -> bool:
        """Whether the reading was taken again at a later step: then that one is judged."""
        order = [s.id for s in self.sheet.steps]
        later = order[order.index(step) + 1 :]
        return any(self.taken_at(s, reading).points for s in later)

    def begun(self) -> tuple[tuple[str, str], ...]:
        """(step, item) of steps that were read out and are not done: fitted or taken off, or not yet."""
        return tuple(
            (step.id, key)
            for step in self.sheet.steps
            if step.id in self.read_out and step.id not in self.done and step.id not in self.passed_over
            for key in step.opens
            if key not in self.register
        )

    def on_or_off(self) -> tuple[Entry, ...]:
        """The register, and what may be on or off at steps that were begun: what somebody else has to know of."""
        items = ((key, self.sheet.items[key]) for _, key in self.begun())
        begun = tuple(Entry(key, item.name, item.kind, OpenedBy.STEP) for key, item in items)
        return (*self.register.values(), *begun)

    def open_at_gate(self) -> tuple[tuple[Open, str], ...]:
        """Everything that keeps the job from being signed off: (why, key), in the order it is asked."""
        return tuple((why, key) for why, key, _ in self.at_gate())

    def at_gate(self) -> tuple[tuple[Open, str, str], ...]:
        """The same with the step's id, "" for an entry of the register."""
        found: list[tuple[Open, str, str]] = []
        for step in self.sheet.steps:
            if step.id in self.passed_over:
                continue
            if step.hold and step.hold.id not in self.confirmed:
                found.append((Open.HOLD, step.hold.id, step.id))
            found += ((why, key, step.id) for why, key in self.unsettled(step))
        return (*((Open.ITEM, key, "") for key in self.register), *found)

    def unsettled(self, step: Step) -> list[tuple[Open, str]]:
        """Readings and looks of the step that are wanted or not good: (why, key)."""
        found: list[tuple[Open, str]] = []
        for reading in step.readings:
            spec = self.sheet.readings[reading]
            if self.superseded_by(step.id, reading):
                continue
            if len(self.taken_at(step.id, reading).points) < spec.points or self.needs_decision(step.id, reading):
                found.append((Open.READING, reading))
        for look in step.looks:
            finding, decided = self.looked.get((step.id, look), (None, ""))
            if finding is not Finding.GOOD and not decided:
                found.append((Open.LOOK, look))
        return found

    def open_before(self) -> tuple[int, str] | None:
        """The first step before this one, and what of it is open again: a value withdrawn, or out of limits since a
        correction. Built over, it could not be measured any more."""
        for index, step in enumerate(self.sheet.steps[: self.index]):
            if step.id not in self.passed_over and (found := self.unsettled(step)):
                return index, found[0][1]
        return None

    def phase(self) -> Phase:
        if self.ended:
            return Phase.ENDED
        if self.standing_by:
            return Phase.STAND_BY
        if self.stopping:
            return Phase.STOPPING
        if self.read_back:
            return Phase.READ_BACK
        if self.question:
            return Phase.ASKED
        if self.held():
            return Phase.HOLD
        if self.failed():
            return Phase.FAILED
        if self.waits():
            return Phase.READING
        if self.looks_wanted() or self.looks_bad():
            return Phase.LOOK
        if self.step.gate and self.open_at_gate():
            return Phase.GATE
        if self.closes():
            return Phase.CLOSE
        return Phase.READY

    def expected(self) -> Expected:
        """What the ears and the parser are told."""
        # Before a reading that keeps the step open is settled, no other is taken.
        waits = () if self.failed() else self.waits()
        wanted = tuple(self.sheet.readings[r].points - len(self.taken_at(self.step.id, r).points) for r in waits)
        last = self.last_reading[1] if self.last_reading else None
        question = self.question
        options = question.options if question else ()
        correctable = tuple(dict.fromkeys(reading for (_, reading), t in self.taken.items() if t.points))
        # What was asked about is what a number without a name answers.
        names = {question.name} if question and question.name else {id_of(option) for option in options}
        asked = next(iter(names)) if len(names) == 1 else None
        corrects = (asked or last) if question and question.is_about_correction else None
        return Expected(
            sheet=self.sheet,
            step=self.step,
            waits=waits,
            points_wanted=wanted,
            hold=self.held(),
            looks=self.looks_wanted() or self.looks_bad(),
            correctable=correctable,
            last_reading=last,
            asked_for=asked if asked in waits else waits[0] if waits else None,
            has_failed=bool(self.failed() or self.looks_bad()),
            wear=self.wear(),
            earlier=self.earlier,
            corrects=corrects if corrects in correctable else None,
            choices=options if question and question.asks is Asks.WHICH_NAME else (),
            retakes=self.retakes(),
        )
