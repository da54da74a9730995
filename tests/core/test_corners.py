"""Corners of the core that no conversation above comes by."""

from __future__ import annotations

import runpy
from decimal import Decimal

import pytest
from core_quick import Talk

from bench_voice.core import events as ev
from bench_voice.core import replies
from bench_voice.core.apply import apply
from bench_voice.core.cases import Changed, OpenedBy, Stage
from bench_voice.core.decide import decide, resume
from bench_voice.core.flat import Flat, intent_of
from bench_voice.core.intents import (
    Asks,
    Command,
    Confirmation,
    Expected,
    ItemChange,
    Kind,
    Measurement,
    Query,
    Question,
    Topic,
)
from bench_voice.core.sheet import ItemKind, JobSheet, Limit, ReadingSpec
from bench_voice.core.state import Phase, State
from bench_voice.core.verdict import Verdict
from bench_voice.testing import reading, small_sheet, step


def sheet() -> JobSheet:
    both = ReadingSpec("both", "both", Limit("mm", Decimal(1), Decimal(2), source="a book"))
    return small_sheet(
        step("one", readings=["both", "low", "high", "free", "mark", "drum"], hold="confirm the first is ready"),
        step("two", opens=["tape"], closes=["tape"]),
        step("end", gate=True),
        readings=[
            both, reading("low", low="1"), reading("high", high="2"), reading("free"),
            reading("mark", is_marking=True), reading("drum", high="203", from_marking="mark"),
        ],
        temporary=["tape"],
    )  # fmt: skip


def keys(state: State, *events: ev.Event) -> list[str]:
    return [one.key for one in replies.after(state, events)]


@pytest.mark.parametrize(
    ("name", "key"), [("both", "limit-between"), ("low", "limit-low"), ("high", "limit-high"), ("free", "limit-none")]
)
def test_each_form_of_a_limit_is_told(name: str, key: str) -> None:
    intent = Query(name=name, topic=Topic.LIMIT)
    assert keys(State(sheet()), *decide(State(sheet()), intent, 0))[0] == key


def test_the_source_of_a_limit_is_told() -> None:
    state = State(sheet())
    assert "limit-source" in keys(state, ev.Told(Kind.QUERY, Query(name="both", topic=Topic.LIMIT)))


def test_marking_that_differs_from_the_sheet_is_said() -> None:
    for value, key in (("202", "marking-differs"), ("203", "marking-taken")):
        number = Decimal(value)
        event = ev.ReadingRecorded("one", "mark", 0, number, "mm", number, "x", Stage.AS_FOUND, Verdict.NOTED)
        assert key in keys(State(sheet()), event)


def test_an_undo_of_what_is_not_there_changes_nothing() -> None:
    state = State(sheet())
    assert apply(state, ev.Undone(99, Changed.NOTE)) == state.with_(seq=1)


def test_open_holds_and_passed_over_steps_at_the_gate() -> None:
    assert ("hold", "one") in State(sheet()).open_at_gate()
    assert State(sheet()).with_(passed_over=frozenset({"one"})).open_at_gate() == ()


def test_only_names_that_are_open_come_into_question() -> None:
    talk = Talk(small_sheet(step("a", opens=["tape"]), step("b"), step("end", gate=True), temporary=["tape", "strap"]))
    talk.say(Kind.NEXT)
    options = tuple(ItemChange(Kind.TAKEN_OFF, name=name, text=name) for name in ("tape", "strap"))
    assert talk.say(Kind.AMBIGUOUS, asks=Asks.WHICH_NAME, options=options) == ("Asked",)
    assert talk.keys == ["ask-offer"]
    assert talk.say(Kind.AFFIRM) == ("QuestionClosed", "ItemClosed")


def test_an_item_of_a_step_gone_back_to_is_opened_once() -> None:
    talk = Talk(small_sheet(step("a", opens=["tape"]), step("b"), step("end", gate=True), temporary=["tape"]))
    talk.say(Kind.NEXT)
    talk.say(Kind.BACK)
    assert talk.say(Kind.NEXT) == ("StepDone", "StepOpened")
    talk.say(Kind.BACK)
    talk.say(Kind.REDO)
    assert talk.say(Kind.NEXT) == ("StepDone", "StepOpened"), "it is open already"


def test_what_two_ears_must_share() -> None:
    said = Measurement(Kind.READING, name="low", value=Decimal("4.60"))
    assert said.meaning() != Measurement(Kind.READING, name="low", value=Decimal("4.6")).meaning()
    assert Command(Kind.NEXT, heard="next").meaning() == Command(Kind.NEXT, heard="next step").meaning()


