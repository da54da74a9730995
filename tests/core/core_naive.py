"""A naive model of a session, written apart from the rules: it sees intents, the clock and the events.

Each check names the invariant of the product's list ("What must always hold") that it stands for.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.intents import Confirmation, Intent, Kind, Question, values_of
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State


class Broken(AssertionError):
    """An invariant does not hold."""


def must(holds: object, what: str) -> None:
    if not holds:
        raise Broken(what)


class Naive:
    def __init__(self, sheet: JobSheet) -> None:
        self.sheet = sheet
        self.steps = {step.id: step for step in sheet.steps}
        self.order = [step.id for step in sheet.steps]
        self.here = self.order[0]
        self.visited: set[str] = set()
        self.confirmed: set[str] = set()
        self.pending: str | None = None  # hold that was read back
        self.pending_ms = 0
        self.last_ms = 0
        self.values: dict[tuple[str, str], list[Fraction]] = {}
        self.decided: dict[tuple[str, str], Any] = {}  # figures that it was made on; "look" for one
        self.looks: dict[tuple[str, str], str] = {}
        self.register: dict[str, str] = {}  # key -> by
        self.timers: dict[str, int] = {}
        self.question: Question | None = None
        self.undone_seq = 0
        self.is_stop_asked = False
        self.ended = ""
        self.seq = 0
        # What undo may touch: seq -> a function that puts back what the event changed.
        self.inverse: dict[int, list[tuple[dict[Any, Any], object, Any]]] = {}

    # -- one turn

    def turn(self, intent: Intent | None, at_ms: int, events: tuple[ev.Event, ...]) -> None:
        """`intent` None: time went by, or a restart."""
        self.was_settled = {(s.id, r) for s in self.sheet.steps for r in s.readings if self._is_settled(s.id, r)}
        said = self._numbers(intent)
        is_affirmed = (
            intent is not None
            and intent.kind is Kind.AFFIRM
            and self.pending is not None
            and self.last_ms <= at_ms < self.pending_ms + 15_000
        )
        pending, is_stop_asked = self.pending, self.is_stop_asked
        is_waiting = pending is not None and self.last_ms <= at_ms < self.pending_ms + 15_000
        for event in events:
            self.seq += 1
            name = type(event).__name__
            if isinstance(event, ev.HoldConfirmed):
                must(
                    is_affirmed and event.hold == pending, "1: a hold passed without its phrase, read back and affirmed"
                )
            if isinstance(event, ev.HoldPhraseHeard):
                must(event.hold in self._phrases(intent), "1: a hold's phrase was noted that nobody said")
            if isinstance(event, ev.JobStopped):
                must(intent and intent.kind is Kind.AFFIRM and is_stop_asked, "3: stopped without being asked back")
            if isinstance(event, ev.ReadingRecorded | ev.ReadingCorrected):
                must(str(event.value) in said, f"4: {event.value} was recorded and nobody said it")
                must(event.in_limit_unit == event.value, "4: the value in the limit's unit is another one")
            getattr(self, f"_{name}", self._nothing)(event, at_ms)
        if events:
            self.last_ms = at_ms
        if is_affirmed:
            must(any(isinstance(e, ev.HoldConfirmed) for e in events), "an affirm in time was not taken")
        if is_waiting and intent is not None and intent.kind is not Kind.REPEAT:
            is_asked_anew = any(isinstance(e, ev.HoldPhraseHeard) for e in events)
            must(self.pending is None or is_asked_anew, "1: a read-back outlived another intent")

    def _phrases(self, intent: Intent | None) -> set[str | None]:
        """Holds whose phrase this intent can stand for: itself, or what was offered and is affirmed now."""
        found = {intent.hold} if isinstance(intent, Confirmation) else set()
        offered = self.question.offered if self.question else None
        if isinstance(offered, Confirmation) and intent and intent.kind is Kind.AFFIRM:
            found.add(offered.hold)
        return found

    def _numbers(self, intent: Intent | None) -> set[str]:
        found: set[str] = set()
        for one in (intent, self.question.offered if self.question else None):
            if one is not None:
                found |= set(map(str, values_of(one)))
        return found

    def _way(self, step: str) -> list[str]:
        """Steps on the way to `step`, it included, that were not passed over."""
        return [s for s in self.order[: self.order.index(step) + 1] if s in self.visited]

    def _no_hold_is_open(self, step: str, what: str) -> None:
        for one in self._way(step):
            hold = self.steps[one].hold
            must(hold is None or hold.id in self.confirmed, f"1: {what} past the open hold of {one}")

    def agrees(self, state: State) -> None:
        """Whether the session's state says what the model says."""
        must(state.confirmed == self.confirmed, "1: other holds are confirmed than were affirmed")
        must(state.read_back == self.pending, "1: another read-back is open")
        held = {
            key: [point.in_limit_unit for point in taken.points] for key, taken in state.taken.items() if taken.points
        }
        must(held == {key: points for key, points in self.values.items() if points}, "2: a reading changed silently")
        must({k: e.by for k, e in state.register.items()} == self.register, "5: the register is another one")
        must({k: due for k, (due, _) in state.timers.items()} == self.timers, "a timer was lost or invented")
        must(state.step.id == self.here, "the session is somewhere else")
        must((state.ended or "") == self.ended, "the end is another one")

    # -- events

    def _nothing(self, event: ev.Event, at_ms: int) -> None:
        return

    def _SessionResumed(self, event: ev.SessionResumed, at_ms: int) -> None:
        self.pending_after_restart = self.pending

    def _StepOpened(self, event: ev.StepOpened, at_ms: int) -> None:
        if event.how == "next":
            self._no_hold_is_open(self.here, "went on")
            for step in self._way(self.here):
                self._is_all_settled(step, "went on")
            must(
                not set(self.steps[self.here].requires) & set(self.register) - set(self.steps[self.here].opens),
                "5: went on without what this step needs",
            )
        self.here = event.step
        self.visited.add(event.step)
        self.pending, self.question = None, None

    def _StepPassedOver(self, event: ev.StepPassedOver, at_ms: int) -> None:
        self.visited.discard(event.step)

    def _StepDone(self, event: ev.StepDone, at_ms: int) -> None:
        must(event.step == self.here, "a step was done where nobody is")
        self._no_hold_is_open(event.step, "a step was done")
        for reading in self.steps[event.step].readings:
            must(self._is_settled(event.step, reading), f"5: left {event.step} with {reading} open")
        for look in self.steps[event.step].looks:
            must(
                self.looks.get((event.step, look)) == "good" or (event.step, look) in self.decided, "5: a look is open"
            )

    def _HoldPhraseHeard(self, event: ev.HoldPhraseHeard, at_ms: int) -> None:
        self.pending, self.pending_ms = event.hold, at_ms

    def _HoldLapsed(self, event: ev.HoldLapsed, at_ms: int) -> None:
        self.pending = None

    def _HoldConfirmed(self, event: ev.HoldConfirmed, at_ms: int) -> None:
        self.pending = None
        self.confirmed.add(event.hold)

    def _HoldReopened(self, event: ev.HoldReopened, at_ms: int) -> None:
        must(event.hold in self.confirmed, "a hold was reopened that was open")
        self.confirmed.discard(event.hold)

    def _StepRedone(self, event: ev.StepRedone, at_ms: int) -> None:
        must(self.here in event.steps, "do it again did not reopen this step")
        for step in self.sheet.steps:
            if set(step.needs) & set(event.steps):
                must(step.id in event.steps, f"do it again forgot {step.id}")
        for step_id in event.steps:
            hold = self.steps[step_id].hold
            if hold:
                self.confirmed.discard(hold.id)
        # It can be withdrawn as a whole, but for the holds; what was said before it no more.
        self.inverse.clear()
        self.inverse[self.seq] = []
        books: tuple[dict[tuple[str, str], Any], ...] = (self.values, self.decided, self.looks)
        for book in books:
            for key in [key for key in book if key[0] in event.steps]:
                self._remember(book, key)
                del book[key]
        for item in event.items:
            self._remember(self.register, item)
            self.register[item] = "redo"

    def _ReadingRecorded(self, event: ev.ReadingRecorded, at_ms: int) -> None:
        must(event.step == self.here, "a reading of another step")
        self._no_hold_is_open(event.step, "a reading was taken")
        key = (event.step, event.reading)
        points = self.values.setdefault(key, [])
        must(event.point == len(points), "2: a point was skipped or taken twice")
        self._remember(self.values, key)
        self.values[key] = [*points, Fraction(event.value)]

    def _ReadingCorrected(self, event: ev.ReadingCorrected, at_ms: int) -> None:
        key = (event.step, event.reading)
        must(self.values[key][event.point] == Fraction(event.was), "2: a correction names another old value")
        self._remember(self.values, key)
        self.values[key] = [*self.values[key]]
        self.values[key][event.point] = Fraction(event.value)

    def _ReadingReopened(self, event: ev.ReadingReopened, at_ms: int) -> None:
        key = (event.step, event.reading)
        # As it stood when the decision was made: left and right that differ too much are both measured again.
        # The one that goes with it: what was marked on a part that is replaced says nothing about the new one.
        is_on_the_part = event.why == "replaced" and any(
            spec.limit.from_marking == event.reading and (event.step, r) not in self.was_settled
            for r, spec in self.sheet.readings.items()
        )
        must(key not in self.was_settled or is_on_the_part, "2: a settled reading was thrown away")
        self._remember(self.values, key)
        self.values[key] = []

    def _ReadingDecided(self, event: ev.ReadingDecided, at_ms: int) -> None:
        must(event.reason, "5: decided without a reason")
        key = (event.step, event.what)
        is_look = self.looks.get(key, "good") != "good" and key not in self.values
        self._remember(self.decided, key)
        self.decided[key] = "look" if is_look else self._figures(*key)

    def _DecisionReopened(self, event: ev.DecisionReopened, at_ms: int) -> None:
        key = (event.step, event.what)
        must(key in self.decided, "8: a decision was reopened that nobody made")
        must(self.decided[key] != self._figures(*key), "8: a decision was reopened and no figure had changed")
        # It comes back with the change that reopened it.
        book = self.inverse.get(max(self.inverse, default=0))
        if book is not None and not any(one is self.decided and k == key for one, k, _ in book):
            book.append((self.decided, key, self.decided[key]))
        del self.decided[key]

    def _LookJudged(self, event: ev.LookJudged, at_ms: int) -> None:
        self._no_hold_is_open(event.step, "a look was judged")
        key = (event.step, event.look)
        self._remember(self.looks, key)
        self._remember(self.decided, key)
        self.looks[key] = event.judgement
        self.decided.pop(key, None)

    def _ItemOpened(self, event: ev.ItemOpened, at_ms: int) -> None:
        if event.by == "voice":
            must(event.key not in self.register, "an item was opened twice")
            self._remember(self.register, event.key)
        self.register[event.key] = event.by

    def _ItemClosed(self, event: ev.ItemClosed, at_ms: int) -> None:
        must(event.key in self.register, "an item was closed that was not open")
        self._remember(self.register, event.key)
        del self.register[event.key]

    def _NoteTaken(self, event: ev.NoteTaken, at_ms: int) -> None:
        self.inverse[self.seq] = []

    def _TimerSet(self, event: ev.TimerSet, at_ms: int) -> None:
        self._remember(self.timers, event.key)
        self.timers[event.key] = event.due_ms

    def _TimerDue(self, event: ev.TimerDue, at_ms: int) -> None:
        must(self.timers.pop(event.key) <= at_ms, "a timer went off too early")

    def _Asked(self, event: ev.Asked, at_ms: int) -> None:
        self.question = event.question

    def _QuestionClosed(self, event: ev.QuestionClosed, at_ms: int) -> None:
        self.question, self.is_stop_asked = None, False

    def _StoodBy(self, event: ev.StoodBy, at_ms: int) -> None:
        self.question = None

    def _StopAsked(self, event: ev.StopAsked, at_ms: int) -> None:
        self.question, self.is_stop_asked = None, True

    def _JobStopped(self, event: ev.JobStopped, at_ms: int) -> None:
        self.ended = "stopped"

    def _SignedOff(self, event: ev.SignedOff, at_ms: int) -> None:
        must(not self.register, f"5: signed off with {sorted(self.register)} open")
        for step in self._way(self.order[-1]):
            self._no_hold_is_open(step, "signed off")
            self._is_all_settled(step, "signed off")
        self.ended = "signed-off"

    def _Undone(self, event: ev.Undone, at_ms: int) -> None:
        must(event.seq in self.inverse, "undo of something that is no change of the person's")
        # A marking's goes with that of the part that it is on.
        is_with_another = event.what == "replaced" and bool(self.inverse) and event.seq + 1 == self.undone_seq
        must(event.seq == max(self.inverse) or is_with_another, "undo of another change than the last")
        self.undone_seq = event.seq
        for book, key, old in reversed(self.inverse.pop(event.seq)):
            is_steps_own = book is self.register and book.get(key) == "step"
            if is_steps_own:
                continue
            if old is None:
                book.pop(key, None)
            else:
                book[key] = old

    def _remember(self, book: dict[Any, Any], key: object) -> None:
        old = book.get(key)
        old = list(old) if isinstance(old, list) else old
        self.inverse.setdefault(self.seq, []).append((book, key, old))

    def _is_all_settled(self, step: str, what: str) -> None:
        for reading in self.steps[step].readings:
            later = self.order[self.order.index(step) + 1 :]
            if any(self.values.get((one, reading)) for one in later):
                continue  # as found; the one taken later counts
            must(self._is_settled(step, reading), f"5: {what} with {reading} open")
        for look in self.steps[step].looks:
            must(self.looks.get((step, look)) == "good" or (step, look) in self.decided, f"5: {what} with a look open")

    # -- what is settled, in exact fractions (decision rule of ISO 14253-1: guard band of U on both sides)

    def _is_settled(self, step: str, reading: str) -> bool:
        spec = self.sheet.readings[reading]
        points = self.values.get((step, reading), [])
        if len(points) < spec.points:
            return False
        if (step, reading) in self.decided:
            return self._holds(step, reading)
        return self._is_good(step, reading)

    def _others(self, reading: str) -> list[Fraction]:
        spec = self.sheet.readings[reading]
        others = [v for (_, name), v in self.values.items() if name == spec.pair and v]
        return others[-1] if others and spec.pair_within is not None else []

    def _figures(self, step: str, reading: str) -> tuple[Any, ...]:
        spec = self.sheet.readings[reading]
        marked = [v for (_, name), v in self.values.items() if name == spec.limit.from_marking and v]
        return (
            tuple(self.values.get((step, reading), ())),
            marked[-1][-1] if marked else None,
            tuple(self._others(reading)),
        )

    def _holds(self, step: str, reading: str) -> bool:
        """Product invariant 8: for the very figures; the other side that was not known then may come and be good."""
        was, now = self.decided[step, reading], self._figures(step, reading)
        return bool(was == now or (was[:2] == now[:2] and not was[2] and self._pair_is_good(step, reading)))

    def _pair_is_good(self, step: str, reading: str) -> bool:
        spec, points, others = self.sheet.readings[reading], self.values[step, reading], self._others(reading)
        difference = abs(sum(points, Fraction(0)) / len(points) - sum(others, Fraction(0)) / len(others))
        return self._differ_little(Fraction(spec.pair_within or 0) - difference, Fraction(spec.uncertainty))

    def _is_good(self, step: str, reading: str) -> bool:
        spec = self.sheet.readings[reading]
        points = self.values[step, reading]
        low = None if spec.limit.low is None else Fraction(spec.limit.low)
        high = None if spec.limit.high is None else Fraction(spec.limit.high)
        if spec.limit.from_marking:
            marked = [v for (_, name), v in self.values.items() if name == spec.limit.from_marking and v]
            if marked:
                high = marked[-1][-1]
        guard = Fraction(spec.uncertainty)
        is_good = all(
            (low is None or point - low >= guard) and (high is None or high - point >= guard) for point in points
        )
        if spec.spread is not None and len(points) > 1:
            is_good = is_good and self._differ_little(Fraction(spec.spread) - (max(points) - min(points)), guard)
        if self._others(reading):
            is_good = is_good and self._pair_is_good(step, reading)
        return bool(is_good)

    @staticmethod
    def _differ_little(margin: Fraction, guard: Fraction) -> bool:
        """A difference has the doubt of both: margin >= guard times the root of two, in exact numbers."""
        return margin >= 0 and margin * margin >= 2 * guard * guard
