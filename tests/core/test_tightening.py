"""Tightening in stages, limits from a table, markings on a new part, an instrument's own unit: by the rules alone.

How a joint is tightened (rising stages, an order, a last turn by angle) is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from core_quick import Talk

from bench_voice.core import events as ev
from bench_voice.core import replies
from bench_voice.core.apply import apply
from bench_voice.core.cases import Refusal, Stage
from bench_voice.core.intents import Asks, Kind, Question
from bench_voice.core.replies import Quantity, UnitName, question, torque_text
from bench_voice.core.sheet import Limit, LimitRow, Pronunciation, TorqueStage
from bench_voice.core.state import State
from bench_voice.core.verdict import Verdict
from bench_voice.testing import reading, small_sheet, step

STAGE = TorqueStage("bolts", 1, 2, "N*m", "dry", Decimal(20), order=("one", "two"), thread="M eight")


def keys(stage: TorqueStage) -> list[str]:
    return [one.key for one in torque_text(stage)]


def test_a_stage_is_said_whole() -> None:
    said = torque_text(STAGE)
    assert [one.key for one in said] == ["torque-thread", "torque-stage-to", "torque-order"]
    assert said[1].fields["amount"] == Quantity(Decimal(20), "N*m")
    assert said[2].fields["order"] == ("one", "two")
    assert torque_text(replace(STAGE, order=("1", "14")))[2].fields["order"] == (Decimal(1), Decimal(14))


def test_a_later_stage_does_not_say_the_steps_words_again() -> None:
    """ "Put the cover on" is done at the first stage."""
    first = replace(step("bolts-stage-1"), torque=STAGE)
    last = replace(step("bolts", say="Put the cover on."), torque=replace(STAGE, number=2))
    talk = Talk(small_sheet(first, last, step("end", gate=True)))
    assert talk.keys[2:5] == ["step", "torque-thread", "torque-stage-to"]
    talk.say(Kind.NEXT)
    assert talk.keys[:2] == ["step-stage", "torque-stage-to"]


def test_the_thread_is_said_with_the_first_stage_only() -> None:
    assert keys(replace(STAGE, number=2)) == ["torque-stage-to", "torque-order"]
    assert keys(replace(STAGE, thread="", count=1, order=())) == ["torque-condition", "torque-to"]


def test_a_turn_is_said_in_degrees() -> None:
    last = replace(STAGE, number=2, target=None, turn=Decimal(90), order=())
    assert [one.fields["amount"] for one in torque_text(last)] == [Quantity(Decimal(90), "deg")]
    assert keys(last) == ["torque-stage-turn"]
    assert keys(replace(last, count=1)) == ["torque-turn"]


def test_the_wrenchs_own_unit_is_said_too() -> None:
    on = replace(STAGE, instrument="torque wrench", on_instrument=(Decimal("14.8"), "lbf*ft"))
    assert keys(on) == ["torque-thread", "torque-stage-to", "torque-on", "torque-order"]


def tightened() -> Talk:
    bolts = replace(step("bolts", readings=["tight"]), torque=STAGE)
    return Talk(small_sheet(bolts, step("end", gate=True), readings=[reading("tight", "18", "22")]))


def test_the_stage_is_heard_again_when_asked() -> None:
    talk = tightened()
    assert "torque-stage-to" in talk.keys
    for kind in (Kind.REPEAT, Kind.WHERE):
        talk.say(kind)
        assert "torque-stage-to" in talk.keys
    talk.say(Kind.QUERY, text="limit")
    assert talk.keys == ["torque-thread", "torque-stage-to", "torque-order"]
    talk.say(Kind.QUERY, "tight", text="limit")
    assert talk.keys == ["limit-between"]
    talk.say(Kind.QUERY, text="step")
    assert talk.keys == ["step", "torque-thread", "torque-stage-to", "torque-order"]
    talk.measure("20")
    talk.say(Kind.NEXT)
    talk.say(Kind.WHERE)
    assert "torque-stage-to" not in talk.keys


def tabled() -> Talk:
    rows = (LimitRow(Decimal("8.8"), Decimal(20), Decimal(28)), LimitRow(Decimal("10.9"), Decimal(30), Decimal(38)))
    tight = replace(reading("tight"), limit=Limit("N*m", from_marking="class", rows=rows))
    return Talk(
        small_sheet(
            step("bolts", readings=["class", "tight"]),
            step("end", gate=True),
            readings=[reading("class", unit="count", is_marking=True), tight],
        )
    )


def test_the_marking_chooses_the_row() -> None:
    for said, value, verdict in (("8.80", "25", "good"), ("10.9", "25", "out"), ("10.9", "30", "good")):
        talk = tabled()
        talk.measure(said, value)
        assert talk.last().verdict == verdict, (said, value)  # type: ignore[union-attr]  # a reading was the last


def test_nothing_is_judged_without_its_row() -> None:
    talk = tabled()
    assert talk.say(Kind.READING, value="9") == ("Refused",)
    assert talk.last() == ev.Refused(Kind.READING, Refusal.NO_ROW, "class")
    assert talk.keys == ["no-no-row"]
    assert talk.say(Kind.READING, "tight", "25") == ("Refused",)
    assert talk.last() == ev.Refused(Kind.READING, Refusal.MARKING_FIRST, "class")
    assert "no-marking-first" in talk.keys
    assert talk.say(Kind.QUERY, "tight", text="limit") == ("Told",)
    assert talk.keys == ["limit-row"]
    talk.measure("8.8")
    assert talk.keys[:2] == ["reading", "marking-row"]


def test_a_correction_chooses_another_row_and_judges_anew() -> None:
    talk = tabled()
    talk.measure("8.8", "25")
    assert talk.say(Kind.CORRECTION, "class", "9") == ("Refused",)
    assert talk.say(Kind.CORRECTION, "class", "10.9") == ("ReadingCorrected",)
    assert talk.keys[:2] == ["corrected", "marking-row"]
    assert talk.state.failed() == ("tight",)


def test_a_withdrawn_marking_takes_its_row_along() -> None:
    talk = tabled()
    talk.measure("8.8")
    talk.say(Kind.UNDO)
    spec = talk.state.sheet.readings["tight"]
    assert talk.state.limit_of(spec) is spec.limit
    # A journal with a value that has no row judges nothing: it was never accepted by this program.
    odd = ev.ReadingRecorded("bolts", "class", 0, Decimal(9), "count", Decimal(9), "", Stage.AS_FOUND, Verdict.NOTED)
    assert apply(talk.state, odd).limit_of(spec) is spec.limit


def marked() -> Talk:
    return Talk(
        small_sheet(
            step("drum", readings=["maximum", "turns", "size"]),
            step("end", gate=True),
            readings=[
                reading("maximum", is_marking=True),
                reading("size", high="203.0", from_marking="maximum"),
                reading("turns", unit="count", is_marking=True),
            ],
        )
    )


def test_a_new_part_is_not_judged_by_the_old_ones_marking() -> None:
    talk = marked()
    talk.measure("202.0")
    assert "marking-differs" in talk.keys
    talk.measure("3", "202.5")
    assert talk.state.failed() == ("size",)
    assert talk.say(Kind.REPLACE) == ("ReadingReopened", "ReadingReopened")
    assert talk.state.waits() == ("maximum", "size")
    assert talk.keys == ["reopened-replaced", "want-reading"]
    talk.measure("203.0")
    assert "marking-taken" in talk.keys
    talk.measure("202.5")
    assert talk.state.verdict_at("drum", "size").verdict is Verdict.GOOD
    # Every value that was found stays in the journal.
    found = [one.value for one in talk.events if isinstance(one, ev.ReadingRecorded)]
    assert found == [Decimal(text) for text in ("202.0", "3", "202.5", "203.0", "202.5")]


def test_a_marking_that_gives_no_limit_is_only_noted() -> None:
    talk = marked()
    talk.say(Kind.READING, "turns", "3")
    assert talk.keys[:2] == ["reading", "verdict-noted"]


def test_the_unit_is_named_where_the_instrument_shows_another() -> None:
    play = replace(reading("play", high="0.2"), instrument_unit="thou")
    gap = replace(play, id="gap", name="gap", points=2)
    talk = Talk(small_sheet(step("work", readings=["play", "gap"]), step("end", gate=True), readings=[play, gap]))
    assert talk.keys[-1] == "want-reading-in"
    talk.say(Kind.READING, value="0.1")
    assert talk.keys[-1] == "want-point-in"
    assert (play.read_in, reading("other").read_in) == ("thou", "mm")


def test_words_are_written_for_the_voice() -> None:
    sheet = small_sheet(step("end", gate=True))
    assert sheet.for_voice("Turn the Sprongle.") == "Turn the Sprongle."
    known = {
        "sprongle": Pronunciation("sprongle", ("S",), "sprong gull"),
        "knurl": Pronunciation("knurl", ("N", "ER", "L")),
    }
    sheet = replace(sheet, pronunciations=known)
    assert sheet.for_voice("Turn the Sprongle's knurl, sprongle.") == "Turn the Sprongle's knurl, sprong gull."


def test_a_wrong_unit_is_answered_with_the_units_name() -> None:
    state = State(small_sheet(step("work", readings=["play"]), readings=[reading("play", high="0.2")]))
    asked = question(state, Question(name="play", asks=Asks.WRONG_UNIT))
    assert asked.fields["unit"] == UnitName("mm")


def timed(*minutes: str | None, only_if: str | None = None) -> Talk:
    steps = [
        replace(step(f"step-{number}"), minutes=Decimal(text) if text else None) for number, text in enumerate(minutes)
    ]
    steps[-1] = replace(steps[-1], only_if=only_if)
    first = replace(step("first", readings=["wear"]), minutes=Decimal(5))
    last = replace(step("end", gate=True), minutes=Decimal(1))
    return Talk(small_sheet(first, *steps, last, readings=[replace(reading("wear", low="2"), limit=WITH_NEW)]))


WITH_NEW = Limit("mm", low=Decimal(2), new=Decimal("5.0"))


def minutes_said(talk: Talk) -> list[object]:
    talk.say(Kind.LEFT)
    said = replies.after(talk.state, (talk.last(),))
    return [one.fields["amount"] for one in said if one.key == "left-minutes"]


def test_the_time_that_is_left_is_the_sheets() -> None:
    assert minutes_said(timed("10", "2.5")) == [Quantity(Decimal("18.5"), "min")]
    assert minutes_said(timed("10", None)) == []
    # A step that may be passed over counts once its part was replaced.
    talk = timed("10", "20", only_if="wear")
    assert minutes_said(talk) == [Quantity(Decimal(16), "min")]
    talk.measure("1")
    talk.say(Kind.REPLACE)
    assert minutes_said(talk) == [Quantity(Decimal(36), "min")]


def test_the_time_of_a_step_in_stages_stands_with_its_last() -> None:
    stages = [replace(step("bolts-stage-1"), torque=STAGE), replace(step("bolts"), torque=replace(STAGE, number=2))]
    sheet = small_sheet(
        stages[0], replace(stages[1], minutes=Decimal(7)), replace(step("end", gate=True), minutes=Decimal(1))
    )
    assert minutes_said(Talk(sheet)) == [Quantity(Decimal(8), "min")]


def test_the_value_of_a_new_part_is_said_with_the_limit() -> None:
    talk = timed("1")
    talk.say(Kind.QUERY, "wear", text="limit")
    assert talk.keys == ["limit-low", "limit-new"]
