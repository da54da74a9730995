"""The rules as short fixed checks without files, sound or parser. `test_rules` runs each; `test_mutations` runs them
all against a core with a small fault put in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from random import Random
from typing import Any

from core_naive import Naive
from core_talk import random_sheet, random_talk

from bench_voice.core import cells, replies
from bench_voice.core import decide as d
from bench_voice.core import events as ev
from bench_voice.core.apply import UNDO_DEPTH, apply
from bench_voice.core.cases import Basis, Hindrance, Refusal, Stage
from bench_voice.core.flat import Flat, intent_of
from bench_voice.core.history import Series
from bench_voice.core.intents import Asks, Intent, Kind, Measurement, Question
from bench_voice.core.sheet import JobSheet, Limit, LimitRow
from bench_voice.core.state import Phase, State
from bench_voice.core.verdict import Verdict, judge, judge_points, shown
from bench_voice.testing import reading, small_sheet, step

RULES: list[Callable[[], None]] = []


def rule(function: Callable[[], None]) -> Callable[[], None]:
    RULES.append(function)
    return function


class Talk:
    """A session by its rules alone."""

    def __init__(self, sheet: JobSheet) -> None:
        self.state, self.ms, self.events = State(sheet), 1_000_000, []  # type: State, int, list[ev.Event]
        self._take(d.begin(self.state))

    def _take(self, events: d.Events) -> tuple[str, ...]:
        said = replies.after(self.state.at(self.ms), events)
        self.keys = [one.key for one in said]
        for event in events:
            self.state = apply(self.state, event, self.ms)
        self.events.extend(events)
        return tuple(type(event).__name__ for event in events)

    def say(
        self, kind: Kind, name: str | None = None, value: str | None = None, text: str = "", **more: Any
    ) -> tuple[str, ...]:
        amount = Decimal(value) if value else None
        heard = text or kind.value
        intent = intent_of(Flat(kind, name=name, value=amount, in_limit_unit=amount, text=text, heard=heard, **more))
        self.ms += 1
        return self._take(d.decide(self.state, intent, self.ms))

    def wait(self, seconds: float) -> tuple[str, ...]:
        self.ms += int(seconds * 1000)
        return self._take(d.tick(self.state, self.ms))

    def restart(self) -> tuple[str, ...]:
        return self._take(d.resume(self.state, self.ms))

    def confirm(self, hold: str) -> None:
        assert self.say(Kind.CONFIRM, hold) == ("HoldPhraseHeard",)
        assert self.say(Kind.AFFIRM) == ("HoldConfirmed",)

    def measure(self, *values: str) -> None:
        for value in values:
            assert self.say(Kind.READING, value=value) == ("ReadingRecorded",), value

    def last(self) -> ev.Event:
        return self.events[-1]


def held() -> Talk:
    return Talk(
        small_sheet(
            step("block", hold="confirm both wheels are blocked"),
            step("stands", hold="confirm it is on stands", until="lower"),
            step("work"),
            step("lower", hold="confirm nobody is below", again=False),
            step("end", gate=True),
        )
    )


def worn() -> Talk:
    return Talk(
        small_sheet(
            step("measure", readings=["wear"]),
            step("shoes", only_if="wear", hold="confirm the new shoes lie flat", needs=["measure"]),
            step("end", gate=True),
            readings=[reading("wear", low="2.0", points=2, uncertainty="0.1")],
        )
    )


def rebuilt() -> Talk:
    return Talk(
        small_sheet(
            step("strip", opens=["spacer", "tape", "pin"]),
            step("spacer-in", closes=["spacer"]),
            step("hub", requires=["spacer"], needs=["spacer-in"], hold="confirm the hub turns freely"),
            step("end", gate=True, closes=["tape"]),
            parts=["spacer"],
            temporary=["tape"],
            renew=["pin"],
        )
    )


# -- holds


@rule
def nothing_else_passes_a_hold() -> None:
    talk = held()
    for kind in Kind:
        if kind in (Kind.STAND_BY, Kind.STOP):
            continue
        talk.say(kind, text="block")
        assert talk.say(Kind.NEXT) == ("NextRefused",) or talk.state.question or talk.state.step.id == "block"
        assert not talk.state.confirmed
    assert talk.say(Kind.CONFIRM, "stands") == ("Refused",)
    talk.say(Kind.AFFIRM)
    assert not talk.state.confirmed
    assert talk.state.step.id == "block"


@rule
def the_phrase_alone_does_not_pass_and_anything_else_lapses() -> None:
    talk = held()
    talk.say(Kind.CONFIRM, "block")
    assert talk.state.phase() is Phase.READ_BACK
    assert talk.say(Kind.REPEAT) == ("Told",)
    assert talk.keys == ["read-back"]
    assert talk.say(Kind.NEXT)[:1] == ("HoldLapsed",)
    talk.say(Kind.CONFIRM, "block")
    assert talk.say(Kind.NEGATIVE) == ("HoldLapsed",)
    assert talk.say(Kind.AFFIRM) == ("Refused",)
    talk.say(Kind.CONFIRM, "block")
    assert talk.say(Kind.CONFIRM, "block") == ("HoldLapsed", "HoldPhraseHeard")
    assert talk.say(Kind.AFFIRM) == ("HoldConfirmed",)
    assert talk.say(Kind.CONFIRM, "block") == ("Refused",)
    assert talk.say(Kind.NEXT) == ("StepDone", "StepOpened")


@rule
def fifteen_seconds_lapse_a_read_back() -> None:
    talk = held()
    talk.say(Kind.CONFIRM, "block")
    assert talk.wait(14.999) == ()
    assert talk.wait(0.001) == ("HoldLapsed",)
    talk.say(Kind.CONFIRM, "block")
    talk.ms += 14_999
    assert talk.say(Kind.AFFIRM) == ("HoldLapsed", "Refused"), "the affirm itself comes too late"
    talk.say(Kind.CONFIRM, "block")
    talk.ms += 14_998
    assert talk.say(Kind.AFFIRM) == ("HoldConfirmed",)


@rule
def a_clock_that_jumps_back_lapses_a_read_back_and_no_more() -> None:
    talk = held()
    talk.say(Kind.CONFIRM, "block")
    talk.ms -= 3_600_000
    assert talk.say(Kind.AFFIRM) == ("HoldLapsed", "Refused")
    talk.confirm("block")
    assert talk.state.at_ms > talk.ms, "time never runs back inside"


@rule
def a_restart_asks_again_what_can_have_changed() -> None:
    talk = held()
    talk.confirm("block")
    talk.say(Kind.NEXT)
    talk.confirm("stands")
    talk.say(Kind.NEXT)
    assert talk.restart() == ("SessionResumed", "HoldReopened", "HoldReopened")
    assert talk.state.step.id == "work"
    # Where the work is, one after the other, the first one first.
    assert talk.say(Kind.CONFIRM, "stands") == ("Refused",)
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    talk.confirm("block")
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    talk.confirm("stands")
    talk.say(Kind.NEXT)
    talk.confirm("lower")
    talk.say(Kind.NEXT)
    assert talk.restart() == ("SessionResumed", "HoldReopened"), "lowered: the stands are not asked about any more"
    assert "resumed-confirmed" in talk.keys
    assert talk.state.confirmed == {"stands", "lower"}


@rule
def a_restart_closes_what_was_being_asked() -> None:
    talk = held()
    talk.say(Kind.CONFIRM, "block")
    assert "HoldLapsed" in talk.restart()
    assert talk.say(Kind.AFFIRM) == ("Refused",)
    talk.say(Kind.STOP)
    assert "QuestionClosed" in talk.restart()
    assert talk.say(Kind.AFFIRM) == ("Refused",)
    talk.say(Kind.STAND_BY)
    talk.restart()
    assert talk.state.phase() is Phase.HOLD


@rule
def going_back_asks_a_hold_again_where_it_can_have_changed() -> None:
    talk = held()
    talk.confirm("block")
    talk.say(Kind.NEXT)
    assert talk.say(Kind.BACK) == ("HoldReopened", "StepOpened")
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.say(Kind.BACK) == ("Refused",)


@rule
def undo_never_unpasses_a_hold_that_was_acted_upon_nor_passes_one() -> None:
    talk = held()
    talk.confirm("block")
    assert talk.say(Kind.UNDO) == ("HoldReopened",)
    assert talk.keys == ["undone-hold", "want-hold"]
    assert talk.say(Kind.UNDO) == ("Refused",), "no undo of the undo"
    talk.confirm("block")
    talk.say(Kind.NOTE, text="dry")
    talk.say(Kind.NEXT)
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert talk.say(Kind.UNDO) == ("Refused",)
    assert talk.state.confirmed == {"block"}


# -- readings


@rule
def a_failed_reading_keeps_the_step_open_until_it_is_settled() -> None:
    talk = worn()
    talk.measure("1.0")
    assert talk.state.phase() is Phase.READING, "as found is kept whole"
    talk.measure("3.0")
    assert talk.state.phase() is Phase.FAILED
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.say(Kind.READING, value="3") == ("Asked",), "a slip, a new part, or measured again?"
    assert talk.say(Kind.NEGATIVE) == ("QuestionClosed",)
    assert talk.say(Kind.JUDGED) == ("Refused",), "no reason"
    assert talk.say(Kind.REDO) == ("ReadingReopened",)
    talk.measure("3.0", "2.05")
    assert talk.state.failed() == ("wear",), "borderline counts as failed"
    assert talk.say(Kind.JUDGED, text="within what the foreman allows") == ("ReadingDecided",)
    assert talk.say(Kind.NEXT) == ("StepDone", "StepPassedOver", "StepOpened")
    assert talk.say(Kind.NEXT) == ("StepDone", "SignedOff")


@rule
def a_replaced_part_is_measured_as_left_and_opens_its_step() -> None:
    talk = worn()
    talk.measure("1.0", "1.1")
    assert talk.say(Kind.REPLACE, "other") == ("Refused",)
    assert talk.say(Kind.REPLACE) == ("ReadingReopened",)
    talk.measure("4.9", "5.0")
    assert [e.stage for e in talk.events if isinstance(e, ev.ReadingRecorded)] == [Stage.AS_FOUND] * 2 + ["as-left"] * 2
    assert talk.say(Kind.REPLACE) == ("Refused",)
    assert talk.say(Kind.NEXT) == ("StepDone", "StepOpened")
    assert talk.state.step.id == "shoes"


@rule
def a_step_passed_over_holds_again_once_it_applies() -> None:
    talk = worn()
    talk.measure("3.0", "3.0")
    assert "StepPassedOver" in talk.say(Kind.NEXT)
    assert talk.say(Kind.BACK) == ("StepOpened",)
    assert talk.state.step.id == "measure"
    talk.say(Kind.CORRECTION, value="1.0")
    talk.say(Kind.REPLACE)
    talk.measure("3.0", "3.0")
    assert talk.say(Kind.NEXT) == ("StepDone", "StepOpened")
    assert talk.say(Kind.NEXT) == ("NextRefused",), "its hold counts"
    assert talk.state.phase() is Phase.HOLD


@rule
def a_correction_adds_and_the_first_value_stays_in_the_journal() -> None:
    talk = worn()
    talk.measure("3.0")
    assert talk.say(Kind.CORRECTION, value="3.50") == ("ReadingCorrected",)
    last = talk.last()
    assert isinstance(last, ev.ReadingCorrected)
    assert (str(last.was), str(last.value), last.verdict) == ("3.0", "3.50", "good")
    assert len(talk.state.taken_at("measure", "wear").points) == 1
    talk.measure("3.1")
    assert talk.say(Kind.CORRECTION, "wear", value="1.0") == ("ReadingCorrected",)
    assert [str(v) for v in talk.state.taken_at("measure", "wear").values] == ["3.50", "1.0"]
    talk.say(Kind.JUDGED, text="ok")
    talk.say(Kind.CORRECTION, value="0.9")
    assert talk.state.failed() == ("wear",), "what was decided on was another value"
    assert talk.say(Kind.CORRECTION) == ("Asked",)
    assert talk.say(Kind.CORRECTION, "other", value="1") == ("QuestionClosed", "Refused")
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert [str(v) for v in talk.state.taken_at("measure", "wear").values] == ["3.50", "1.0"]
    assert talk.state.failed() == ()


@rule
def a_correction_after_leaving_a_step_keeps_it_from_being_built_over() -> None:
    talk = worn()
    talk.measure("3.0", "3.0")
    talk.say(Kind.NEXT)
    talk.say(Kind.CORRECTION, "wear", value="0.5")
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.last() == ev.NextRefused("end", Hindrance.BEFORE, "wear")
    assert talk.state.phase() is Phase.GATE
    assert talk.state.open_at_gate() == (("reading", "wear"),)
    talk.say(Kind.BACK)
    talk.say(Kind.JUDGED, text="ok")
    assert talk.say(Kind.NEXT) == ("StepDone", "StepPassedOver", "StepOpened")
    assert talk.say(Kind.NEXT) == ("StepDone", "SignedOff")


@rule
def what_is_withdrawn_at_an_earlier_step_is_taken_again_there() -> None:
    talk = worn()
    talk.measure("3.0", "3.0")
    talk.say(Kind.NEXT)
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.last() == ev.NextRefused("end", Hindrance.BEFORE, "wear")


@rule
def several_points_in_one_breath() -> None:
    talk = worn()
    assert talk.say(Kind.READING, values=(Decimal(3), Decimal(4), Decimal(5))) == ("Asked",), "one too many"
    assert talk.say(Kind.READING, values=(Decimal(3), Decimal(4)))[-2:] == ("ReadingRecorded",) * 2
    assert [e.point for e in talk.events if isinstance(e, ev.ReadingRecorded)] == [0, 1]
    assert talk.say(Kind.READING, value="4") == ("Refused",), "the same value once more"
    assert talk.say(Kind.READING, "wear", value="3") == ("Asked",)


@rule
def another_value_is_asked_about_and_taken_as_what_the_answer_says() -> None:
    answers = {
        (Kind.CORRECTION,): ("QuestionClosed", "ReadingCorrected"),
        (Kind.REDO,): ("QuestionClosed", "ReadingReopened", "ReadingRecorded"),
        (Kind.REPLACE,): ("QuestionClosed", "ReadingReopened", "ReadingRecorded"),
    }
    for (kind,), events in answers.items():
        talk = worn()
        talk.measure("3.0", "1.0")
        assert talk.say(Kind.READING, value="4") == ("Asked",)
        assert talk.say(kind) == events
        assert talk.last().value == Decimal(4), kind  # type: ignore[union-attr]  # a value was taken last
    talk = worn()
    talk.measure("3.0", "1.0")
    talk.say(Kind.READING, value="4")
    assert talk.say(Kind.NEXT) == ("QuestionClosed", "NextRefused"), "no answer takes nothing"
    assert [point.value for point in talk.state.taken_at("measure", "wear").points] == [Decimal("3.0"), Decimal("1.0")]


@rule
def verdicts_by_the_decision_rule_of_iso_14253_1() -> None:
    """Conformity only inside the limits narrowed by U, non-conformity only outside the limits widened by U."""
    u, both = Decimal("0.1"), Limit("mm", Decimal("2.0"), Decimal("3.0"))
    cases = {"2.1": "good", "2.09": "borderline", "1.9": "borderline", "1.89": "out", "2.9": "good",
             "2.91": "borderline", "3.1": "borderline", "3.11": "out"}  # fmt: skip
    for value, verdict in cases.items():
        assert judge(Decimal(value), both, u).verdict == verdict, value
    assert judge(Decimal("2.0"), both).verdict is Verdict.GOOD
    assert judge(Decimal("1.999999"), both).verdict is Verdict.OUT
    assert judge(Decimal(7), Limit("mm")).verdict is Verdict.NOTED
    assert judge(Decimal("2.2"), both).side == "low"
    spread = reading("play", "0", "9", spread="0.4", points=2)
    assert judge_points((Decimal("2"), Decimal("2.4")), spread.limit, spread).verdict is Verdict.GOOD
    assert judge_points((Decimal("2"), Decimal("2.5")), spread.limit, spread).side == "spread"
    assert judge_points((), spread.limit, spread).verdict is Verdict.NOTED
    # A difference carries U times the root of two (GUM 5.1.2): 0.4 less 0.1414… is the last good one.
    doubtful = reading("play", "0", "9", spread="0.4", points=2, uncertainty="0.1")
    for value, verdict in {"2.25": "good", "2.26": "borderline", "2.54": "borderline", "2.55": "out"}.items():
        assert judge_points((Decimal(2), Decimal(value)), doubtful.limit, doubtful).verdict == verdict, value
    assert shown(Decimal("0.259"), Decimal("4.6")) == Decimal("0.2"), "rounded toward less margin"
    assert shown(Decimal("-0.251"), Decimal("4.6")) == Decimal("-0.3")
    assert shown(Decimal("2"), Decimal("4.60")) == Decimal("2")


@rule
def left_and_right_are_compared_and_a_marking_is_the_limit() -> None:
    sheet = small_sheet(
        step("left", readings=["l"]),
        step("right", readings=["r"]),
        step("drum", readings=["mark", "drum"]),
        step("end", gate=True),
        readings=[
            reading("l", low="1"), reading("r", low="1", pair="l", pair_within="0.5"),
            reading("mark", is_marking=True), reading("drum", high="203", from_marking="mark"),
        ],
    )  # fmt: skip
    talk = Talk(sheet)
    talk.measure("3.0")
    talk.say(Kind.NEXT)
    talk.measure("3.6")
    assert talk.state.verdict_at("right", "r").side == "pair"
    assert talk.state.failed() == ("r",)
    talk.say(Kind.CORRECTION, value="3.5")
    assert talk.say(Kind.NEXT)[-1] == "StepOpened"
    talk.measure("202")
    talk.measure("202.5")
    assert talk.state.failed() == ("drum",), "what is marked on the part counts, not the sheet's 203"


@rule
def a_look_counts_like_a_reading() -> None:
    talk = Talk(small_sheet(step("look", looks=["cable"]), step("end", gate=True), looks=["cable"]))
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.say(Kind.JUDGEMENT, text="fine") == ("Refused",)
    assert talk.say(Kind.JUDGEMENT, "other", text="good") == ("Refused",)
    assert talk.say(Kind.JUDGEMENT, text="doubtful", detail="a crack at the edge") == ("LookJudged",)
    last = talk.last()
    assert isinstance(last, ev.LookJudged)
    assert last.note == "a crack at the edge"
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.state.phase() is Phase.LOOK
    assert talk.say(Kind.JUDGED, text="to be watched") == ("ReadingDecided",)
    assert talk.state.looked == {("look", "cable"): ("doubtful", "to be watched")}
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert talk.say(Kind.JUDGEMENT, text="good") == ("LookJudged",)
    assert talk.say(Kind.JUDGEMENT, text="good") == ("Refused",)
    talk.say(Kind.NEXT)
    assert talk.say(Kind.NEXT) == ("StepDone", "SignedOff")


# -- register and gate


@rule
def the_order_trap_is_caught_before_the_step() -> None:
    talk = rebuilt()
    talk.say(Kind.NEXT)
    assert set(talk.state.register) == {"spacer", "tape", "pin"}
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.last() == ev.NextRefused("spacer-in", Hindrance.CLOSE, "spacer")
    assert talk.say(Kind.PUT_BACK, "spacer") == ("ItemClosed",)
    talk.say(Kind.UNDO)
    assert "spacer" in talk.state.register
    talk.say(Kind.PUT_BACK, "spacer")
    talk.say(Kind.REMOVED, "spacer")
    sheet = small_sheet(
        step("off", opens=["spacer"]), step("hub", requires=["spacer"]), step("end", gate=True), parts=["spacer"]
    )
    trap = Talk(sheet)
    assert trap.say(Kind.NEXT) == ("NextRefused",), "it would be off when the hub goes on"
    assert trap.last() == ev.NextRefused("off", Hindrance.REQUIRES, "spacer")


@rule
def what_a_step_needs_is_not_withdrawn_behind_its_back() -> None:
    talk = rebuilt()
    for intent in (Kind.NEXT, Kind.NEXT):
        talk.say(intent)
    talk.say(Kind.PUT_BACK, "spacer")
    talk.say(Kind.NEXT)
    assert talk.state.step.id == "hub"
    talk.say(Kind.UNDO)
    talk.confirm("hub")
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.last() == ev.NextRefused("hub", Hindrance.REQUIRES_NOW, "spacer")
    talk.say(Kind.PUT_BACK, "spacer")
    assert talk.say(Kind.NEXT) == ("StepDone", "StepOpened")


@rule
def the_gate_names_each_open_item_and_each_has_its_own_words() -> None:
    talk = rebuilt()
    talk.say(Kind.REMINDER, text="grease the hitch")
    talk.say(Kind.NEXT)
    talk.say(Kind.PUT_BACK, "spacer")
    talk.say(Kind.NEXT)
    talk.confirm("hub")
    talk.say(Kind.NEXT)
    assert talk.state.phase() is Phase.GATE
    for kind in (Kind.NEXT, Kind.AFFIRM, Kind.REPEAT, Kind.CARRY_ON, Kind.JUDGEMENT):
        talk.say(kind)
        assert not talk.state.ended
    talk.say(Kind.NEXT)
    last = talk.last()
    assert isinstance(last, ev.NextRefused)
    assert last.why == "gate-item", "the gate speaks before the step's own question"
    # The wrong words close nothing.
    assert talk.say(Kind.PUT_BACK, "tape") == ("Refused",)
    assert talk.say(Kind.PUT_BACK, "pin") == ("Refused",), "a new pin is fitted, an old one never put back"
    assert talk.keys == ["no-must-be-new"]
    assert talk.say(Kind.FITTED, "tape") == ("Refused",)
    assert talk.say(Kind.DONE, "tape") == ("Refused",)
    assert talk.say(Kind.DONE) == ("Refused",)
    assert talk.say(Kind.TAKEN_OFF, "tape") == ("ItemClosed",)
    assert talk.say(Kind.FITTED, "pin") == ("ItemClosed",)
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.say(Kind.DONE, text="grease") == ("Asked",), "a shorter name is asked about"
    assert talk.say(Kind.AFFIRM) == ("QuestionClosed", "ItemClosed")
    assert talk.say(Kind.NEXT) == ("StepDone", "SignedOff")
    assert talk.say(Kind.NOTE, text="late") == ("Refused",)


@rule
def what_the_last_step_itself_opens_keeps_the_job_open() -> None:
    talk = Talk(small_sheet(step("end", gate=True, opens=["tape"]), temporary=["tape"]))
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.keys == ["gate-item-later"]
    assert not talk.state.ended


@rule
def items_in_the_persons_own_words() -> None:
    talk = rebuilt()
    assert talk.say(Kind.FITTED, text="tape on the cable") == ("ItemOpened",)
    assert talk.say(Kind.FITTED, text="tape on the cable") == ("Refused",)
    assert talk.say(Kind.FITTED, text="tape on the drum") == ("ItemOpened",)
    assert talk.say(Kind.TAKEN_OFF, text="tape on the") == ("Asked",), "two fit: which"
    assert talk.say(Kind.TAKEN_OFF, text="the tape on the cable") == ("QuestionClosed", "Asked")
    assert talk.say(Kind.AFFIRM) == ("QuestionClosed", "ItemClosed")
    assert talk.say(Kind.TAKEN_OFF, text="guard") == ("ItemOpened",)
    assert [e.kind.value for e in talk.state.register.values()] == ["temporary", "part"]
    assert talk.say(Kind.PUT_BACK, text="guard") == ("ItemClosed",)
    assert talk.say(Kind.PUT_BACK, text="guard") == ("Refused",)
    assert talk.say(Kind.REMOVED, "tape") == ("Refused",), "what is not on cannot come off"
    assert talk.say(Kind.FITTED, "tape") == ("ItemOpened",)
    assert talk.say(Kind.FITTED, "tape") == ("Refused",)


@rule
def undo_takes_nothing_out_of_the_register_that_a_step_put_in() -> None:
    talk = rebuilt()
    talk.say(Kind.FITTED, text="strap on the lever")
    talk.say(Kind.FITTED, "tape")
    talk.say(Kind.NEXT)
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert set(talk.state.register) == {"spacer", "tape", "pin"}


@rule
def undo_does_not_bring_back_a_timer_that_was_due() -> None:
    talk = held()
    assert talk.say(Kind.TIMER, value="10", unit="min", text="sealant") == ("TimerSet",)
    talk.say(Kind.TIMER, value="30", unit="min")
    assert talk.say(Kind.TIMER, value="10") == ("Refused",)
    assert talk.say(Kind.TIMER, value="0", unit="s") == ("Refused",)
    talk.restart()
    assert len(talk.state.timers) == 2, "timers survive a restart"
    assert talk.wait(599) == ()
    assert talk.wait(1) == ("TimerDue",)
    assert talk.keys == ["timer-due-for"]
    talk.say(Kind.UNDO)
    assert talk.state.timers == {}
    assert talk.wait(3600) == ()


@rule
def doing_it_again_reopens_what_rests_on_it() -> None:
    talk = rebuilt()
    talk.say(Kind.NEXT)
    talk.say(Kind.PUT_BACK, "spacer")
    talk.say(Kind.NEXT)
    talk.confirm("hub")
    talk.say(Kind.NEXT)
    talk.say(Kind.BACK)
    talk.say(Kind.BACK)
    assert talk.state.step.id == "spacer-in"
    assert talk.say(Kind.REDO) == ("StepRedone", "StepOpened")
    assert talk.events[-2] == ev.StepRedone(("spacer-in", "hub"), ("spacer",))
    assert "spacer" in talk.state.register, "the register follows"
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    talk.say(Kind.PUT_BACK, "spacer")
    talk.say(Kind.NEXT)
    assert talk.state.phase() is Phase.HOLD, "the hold on the way is asked again"
    assert talk.say(Kind.UNDO) == ("Undone",)


@rule
def what_was_measured_first_is_superseded_by_doing_it_again() -> None:
    talk = worn()
    talk.measure("1.0", "1.0")
    talk.say(Kind.REPLACE)
    talk.measure("4.0", "4.0")
    assert talk.say(Kind.REDO) == ("StepRedone", "StepOpened")
    assert talk.state.waits() == ("wear",)
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert [str(v) for v in talk.state.taken_at("measure", "wear").values] == ["4.0", "4.0"]
    assert talk.say(Kind.UNDO) == ("Refused",), "what came before can't be withdrawn one by one"
    talk.say(Kind.REDO)
    talk.measure("4.1", "4.1")
    assert talk.events[-1].stage == "as-left"  # type: ignore[union-attr]  # a reading was the last


@rule
def stopping_is_asked_back() -> None:
    talk = held()
    assert talk.say(Kind.STOP) == ("StopAsked",)
    assert talk.say(Kind.UNKNOWN) == ("AskedAgain",)
    assert talk.keys == ["ask-stop"]
    assert talk.say(Kind.NEGATIVE) == ("QuestionClosed",)
    talk.say(Kind.STOP)
    assert talk.say(Kind.WHERE)[0] == "QuestionClosed"
    talk.say(Kind.STOP)
    assert talk.say(Kind.AFFIRM) == ("QuestionClosed", "JobStopped")
    assert talk.state.ended == "stopped"
    assert talk.wait(99) == ()


@rule
def standing_by_hears_only_carry_on() -> None:
    talk = held()
    talk.say(Kind.STAND_BY)
    for kind in Kind:
        if kind is not Kind.CARRY_ON:
            assert talk.say(kind) == ()
    assert talk.say(Kind.CARRY_ON) == ("CarriedOn",)
    assert talk.say(Kind.CARRY_ON) == ("Told",)


@rule
def a_question_is_answered_once_and_only_by_its_offer() -> None:
    talk = worn()
    offer = Measurement(
        Kind.READING, name="wear", value=Decimal("3.0"), in_limit_unit=Decimal("3.0"), heard="about three"
    )
    talk.say(Kind.AMBIGUOUS, "wear", options=(offer,), is_offer=True, asks=Asks.CONFIRM_NUMBER)
    assert talk.say(Kind.UNKNOWN) == ("AskedAgain",)
    assert talk.say(Kind.AFFIRM) == ("QuestionClosed", "ReadingRecorded")
    assert talk.say(Kind.AFFIRM) == ("Refused",)
    talk.say(Kind.AMBIGUOUS, "wear", options=(offer, offer), asks=Asks.WHICH_NUMBER)
    assert talk.say(Kind.AFFIRM) == ("AskedAgain",), "nothing is offered"
    assert talk.say(Kind.NEGATIVE) == ("QuestionClosed",)


@rule
def undo_reaches_only_so_far_back() -> None:
    talk = held()
    for number in range(UNDO_DEPTH + 5):
        talk.say(Kind.NOTE, text=f"note {number}")
    for _ in range(UNDO_DEPTH):
        assert talk.say(Kind.UNDO) == ("Undone",)
    assert talk.say(Kind.UNDO) == ("Refused",)
    assert talk.say(Kind.NOTE) == ("Refused",)


@rule
def a_few_hundred_turns_of_random_talk() -> None:
    """The machine's naive model, on fixed seeds: what a fault breaks that no rule above thought of."""
    for seed in range(24):
        rng = Random(seed)
        state, ms = State(random_sheet(rng)), 1_000_000
        model = Naive(state.sheet)
        for turn in range(70):
            intent: Intent | None = random_talk(rng, state)
            ms += rng.choice((0, 900, 4_000, 14_999, 15_000, -500))
            if turn == 0:
                intent, events = None, d.begin(state)
            elif turn % 23 == 0 and not state.ended:
                intent, events = None, d.resume(state, ms)
            elif turn % 7 == 0:
                intent, events = None, d.tick(state, ms)
            else:
                events = d.decide(state, intent, ms)  # type: ignore[arg-type]  # None only in the branches above
            for event in events:
                state = apply(state, event, ms)
            model.turn(intent, ms, events)
            model.agrees(state)


