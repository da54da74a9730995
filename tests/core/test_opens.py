"""What is open is one list: what refuses "next" or the gate is named in "what is left" at that moment, and nothing that
is named so hinders silently. Over random sheets and random talk.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from random import Random

from core_quick import Talk
from core_talk import random_sheet, random_talk

from bench_voice.core import decide as rules
from bench_voice.core import events as ev
from bench_voice.core import replies
from bench_voice.core.apply import apply, fold
from bench_voice.core.cases import Changed, Hindrance, Open
from bench_voice.core.intents import Command, CommandKind, Kind, Measurement
from bench_voice.core.opens import matters
from bench_voice.core.prompts import Reply
from bench_voice.core.standing import reading_stands, said_of
from bench_voice.core.state import Phase, State
from bench_voice.core.verdict import Verdict
from bench_voice.testing import reading, small_sheet, step

NOT_GOOD = ("verdict-out", "verdict-borderline", "verdict-on-limit")
QUIET = (Phase.ENDED, Phase.STAND_BY, Phase.STOPPING, Phase.READ_BACK, Phase.ASKED)


# Below, on, above and just about the limits and spreads of the random sheets.
NEAR = ("1.9", "2.0", "2.0", "2.05", "2.5", "2.5", "2.55", "4", "5.2")
STEPS = int(os.environ.get("HYPOTHESIS_STEPS", "20000"))


def states(seed: int, steps: int) -> Iterator[State]:
    """States that random talk on random sheets comes through, restarts among it."""
    rng = Random(seed)
    state, ms = State(random_sheet(rng)), 1_000
    events = rules.begin(state)
    for _ in range(steps):
        for event in events:
            state = apply(state, event, ms)
        if state.phase() not in QUIET:
            yield state
        if state.ended:
            state = State(random_sheet(rng))
            events = rules.begin(state)
            continue
        ms += rng.choice((900, 4_000, 15_000))
        if rng.random() < 0.05:
            events = rules.resume(state, ms)
        elif state.phase() is Phase.READING and rng.random() < 0.4:
            value = Decimal(rng.choice(NEAR))
            events = rules.decide(state, Measurement(Kind.READING, state.waits()[0], value, None, value), ms)
        else:
            events = rules.decide(state, random_talk(rng, state), ms)


def told(state: State, kind: CommandKind) -> tuple[Reply, ...]:
    return replies.after(state, rules.decide(state, Command(kind), state.clock_ms))


def test_what_refuses_next_is_in_what_is_left_and_the_other_way_round() -> None:
    refusals = ends = 0
    for state in states(1, STEPS):
        open_ = matters(state)
        said = {one.key for one in told(state, Kind.LEFT)}
        assert ("left-nothing" in said or "left-nothing-one" in said) == (not open_)
        events = rules.decide(state, Command(Kind.NEXT), state.clock_ms)
        refused = [event for event in events if isinstance(event, ev.NextRefused)]
        if refused:
            # What the step that is left would open is named as begun.
            assert refused[0].what in {matter.key for matter in open_}, refused
        assert bool(refused) >= any(matter.why for matter in open_)
        if fold(state, events).ended:
            assert open_ == ()
        refusals += len(refused)
        ends += bool(fold(state, events).ended)
    assert refusals > STEPS // 10
    assert ends > STEPS // 500


def test_every_verdict_that_is_not_good_comes_with_its_figures_and_blames_no_good_reading() -> None:
    kinds: Counter[str] = Counter()
    for state in states(2, STEPS):
        for kind in (Kind.LEFT, Kind.NEXT, Kind.REPEAT):
            said = told(state, kind)
            for before, one in zip((None, *said), said, strict=False):
                if one.key.startswith(NOT_GOOD):
                    kinds[one.key] += 1
                    _has_its_figures(state, before, one)
    assert {key.rsplit("-", 1)[1] for key, count in kinds.items() if count > 10} == {"low", "high", "spread", "pair"}


def test_after_an_undo_a_correction_and_a_resume_the_answer_states_what_stands() -> None:
    kinds: Counter[str] = Counter()
    for state in states(3, STEPS):
        undone = rules.decide(state, Command(Kind.UNDO), state.clock_ms)
        after = fold(state, undone)
        said = replies.after(state, undone)
        for event in undone:
            change = next((c for c in state.changes if isinstance(event, ev.Undone) and c.seq == event.seq), None)
            if change is None or change.what is Changed.REDO:
                continue
            if change.item is not None:
                is_open = change.item[0] in {matter.key for matter in matters(after)}
                assert is_open == any(one.key.startswith(("open-", "begun-")) for one in said), said
            elif (
                change.where is not None
                and after.taken_at(*change.where).points
                and change.reading in state.sheet.readings
            ):
                assert _states(after, change.where, said), (change, said)
            kinds[change.what] += 1
        if state.last_reading is not None and state.phase() is not Phase.HOLD:
            step, reading, at = state.last_reading
            if len(state.taken_at(step, reading).points) > at:
                value = Decimal("2.3")
                corrected = rules.decide(state, Measurement(Kind.CORRECTION, None, value, None, value), state.clock_ms)
                if any(isinstance(event, ev.ReadingCorrected) for event in corrected):
                    said = replies.after(state, corrected)
                    assert said[0].key == "corrected"
                    assert said[1].key.startswith(("verdict-", "marking-"))
                    kinds["corrected"] += 1
        resumed = replies.after(state, rules.resume(state, state.clock_ms))
        assert {one.key for one in said_of(state, [m for m in matters(state) if m.what is Open.ITEM])} <= {
            one.key for one in resumed
        }
    least = {Changed.READING, Changed.DECISION, Changed.ITEM, Changed.REPLACED, "corrected"}
    assert {what for what in least if kinds[what] < 10} == set(), kinds


def _states(state: State, where: tuple[str, str], said: tuple[Reply, ...]) -> bool:
    """Whether the answer has the verdict that stands there, or what keeps the step open before it."""
    if where[0] == state.step.id and where[1] in state.failed():
        return reading_stands(state, where[0], state.failed()[0])[-1] in said or state.phase() is Phase.HOLD
    return reading_stands(state, *where)[-1] in said


def _has_its_figures(state: State, before: Reply | None, one: Reply) -> None:
    if one.key.endswith(("-spread", "-pair")):
        assert {"difference", "most"} <= set(one.fields)
        assert {"low", "high"} <= set(one.fields) or len(one.fields["sides"]) == 2
        return
    assert "limit" in one.fields
    assert before is not None
    assert before.key == "reading"
    name = before.fields["name"]
    spec = next(spec for spec in state.sheet.readings.values() if spec.name == name)
    values = [value for at in state.sheet.steps for value in state.taken_at(at.id, spec.id).values]
    assert {state.judge(spec, value).verdict for value in values} & {Verdict.OUT, Verdict.BORDERLINE}, name


def test_what_a_step_takes_off_is_named_while_it_is_the_step() -> None:
    talk = Talk(small_sheet(step("strip", opens=["cover"]), step("end", gate=True), parts=["cover"]))
    assert [(one.what, one.key, one.is_begun) for one in matters(talk.state)] == [(Open.ITEM, "cover", True)]
    talk.say(Kind.LEFT)
    assert talk.keys == ["begun-part"]
    talk.restart()
    assert talk.keys[:2] == ["resumed", "begun-part"]
    talk.say(Kind.NEXT)
    talk.say(Kind.LEFT)
    assert talk.keys == ["open-part"]


def test_what_a_step_takes_off_is_named_after_going_back_from_it() -> None:
    talk = Talk(small_sheet(step("one"), step("strip", opens=["cover"]), step("end", gate=True), parts=["cover"]))
    talk.say(Kind.LEFT)
    assert talk.keys == ["left-nothing"]
    talk.say(Kind.NEXT)
    talk.say(Kind.BACK)
    talk.say(Kind.LEFT)
    assert talk.keys == ["at-step", "begun-part"]


def pair() -> Talk:
    rails = [
        reading("left", low="1", high="9", pair="right", pair_within="0.5"),
        reading("right", low="1", high="9", pair="left", pair_within="0.5"),
    ]
    return Talk(small_sheet(step("measure", readings=["left", "right"]), step("end", gate=True), readings=rails))


def test_of_a_difference_both_sides_are_said_and_that_it_is_good_again() -> None:
    talk = pair()
    talk.measure("4", "5")
    assert talk.keys == ["reading", "verdict-good", "verdict-out-pair", "choices-pair"]
    talk.say(Kind.NEXT)
    assert talk.keys == ["not-yet", "verdict-out-pair", "ways"]
    talk.say(Kind.CORRECTION, "right", "4.2")
    assert talk.keys == ["corrected", "verdict-good", "verdict-good-pair", "want-next"]


def test_one_decision_settles_both_sides_and_one_undo_withdraws_it() -> None:
    talk = pair()
    talk.measure("4", "5")
    assert talk.say(Kind.JUDGED, text="the owner knows") == ("ReadingDecided", "ReadingDecided")
    assert talk.keys == ["decided-pair", "want-next"]
    assert talk.say(Kind.UNDO) == ("Undone", "Undone")
    assert talk.keys == ["undone-decision", "verdict-out-pair", "ways"]
    assert talk.state.failed() == ("left", "right")


def test_a_side_that_is_out_by_itself_is_named_before_the_difference() -> None:
    talk = pair()
    talk.measure("4", "9.5")
    assert talk.state.failed() == ("right", "left")
    assert talk.keys == ["reading", "verdict-out-high", "choices"]


def test_the_gate_says_all_counted_and_then_one_by_one() -> None:
    sheet = small_sheet(
        step("strip", opens=["cover", "tape"]), step("end", gate=True), parts=["cover"], temporary=["tape"]
    )
    talk = Talk(sheet)
    talk.say(Kind.NEXT)
    assert talk.keys == ["step", "gate-count", "open-part", "open-temporary", "want-part"]
    talk.say(Kind.PUT_BACK, "cover")
    assert talk.keys == ["closed-part", "gate-temporary"]
    talk.say(Kind.NEXT)
    assert talk.keys == ["refused-gate", "gate-temporary"]


def test_what_is_open_again_before_is_said_with_its_step_and_figures() -> None:
    wear = reading("wear", low="2.0")
    talk = Talk(small_sheet(step("measure", readings=["wear"]), step("work"), step("end", gate=True), readings=[wear]))
    talk.measure("3.0")
    talk.say(Kind.NEXT)
    talk.say(Kind.CORRECTION, "wear", "1.5")
    talk.say(Kind.NEXT)
    assert talk.last() == ev.NextRefused("work", Hindrance.BEFORE, "wear")
    assert talk.keys == ["not-yet", "at-step", "reading", "verdict-out-low", "go-to-step"]
