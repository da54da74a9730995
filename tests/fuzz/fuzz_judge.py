"""The judge: what a session may do, read from the documents alone. It imports nothing of the program.

It folds a journal's raw JSON lines by its own rules, in exact fractions, and knows for each turn which line was typed
and what was said. `Broken` names the promise (README, docs) that does not hold.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from fuzz_sheets import Plan, Reading, Step

PART, RENEWED = "part", "renew"


class Broken(BaseException):
    """A promise does not hold. The program's own `except Exception` must not swallow it."""


def must(holds: object, what: str) -> None:
    if not holds:
        raise Broken(what)


# -- the file


@dataclass
class Place:
    """How far a journal was read: lines, bytes, the last line's hash."""

    lines: int = 0
    size: int = 0
    digest: str = "0" * 64


def whole_lines(raw: bytes, place: Place) -> list[dict[str, Any]]:
    """Lines of whole decisions after `place`, which moves on. Each line carries the hash of the one before."""
    lines: list[dict[str, Any]] = []
    whole, position, previous = 0, 0, place.digest
    start, before = place.size, place.lines
    while (end := raw.find(b"\n", position)) >= 0:
        body = json.loads(raw[position : end + 1])
        digest = body.pop("hash")
        text = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        must(hashlib.sha256(text.encode()).hexdigest() == digest, "journal: a line's hash is not its own")
        must(body["prev"] == previous, "journal: a line does not carry the hash of the line before")
        must(body["seq"] == before + len(lines), "journal: a number is missing")
        lines.append(body)
        previous, position = digest, end + 1
        if not body.get("more"):
            whole = len(lines)
            place.lines, place.size, place.digest = before + whole, start + position, digest
    return lines[:whole]


# -- one session


@dataclass
class Turn:
    """`line`: what was typed, None where the session began or came back. `numbers`: what it says in figures."""

    line: str | None
    numbers: frozenset[str] = frozenset()
    said: str = ""
    is_cut: bool = False  # the process was killed: nothing was said