def run_all() -> str:
    """Name of the first rule that is broken, "" where all hold."""
    for one in RULES:
        try:
            one()
        except Exception:
            return one.__name__
    return ""


@rule
def values_carried_over_are_said_and_never_count() -> None:
    state = State(small_sheet(step("measure", readings=("gap",)), readings=(reading("gap", "1.0", "2.0"),)))
    carried = ev.ReadingsCarried(
        "earlier.jsonl", (ev.Carried("measure", "gap", 0, Decimal("1.5"), "mm", Stage.AS_FOUND),)
    )
    events = d.begin(state, carried)
    assert [type(event).__name__ for event in events] == ["SessionStarted", "ReadingsCarried", "StepOpened"]
    after = d.fold(state, events)
    assert after.waits() == ("gap",), "measured there, not here"
    assert not after.taken
    assert any(one.key == "carried" and one.fields["count"] == 1 for one in replies.after(state, events))
    assert len(d.begin(state, ev.ReadingsCarried("earlier.jsonl", ()))) == 2, "nothing to carry: nothing said"


@rule
def at_a_hold_a_reading_is_answered_with_the_hold() -> None:
    state = State(
        small_sheet(
            step("lift", hold="confirm it rests on stands", readings=("gap",)), readings=(reading("gap", "1.0", "2.0"),)
        )
    )
    state = d.fold(state, d.begin(state))
    for kind in (Kind.READING, Kind.JUDGEMENT, Kind.REPLACE, Kind.JUDGED):
        events = d.decide(
            state, intent_of(Flat(kind, name="gap", value=Decimal("1.5"), in_limit_unit=Decimal("1.5"))), 1
        )
        assert events == (ev.Refused(kind, Refusal.HOLD_FIRST),), kind


