"""Free texts as they were meant, and what may come of a mended one."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Intent, Kind
from bench_voice.hearing.agree import Act
from bench_voice.hearing.mend import mended, said_once, with_lead_in, with_name
from bench_voice.ports import Heard
from tests.hearing.test_judge import SURE, UNHEARD, decide, judge
from tests.hearing.test_three import third
from tests.hearing.test_weigh import AT, LANGUAGE, closer, first, second

PHRASE = "confirm drum is blocked"
HOOK = "took off safety hook"


def test_a_name_that_was_misheard_is_that_name_before_a_number() -> None:
    assert with_name("rope with eight point nine", AT["measure"], LANGUAGE) == "rope width eight point nine"
    assert with_name("the kettle is nine", AT["measure"], LANGUAGE) == ""
    assert mended("not point four to", LANGUAGE) == "nought point four to"
    assert mended("one point to", LANGUAGE) == "one point two"
    assert mended("not four point six", LANGUAGE) == "not four point six"  # a denial stays one
    assert mended("eighty new meters", LANGUAGE) == "eighty newton meters"
    assert mended("eighty newton", LANGUAGE) == "eighty newton metres"
    assert mended("fit new", LANGUAGE) == "fit new"


# -- a text that repeats itself


def test_a_sentence_that_is_written_over_and_over_is_said_once() -> None:
    assert said_once(f"{PHRASE} {PHRASE} {PHRASE}", LANGUAGE) == PHRASE
    assert said_once(f"{PHRASE} {PHRASE} confirm drum", LANGUAGE) == PHRASE  # cut off in the middle
    assert said_once(f"{PHRASE} {PHRASE} confirm rope", LANGUAGE) == f"{PHRASE} {PHRASE} confirm rope"


def test_what_may_be_said_twice_is_left_alone() -> None:
    for text in ("two two two two", "one two three one two three", "next step next step", "no no no", PHRASE, ""):
        assert said_once(text, LANGUAGE) == text


@given(st.lists(st.sampled_from(["confirm", "rope", "two", "point", "is", "not"]), max_size=12))
def test_no_word_is_made_up_or_turned_round(words: list[str]) -> None:
    found = said_once(" ".join(words), LANGUAGE).split()
    assert words[: len(found)] == found
    assert all(word in found for word in words)


def test_a_repeated_hold_phrase_counts_as_that_phrase_and_one_with_a_denial_does_not() -> None:
    passed = decide(first(PHRASE), second(f"{PHRASE} {PHRASE}"), step="block")
    assert passed.kind is Act.RECORD
    assert passed.intent is not None
    assert passed.intent.kind is Kind.CONFIRM
    denied = "confirm drum is not blocked"
    for others in (
        (closer(PHRASE), third(f"{denied} {denied}", PHRASE)),
        (second(denied, PHRASE), third(PHRASE, PHRASE)),
    ):
        assert decide(first(PHRASE), *others, step="block").kind is Act.AGAIN


# -- an item whose lead-in was lost


def test_an_item_after_something_like_a_lead_in_is_that() -> None:
    for text, meant in (
        ("two off safety hook", HOOK),
        ("to off safety hook", HOOK),
        ("for back safety hook", "put back safety hook"),
        ("but back safety hook", "put back safety hook"),
    ):
        assert with_lead_in(text, AT["measure"], LANGUAGE) == meant


def test_talk_about_an_item_is_no_lead_in() -> None:
    for text in (
        "safety hook",
        "when you look at the safety hook",
        "where did I leave the safety hook",
        "say took off safety hook",
        "grease the kettle",
        "two off safety rope",
        "",
    ):
        assert with_lead_in(text, AT["measure"], LANGUAGE) == ""


def offered(*heard: Heard) -> Intent | None:
    decision = decide(*heard, model=SURE)
    assert decision.kind is not Act.RECORD
    return decision.options[0] if decision.options else None


def test_an_item_that_two_ears_half_heard_is_offered_and_never_taken() -> None:
    found = offered(UNHEARD, closer("two off safety hook"), third("to off safety hook", ""), judge("to rock city"))
    assert found is not None
    assert (found.kind, flat_of(found).name) == (Kind.TAKEN_OFF, "hook")


def test_what_two_families_of_ears_wrote_alike_was_said_so() -> None:
    for text in ("look at the safety hook", "two off safety hook"):
        assert offered(UNHEARD, closer(text), third(text, ""), judge(text)) is None


def test_one_ear_that_half_heard_it_or_two_that_differ_offer_nothing() -> None:
    assert offered(UNHEARD, closer("two off safety hook"), third("thank you", ""), judge("to rock city")) is None
    both = offered(UNHEARD, closer("two off safety hook"), third("for back safety hook", ""), judge("to rock city"))
    assert both is None


def test_a_command_that_sounds_like_what_two_free_ears_wrote_is_offered() -> None:
    """ "Undo that" is "and do that" to them (report part)."""
    heard = closer("and do that"), third("and do that", ""), judge("then do that")
    found = offered(first("undo that"), *heard)
    assert found is not None
    assert found.kind is Kind.UNDO
    for other in (first("next"), first("affirm"), first("rope width four point six"), first("stop the job")):
        assert offered(other, *heard) is None
    assert offered(first("undo that"), closer("and do that"), third("good morning", ""), judge("good morning")) is None