@dataclass
class Book:
    """The fold of one journal."""

    plan: Plan
    here: str = ""
    confirmed: set[str] = field(default_factory=set)
    values: dict[str, list[Fraction]] = field(default_factory=dict)
    judged: dict[str, str] = field(default_factory=dict)  # look -> good, doubtful, bad
    decided: dict[str, Any] = field(default_factory=dict)  # what -> the figures that it was made on
    lost: set[str] = field(default_factory=set)  # decisions whose figures have changed in this turn
    register: dict[str, str] = field(default_factory=dict)  # key -> name
    kinds: dict[str, str] = field(default_factory=dict)
    done: set[str] = field(default_factory=set)
    passed: set[str] = field(default_factory=set)
    replaced: set[str] = field(default_factory=set)
    ended: str = ""
    stood_by: bool = False
    last_said: str = ""
    pending: str | None = None  # a hold whose phrase was read back in an earlier turn
    events: list[tuple[int, dict[str, Any]]] = field(default_factory=list)
    withdrawn: set[int] = field(default_factory=set)
    earlier_numbers: list[frozenset[str]] = field(default_factory=list)
    fates: dict[int, str] = field(default_factory=dict)  # what became of a decision, by its number
    last_decision: dict[str, int] = field(default_factory=dict)
    decisions: int = 0
    reopened: int = 0

    # -- the sheet

    def step(self, name: str) -> Step:
        return next(step for step in self.plan.steps if step.id == name)

    def way(self) -> list[Step]:
        """Steps up to here, without those that were passed over."""
        out = []
        for step in self.plan.steps:
            if step.id not in self.passed:
                out.append(step)
            if step.id == self.here:
                return out
        return out

    # -- what is good, decided on, open

    def limits(self, reading: Reading) -> tuple[Fraction | None, Fraction | None] | None:
        low, high = reading.low, reading.high
        if reading.marking:
            marked = self.values.get(reading.marking)
            if marked and reading.rows:
                row = [pair for key, pair in reading.rows.items() if Fraction(key) == marked[-1]]
                low, high = row[0] if row else (None, None)
            elif marked:
                return (None, marked[-1])
            elif reading.rows:
                return None
        return (None if low is None else Fraction(low), None if high is None else Fraction(high))

    def others(self, reading: Reading) -> tuple[Fraction, ...]:
        return tuple(self.values.get(reading.pair, ())) if reading.pair and reading.within else ()

    def is_whole(self, name: str) -> bool:
        return len(self.values.get(name, ())) == self.plan.readings[name].points

    def differ_little(self, a: Fraction, b: Fraction, most: str, doubt: str) -> bool:
        """Proved only inside of the limit less the doubt of a difference: both errors, root of the sum of squares."""
        margin = Fraction(most) - abs(a - b)
        return margin >= 0 and margin**2 >= 2 * Fraction(doubt) ** 2

    def pair_is_good(self, name: str) -> bool:
        one = self.plan.readings[name]
        mine, theirs = self.values.get(name, []), self.others(one)
        if not theirs or not one.within or not self.is_whole(name):
            return True
        return self.differ_little(sum(mine) / len(mine), sum(theirs) / len(theirs), one.within, one.doubt)  # type: ignore[arg-type]

    def is_good(self, name: str) -> bool:
        one, values = self.plan.readings[name], self.values.get(name, [])
        limits, doubt = self.limits(one), Fraction(one.doubt)
        if limits is None:
            return False
        low, high = limits
        inside = all((low is None or v - low >= doubt) and (high is None or high - v >= doubt) for v in values)
        if one.spread and len(values) > 1:
            inside = inside and self.differ_little(max(values), min(values), one.spread, one.doubt)
        return inside and self.pair_is_good(name)

    def figures(self, name: str) -> tuple[Any, ...]:
        one = self.plan.readings[name]
        return (tuple(self.values.get(name, ())), self.limits(one), self.others(one))

    def holds(self, name: str) -> bool:
        """A decision holds for the very figures it was made on. The other side may come later and be good."""
        was = self.decided[name]
        if was == "look":
            return True
        now = self.figures(name)
        return bool(was == now or (was[:2] == now[:2] and not was[2] and self.pair_is_good(name)))

    def is_settled(self, name: str) -> bool:
        return self.is_whole(name) and (self.is_good(name) or name in self.decided)

    def open_holds(self) -> list[str]:
        return [step.id for step in self.way() if step.hold and step.id not in self.confirmed]

    def unsettled(self, steps: list[Step]) -> list[str]:
        """Names of what is wanted or not good."""
        out = [self.plan.readings[r].name for step in steps for r in step.readings if not self.is_settled(r)]
        looks = [look for step in steps for look in step.looks]
        return out + [look for look in looks if self.judged.get(look) != "good" and look not in self.decided]

    def blockers(self) -> list[str]:
        """Names of what keeps the step here from being left."""
        step = self.step(self.here)
        out = [str(self.step(hold).hold) for hold in self.open_holds()]
        out += self.unsettled(self.way())
        out += [self.register[key] for key in step.requires if key in self.register and key not in step.opened]
        out += [self.register[key] for key in step.closed if key in self.register]
        if step.gate:
            out += list(self.register.values())
        return out

    # -- one turn

    def turn(self, turn: Turn, lines: list[dict[str, Any]]) -> None:
        line = turn.line
        pending, was_asked, self.lost = self.pending, self.last_said, set()
        if line not in ("affirm", "say again"):
            self.pending = None
        # "Affirm", or what says what another value is that was asked about.
        is_answer = "What is" in str(was_asked) and line in ("correction", "do it again", "fit new")
        recent = self.earlier_numbers[-8:] if line == "affirm" or is_answer else []
        numbers = turn.numbers.union(*recent)
        self.earlier_numbers.append(turn.numbers)
        refused = []
        for body in lines:
            event, seq = body["event"], body["seq"]
            kind = event["type"]
            must(not self.ended or kind in ("Refused", "Told", "NotUnderstood"), f"the end is the end: {kind}")
            quiet = ("CarriedOn", "SessionResumed", "TimerDue", "HoldReopened", "HoldLapsed", "QuestionClosed")
            must(not self.stood_by or kind in (*quiet, "DecisionReopened"), f"stand by: {kind}")
            if kind == "HoldConfirmed":
                must(line == "affirm" and pending == event["hold"], "a hold passed without its read-back and affirm")
            elif kind == "HoldPhraseHeard":
                hold = self.step(event["hold"]).hold
                must(line == hold, f"a hold's phrase was taken from other words: {line}")
                must(self.open_holds()[:1] == [event["hold"]], "a phrase of another hold was taken")
            elif kind in ("ReadingRecorded", "ReadingCorrected"):
                must(event["value"] in numbers, f"{event['value']} was recorded and nobody said it")
                if kind == "ReadingRecorded":
                    must(not self.open_holds(), "a reading was taken past an open hold")
                    must(event["step"] == self.here, "a reading of another step")
                    must(not self.is_whole(event["reading"]), "a reading was taken over another")
                else:
                    stands = self.values.get(event["reading"], [])
                    at = event["point"]
                    must(at < len(stands) and stands[at] == Fraction(event["was"]), "a correction of another value")
            elif kind == "ReadingDecided":
                must(not self.is_settled_or_look(event["what"]), "decided what is not open")
                must(event["reason"] in str(line) or line == "affirm", "a reason that nobody gave")
                self.decisions += 1
            elif kind == "DecisionReopened":
                must(event["what"] in self.lost, "a decision was reopened and no figure had changed")
                self.reopened += 1
            elif kind == "StepDone":
                must(event["step"] == self.here, "another step was left")
                must(not (found := self.blockers()), f"{self.here} was left with {found} open")
                new = [item for item in self.step(self.here).opened if self.here not in self.done]
                must(all(item in self.register for item in new), f"forgotten: what {self.here} fits or takes off")
            elif kind == "StepPassedOver":
                only = self.step(event["step"]).only_if
                must(only and only not in self.replaced, "a step was passed over without a reason")
            elif kind == "StepOpened" and event["how"] == "next":
                before, place = self.here, [step.id for step in self.plan.steps]
                between = place[place.index(before) + 1 : place.index(event["step"])]
                must(all(step in self.passed for step in between), "steps were left out")
                must(before in self.done, "went on without the step being done")
                needs = [self.register[key] for key in self.step(event["step"]).requires if key in self.register]
                must(not needs, f"went on without {needs}")
            elif kind == "NextRefused":
                refused.append(event["why"])
            elif kind == "JobStopped":
                must(
                    line == "affirm" and "Stop the job unfinished: affirm or negative?" in was_asked,
                    "stopped without being asked back",
                )
            elif kind == "SignedOff":
                must(not self.register, f"signed off with {list(self.register.values())}")
                steps = [step for step in self.plan.steps if step.id not in self.passed]
                must(not (found := self.unsettled(steps)), f"signed off with {found}")
                left = [step.id for step in steps if step.hold and step.id not in self.confirmed]
                must(not left, f"signed off past the holds {left}")
            elif kind == "SessionResumed":
                must(line is None, "resumed in the middle")
            self.events.append((seq, event))
            if kind == "Undone":
                self.withdrawn.add(event["seq"])
                self._fold_anew()
            else:
                self._take(seq, event)
        told = {body["event"]["what"] for body in lines if body["event"]["type"] == "DecisionReopened"}
        must(self.lost <= told, f"a decision's figures changed without a word: {self.lost - told}")
        if not turn.is_cut:
            must(not told or "judged on other figures" in turn.said, "a decision was reopened and nothing was said")
            if refused:
                following = self._needs_of_next()
                open_now = [*self.blockers(), *following]
                must(open_now, f"refused and nothing is open: {refused}")
                named = any(name.lower() in turn.said.lower() for name in open_now)
                must(named, f"refused ({refused}) for what is not named; open: {open_now}; said: {turn.said}")
        self.last_said = turn.said
        if not any(body["event"]["type"] == "HoldPhraseHeard" for body in lines) and line == "affirm":
            self.pending = None

    def is_settled_or_look(self, what: str) -> bool:
        if what in self.plan.looks:
            return self.judged.get(what) in (None, "good") or what in self.decided
        return not self.is_whole(what) or self.is_settled(what)

    def _needs_of_next(self) -> list[str]:
        """What the steps after this one require, and what this one will put into the register at the end."""
        place = [step.id for step in self.plan.steps].index(self.here)
        for step in self.plan.steps[place + 1 :]:
            if step.only_if and step.only_if not in self.replaced:
                continue
            return [self.register[key] for key in step.requires if key in self.register]
        return []

    # -- the fold

    def _fold_anew(self) -> None:
        """All events but those that were withdrawn. What holds a "do it again" opened stays open."""
        kept = ("plan", "events", "withdrawn", "earlier_numbers", "pending", "last_said", "decisions", "reopened")
        values = {name: getattr(self, name) for name in kept}
        lost = self.lost
        fresh = Book(**values)
        for seq, event in self.events:
            if seq in self.withdrawn:
                if event["type"] == "StepRedone":
                    fresh.confirmed -= set(event["steps"])
                continue
            fresh._take(seq, event)
        self.__dict__.update(fresh.__dict__)
        # What an undo brought back is no loss, and what it lost would be one of this turn.
        self.lost = lost

    def _take(self, seq: int, event: dict[str, Any]) -> None:
        act = getattr(self, f"_on_{event['type']}", None)
        if act is not None:
            act(event)
        if event["type"] == "ReadingDecided":
            self.last_decision[event["what"]] = seq
            self.fates[seq] = "stands"
        for name in [name for name in self.decided if not self.holds(name)]:
            del self.decided[name]
            self.lost.add(name)
            self.fates[self.last_decision[name]] = "reopened"
        for name, number in self.last_decision.items():
            if self.fates[number] == "stands" and name not in self.decided:
                self.fates[number] = "superseded"

    def _on_StepOpened(self, event: dict[str, Any]) -> None:
        self.here = event["step"]
        self.passed.discard(self.here)

    def _on_StepDone(self, event: dict[str, Any]) -> None:
        self.done.add(event["step"])

    def _on_StepPassedOver(self, event: dict[str, Any]) -> None:
        self.passed.add(event["step"])

    def _on_StepRedone(self, event: dict[str, Any]) -> None:
        for name in event["steps"]:
            step = self.step(name)
            self.confirmed.discard(name)
            if name in self.done:
                for item in step.closed:
                    self.register.setdefault(item, item.replace("-", " "))
            self.done.discard(name)
            for what in (*step.readings, *step.looks):
                self.decided.pop(what, None)
                self.values.pop(what, None)
                self.judged.pop(what, None)

    def _on_HoldPhraseHeard(self, event: dict[str, Any]) -> None:
        self.pending = event["hold"]

    def _on_HoldConfirmed(self, event: dict[str, Any]) -> None:
        self.confirmed.add(event["hold"])

    def _on_HoldReopened(self, event: dict[str, Any]) -> None:
        self.confirmed.discard(event["hold"])

    def _on_ReadingRecorded(self, event: dict[str, Any]) -> None:
        self.values.setdefault(event["reading"], []).append(Fraction(event["in_limit_unit"]))

    def _on_ReadingCorrected(self, event: dict[str, Any]) -> None:
        self.values[event["reading"]][event["point"]] = Fraction(event["in_limit_unit"])

    def _on_ReadingReopened(self, event: dict[str, Any]) -> None:
        self.decided.pop(event["reading"], None)
        self.values[event["reading"]] = []
        if event["why"] == "replaced":
            self.replaced.add(event["reading"])

    def _on_ReadingDecided(self, event: dict[str, Any]) -> None:
        what = event["what"]
        self.decided[what] = "look" if what in self.plan.looks else self.figures(what)

    def _on_LookJudged(self, event: dict[str, Any]) -> None:
        self.judged[event["look"]] = event["judgement"]
        self.decided.pop(event["look"], None)

    def _on_ItemOpened(self, event: dict[str, Any]) -> None:
        self.register[event["key"]] = event["name"]

    def _on_ItemClosed(self, event: dict[str, Any]) -> None:
        self.register.pop(event["key"], None)

    def _on_StoodBy(self, event: dict[str, Any]) -> None:
        self.stood_by = True

    def _on_CarriedOn(self, event: dict[str, Any]) -> None:
        self.stood_by = False

    def _on_JobStopped(self, event: dict[str, Any]) -> None:
        self.ended = "stopped"

    def _on_SignedOff(self, event: dict[str, Any]) -> None:
        self.ended = "signed-off"

    def _on_SessionResumed(self, event: dict[str, Any]) -> None:
        """Whatever can have changed while nobody watched is asked again, unless its time is over."""
        self.stood_by = False
        self.pending = None
        for step in self.plan.steps:
            if step.hold and step.asks_again and step.until not in self.done:
                self.confirmed.discard(step.id)