@rule
def the_own_instrument_judges_and_an_overdue_one_is_said() -> None:
    sheet = small_sheet(
        step("measure", readings=("gap", "bolt")),
        readings=(reading("gap", low="2.0", uncertainty="0.1"), reading("bolt", low="20", pair="gap", pair_within="9")),
    )
    uses = (ev.InstrumentUse("gap", "calliper", Decimal("0.3")), ev.InstrumentUse("bolt", "wrench", percent=Decimal(4)))
    taken = ev.InstrumentsTaken(uses, (ev.Overdue("calliper", 3),), ("dial gauge",))
    state = State(sheet)
    events = d.begin(state, known=(taken,))
    keys = [one.key for one in replies.after(state, events)]
    assert keys[2:4] == ["instrument-overdue", "instrument-missing"]
    state = d.fold(state, events)
    for value, verdict in {"2.3": "good", "2.2": "borderline", "1.7": "borderline", "1.69": "out"}.items():
        said = Measurement(Kind.READING, name="gap", value=Decimal(value))
        (recorded,) = d.decide(state, said, 1)
        assert isinstance(recorded, ev.ReadingRecorded)
        assert recorded.verdict == verdict, value
        assert d.fold(state, (recorded,)).verdict_at("measure", "gap").verdict == verdict, value
    assert state.uncertainty_of(sheet.readings["bolt"], Decimal(-25)) == 1, "percent of the reading's size"
    past = d.fold(state, (ev.HistoryTaken((ev.Series("gap", 0, "hours", "h", ()),)),))
    assert past.history[0].reading == "gap"
    assert replies.after(state, (ev.HistoryTaken(()),)) == ()