def test_what_is_expected_without_a_session() -> None:
    whole = sheet()
    assert Expected.at(whole, whole.steps[0]).asked_for is None
    assert Expected.at(whole, whole.steps[0]).last_reading == "both"
    assert Expected.at(whole, whole.steps[1]).waits == ()


def test_an_unknown_step_is_a_key_error() -> None:
    with pytest.raises(KeyError, match="nowhere"):
        sheet().step_index("nowhere")


def test_a_restart_says_what_is_open_and_that_the_sheet_changed() -> None:
    state = apply(State(sheet()), ev.ItemOpened("tape", "tape", ItemKind.TEMPORARY, OpenedBy.STEP))
    said = keys(state, *resume(state, 5, sheet_changed=True))
    assert {"sheet-changed", "open-temporary"} <= set(said)


def test_several_values_and_bare_ones_as_options_are_worded() -> None:
    state = State(sheet())
    offers = (
        Measurement(Kind.READING, values=(Decimal(1), Decimal(2))),
        Measurement(Kind.READING, value=Decimal(1)),
        Measurement(Kind.READING, value=Decimal(1), unit="mm"),
        Measurement(Kind.READING),
        Confirmation(hold="one"),
    )
    question = Question(asks=Asks.WHICH_NUMBER, options=offers)
    names = replies.question(state, question).fields["names"]
    assert names[0] == (Decimal(1), Decimal(2))
    assert names[4] == "confirm the first is ready"


def test_nothing_is_wanted_where_nothing_is_asked() -> None:
    state = State(sheet()).with_(standing_by=True)
    assert state.phase() is Phase.STAND_BY
    assert replies.prompt(state) == ()
    assert keys(state, ev.Told(Kind.QUERY)) == []


def test_the_table_draws_itself(capsys: pytest.CaptureFixture[str]) -> None:
    runpy.run_module("bench_voice.core.table", run_name="__main__")
    assert capsys.readouterr().out.startswith("| intent | hold |")


def test_withdrawing_a_replacement_takes_its_step_away_again() -> None:
    talk = Talk(
        small_sheet(
            step("m", readings=["low"]), step("new", only_if="low"), step("end", gate=True),
            readings=[reading("low", low="2")],
        )
    )  # fmt: skip
    talk.measure("1")
    talk.say(Kind.REPLACE)
    assert talk.state.replaced == {"low"}
    assert talk.say(Kind.UNDO) == ("Undone",)
    assert talk.state.replaced == frozenset()
    assert talk.state.failed() == ("low",)


def test_a_reading_taken_again_at_a_later_step_is_the_one_that_counts() -> None:
    """As found and as left at two steps of their own: after "go back" the first may stay open, the last is judged."""
    talk = Talk(
        small_sheet(
            step("found", readings=["low"]), step("left", readings=["low"]), step("end", gate=True),
            readings=[reading("low", low="2")],
        )
    )  # fmt: skip
    talk.measure("3")
    talk.say(Kind.NEXT)
    talk.measure("4")
    talk.say(Kind.NEXT)
    assert talk.state.open_at_gate() == ()
    assert talk.state.superseded_by("found", "low")


def test_a_reading_without_a_limit_is_noted() -> None:
    event = ev.ReadingRecorded("one", "free", 0, Decimal(7), "mm", Decimal(7), "x", Stage.AS_FOUND, Verdict.NOTED)
    assert "verdict-noted" in keys(State(sheet()), event)


@pytest.mark.parametrize(("word", "key"), [("doubtful", "offer-look-doubtful"), ("tape", None), ("", None)])
def test_a_judgement_is_offered_in_words_that_there_are(word: str, key: str | None) -> None:
    """Found by test_machine: any other word asked for a sentence that no language has."""
    offered = intent_of(Flat(Kind.JUDGEMENT, name="low", text=word))
    asked = Question(asks=Asks.WHICH_NAME, options=(offered,), is_offer=True)
    offer = replies.question(State(sheet()), asked).fields["offer"]
    assert (offer.key if isinstance(offer, replies.Reply) else None) == key


@pytest.mark.parametrize("kind", [Kind.AMBIGUOUS, Kind.UNKNOWN])
@pytest.mark.parametrize("heard", ["eh", ""])
def test_a_question_that_offers_a_question_is_worded(kind: Kind, heard: str) -> None:
    """Found by test_machine: such an offer has no name in any language, and the sentence was missing."""
    asked = Question(asks=Asks.IMPLAUSIBLE, options=(intent_of(Flat(kind, heard=heard)),), is_offer=True)
    offer = replies.question(State(sheet()), asked).fields["offer"]
    assert offer == heard or (not heard and isinstance(offer, replies.Reply) and offer.key == "ask-say-again")