# -- the folder


class Judge:
    """All sessions of one folder; one machine, one sheet."""

    def __init__(self, plan: Plan, folder: Path) -> None:
        self.plan, self.folder = plan, folder
        self.books: dict[Path, Book] = {}
        self.read: dict[Path, Place] = {}

    def journals(self) -> list[Path]:
        """Oldest first: the stamp at the end of the name."""
        return sorted(self.folder.glob("*.jsonl"), key=lambda path: path.name.rpartition("--")[2])

    def newest(self) -> Path | None:
        """The session that counts: it begins with its first event, a header alone is nothing."""
        begun = [path for path in self.journals() if path in self.books]
        return begun[-1] if begun else None

    def look(self, turn: Turn, own: Path | None = None) -> Path | None:
        """What the turn has written, judged. `own`: the journal that this process works on; returns it."""
        written = None
        for path in self.journals():
            place = self.read.setdefault(path, Place())
            size = path.stat().st_size
            must(size >= place.size, "a journal has become shorter")
            if size == place.size:
                continue
            is_first = place.lines == 0
            with path.open("rb") as file:
                file.seek(place.size)
                new = whole_lines(file.read(), place)[is_first:]
            if not new:
                continue
            must(own is None or path == own, "a process wrote into another one's journal")
            must(written is None, "one turn wrote into two journals")
            written = path
            book = self.books.setdefault(path, Book(self.plan))
            book.turn(turn, new)
        return written or own

    def record(self, path: Path, record: dict[str, Any]) -> None:
        """What people keep of a session says the same of it."""
        book = self.books[path]
        line, is_signed_off = record["first_line"], book.ended == "signed-off"
        must(line.startswith("Signed off.") == is_signed_off, f"the record says: {line}")
        must(is_signed_off or "NOT TO BE USED" in line, f"the record says: {line}")
        must(is_signed_off or all(name in line for name in book.register.values()), f"the record forgets: {line}")
        numbers = [seq for seq, event in book.events if event["type"] == "ReadingDecided"]
        fates = {seq: "withdrawn" if seq in book.withdrawn else book.fates[seq] for seq in numbers}
        must({row["seq"]: row["state"] for row in record["decisions"]} == fates, f"the record: decisions are {fates}")
        holds = {row["hold"] for row in record["holds"] if row["state"] == "stands"}
        must(holds == book.confirmed, f"the record: confirmed are {book.confirmed}, not {holds}")
        is_open = {row["key"] for row in record["register"] if row["state"] == "open"}
        must(is_open == set(book.register), f"the record: open are {set(book.register)}, not {is_open}")

    def started(self, turn: Turn, is_new: bool) -> Path | None:
        """The first turn of a process."""
        before = self.newest()
        old = self.books[before] if before else None
        path = self.look(turn)
        if path is None:
            return None
        if old is None or is_new or old.ended:
            must(path != before, "an ended session was gone on with")
            if old is not None and old.ended != "signed-off" and not turn.is_cut:
                for name in old.register.values():
                    must(name.lower() in turn.said.lower(), f"forgotten: {name} is open since the session before")
        else:
            must(path == before, "an open session did not come back")
        return path