@rule
def a_table_judges_by_the_row_of_the_marking() -> None:
    rows = (LimitRow(Decimal("8.8"), Decimal(20), Decimal(28)), LimitRow(Decimal("10.9"), Decimal(30), Decimal(38)))
    tight = replace(reading("tight"), limit=Limit("N*m", from_marking="class", rows=rows))
    bolt = [reading("class", unit="count", is_marking=True), tight]
    talk = Talk(small_sheet(step("bolt", readings=["class", "tight"]), step("end", gate=True), readings=bolt))
    assert talk.say(Kind.READING, "tight", "25") == ("Refused",), "judged without a row"
    assert talk.say(Kind.READING, value="9") == ("Refused",), "a marking without a row"
    talk.measure("10.9", "25")
    assert talk.state.failed() == ("tight",)
    assert talk.say(Kind.CORRECTION, "class", "9") == ("Refused",)
    talk.say(Kind.CORRECTION, "class", "8.8")
    assert talk.state.failed() == ()


@rule
def a_new_part_brings_its_own_marking() -> None:
    drum = [reading("maximum", is_marking=True), reading("size", high="203", from_marking="maximum")]
    talk = Talk(small_sheet(step("drum", readings=["maximum", "size"]), step("end", gate=True), readings=drum))
    talk.measure("202", "202.5")
    assert talk.say(Kind.REPLACE) == ("ReadingReopened", "ReadingReopened")
    assert talk.state.waits() == ("maximum", "size")
    assert talk.say(Kind.UNDO) == ("Undone", "Undone"), "one word of the person, one undo"
    assert talk.state.waits() == ()
    assert talk.state.failed() == ("size",)
    talk.say(Kind.REPLACE)
    talk.measure("202", "201")
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert talk.state.waits() == ("size",)


@rule
def the_history_goes_on_with_what_is_measured_now() -> None:
    sheet = small_sheet(
        step("measure", readings=("hours", "gap")),
        readings=(reading("hours", unit="h"), reading("gap", low="2.0", uncertainty="0.1")),
    )
    earlier = ev.HistoryTaken(
        (
            Series("gap", 0, "hours", "h", ((Decimal(100), Decimal(5)),)),
            Series("gap", 1, "hours", "h", ()),
            Series("gone", 0, "hours", "h", ()),
        )
    )
    state = State(sheet)
    state = d.fold(state, d.begin(state, known=(earlier,)))
    assert [one.pairs for one in state.wear()] == [((Decimal(100), Decimal(5)),), ()]
    for name, value in (("hours", 200), ("gap", 4)):
        state = d.fold(state, d.decide(state, Measurement(Kind.READING, name=name, value=Decimal(value)), 1))
    first, second = state.expected().wear
    assert first.pairs == ((Decimal(100), Decimal(5)), (Decimal(200), Decimal(4)))
    assert (first.low, first.high, first.uncertainty) == (Decimal("2.0"), None, Decimal("0.1"))
    assert second.pairs == (), "that point was not measured now"


@rule
def how_long_it_lasts_is_answered_with_what_is_known() -> None:
    sheet = small_sheet(step("measure", readings=("gap",)), step("look"), readings=(reading("gap", low="2.0"),))
    state = d.fold(State(sheet), d.begin(State(sheet)))

    def said(at: State, **fields: Any) -> replies.Replies:
        return replies.after(at, (ev.Told(Kind.QUERY, intent_of(Flat(Kind.QUERY, text="wear", **fields))),))

    assert said(state, detail="Two years.")[0].fields == {"answer": "Two years."}
    assert said(state)[0].fields == {"name": sheet.readings["gap"].name}
    assert said(state, name="gap")[0].key == "wear-none"
    offered = intent_of(Flat(Kind.QUERY, text="conversion", heard="what is one bar in p s i"))
    asked = Question(asks=Asks.CONFIRM_NUMBER, options=(offered,), is_offer=True)
    assert replies.question(state, asked).fields["offer"] == "what is one bar in p s i"
    known = state.with_(history=(Series("gap", 0, "hours", "h", ((Decimal(1), Decimal(5)),)),))
    assert said(known, name="gap")[0].key == "answer-none", "never that nothing is there"
    assert said(state.with_(index=1))[0].fields == {"name": sheet.machine}, "no reading here: the machine"


@rule
def the_margin_is_said_in_the_unit_that_was_said() -> None:
    sheet = small_sheet(
        step("measure", readings=("gap", "head")),
        readings=(reading("gap", low="2.0"), reading("head", high="110", unit="degC")),
    )
    state = d.fold(State(sheet), d.begin(State(sheet)))
    # 0.197 in is 5.0038 mm; 231 °F is 110.556 °C. Nought says nothing of its unit's size.
    for name, value, unit, limit_unit, margin, own in (
        ("gap", "0.197", "in", "5.0038", "0.118", "in"),
        ("gap", "0.000", "in", "0", "2.0", "mm"),
        ("head", "231", "degF", "110.5555555555555555555555556", "1", "degF"),
        ("head", "230", "degF", "110", "0", "degF"),
    ):
        said = Measurement(Kind.READING, name=name, value=Decimal(value), unit=unit, in_limit_unit=Decimal(limit_unit))
        at = d.fold(
            state, d.decide(state, replace(said, name="gap", value=Decimal(9), unit="mm", in_limit_unit=None), 1)
        )
        at = state if name == "gap" else at
        verdict = replies.after(at, d.decide(at, said, 1))[1]
        assert verdict.fields["margin"] == replies.Quantity(Decimal(margin), own), verdict


@rule
def a_decision_holds_for_the_very_figures_it_was_made_on() -> None:
    drum = [
        reading("maximum", is_marking=True),
        reading("size", high="203", from_marking="maximum"),
        reading("left", low="2", pair="right", pair_within="0.5"),
        reading("right", low="2", pair="left", pair_within="0.5"),
    ]
    talk = Talk(
        small_sheet(
            step("drum", readings=["maximum", "size"]),
            step("left", readings=["left"]),
            step("right", readings=["right"]),
            step("end", gate=True),
            readings=drum,
        )
    )
    talk.measure("203", "203.5")
    talk.say(Kind.JUDGED, text="the foreman has seen it")
    talk.say(Kind.NEXT)
    # Its limit.
    assert talk.say(Kind.CORRECTION, "maximum", "202") == ("ReadingCorrected", "DecisionReopened")
    assert talk.last() == ev.DecisionReopened("drum", "size", Basis.LIMIT)
    assert "decision-reopened" in talk.keys
    assert "not-good-now" not in talk.keys
    assert ("reading", "size") in talk.state.open_at_gate()
    talk.measure("1.9")
    talk.say(Kind.JUDGED, text="it will do")
    assert talk.say(Kind.NEXT) == ("NextRefused",)
    assert talk.last() == ev.NextRefused("left", Hindrance.BEFORE, "size")
    # A correction back is another word about it: only withdrawing it brings the decision back.
    for _ in range(3):
        talk.say(Kind.UNDO)
    assert "decision-again" in talk.keys
    talk.measure("1.9")
    talk.say(Kind.JUDGED, text="it will do")
    # Its value; the same value again is no other figure.
    assert talk.say(Kind.CORRECTION, "left", "1.90") == ("ReadingCorrected",)
    assert talk.state.failed() == ()
    assert talk.say(Kind.CORRECTION, "left", "1.8") == ("ReadingCorrected", "DecisionReopened")
    assert talk.state.failed() == ("left",)
    talk.say(Kind.JUDGED, text="that will do as well")
    talk.say(Kind.NEXT)
    # The other side: known for the first time and near it changes nothing, too far it does.
    talk.measure("2.2")
    assert talk.state.open_before() is None
    assert talk.say(Kind.CORRECTION, "right", "2.5") == ("ReadingCorrected", "DecisionReopened")
    assert ev.DecisionReopened("left", "left", Basis.PAIR) in talk.events
    assert talk.state.open_before() == (1, "left")
    assert talk.say(Kind.CORRECTION, "right", "2.2") == ("ReadingCorrected",), "settled by a person, not by itself"
    assert talk.state.open_before() == (1, "left")
    talk.say(Kind.BACK)
    talk.say(Kind.JUDGED, text="seen with the other side")
    assert talk.say(Kind.CORRECTION, "right", "2.1") == ("ReadingCorrected", "DecisionReopened")
    assert talk.say(Kind.CORRECTION, "left", "2.1") == ("ReadingCorrected",)
    assert talk.state.failed() == ()


@rule
def a_decision_that_an_earlier_version_let_stand_is_reopened_at_a_restart() -> None:
    talk = Talk(
        small_sheet(step("measure", readings=["gap"]), step("end", gate=True), readings=[reading("gap", "1", "2")])
    )
    talk.measure("3")
    talk.say(Kind.JUDGED, text="it will do")
    (corrected,) = cells.correct(talk.state, Measurement(Kind.CORRECTION, value=Decimal(9)))
    talk._take((corrected,))
    assert talk.state.failed() == ("gap",), "without an event as well"
    assert talk.restart() == ("SessionResumed", "DecisionReopened")
