"""A hold's phrase and what turns it round: "is" and "was", "has" and "had". In noise the ears write the likelier one.

The figures are made up after those of the develop and calibrate parts' sentences in noise (docs/hearing.md). That "is"
and "was" are taken for one another in noise, and that what was so once need not be so now, is common practice,
no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.core.intents import Kind
from bench_voice.hearing.agree import Act, agree
from bench_voice.hearing.contraries import contraries
from bench_voice.ports import Heard
from tests.hearing.test_guesses import CONTRARIES, PHRASE, decide, ears, holding, is_passed
from tests.hearing.test_judge import SURE
from tests.hearing.test_weigh import AT, LANGUAGE, first

WHOLE = (PHRASE, PHRASE, PHRASE)
WAS = "confirm drum was blocked"
NEARLY = ("confirm drum is black", "confirm drum is block", "and firm room is blocked")


def leading(by: float, written: tuple[str, str, str], over: str = WAS) -> tuple[Heard, ...]:
    """Both networks find the whole phrase likelier than one contrary by so much (fit times letters), and than the
    others by far."""
    figures = {**dict.fromkeys(CONTRARIES, -4.0), **dict.fromkeys(written, -1.5), PHRASE: -0.3}
    figures[over] = -(0.3 * len(PHRASE) + by) / len(over)
    return ears(written, figures, figures)


def test_each_small_word_is_turned_round() -> None:
    found = contraries(PHRASE, LANGUAGE)
    assert {WAS, "confirm drum is not blocked", "confirm drum isn't blocked", "conform drum is blocked"} <= set(found)
    assert PHRASE not in found
    assert all(text.endswith("drum is blocked") or text.startswith("confirm drum ") for text in found)


def test_a_phrase_that_three_ears_wrote_needs_a_lead_over_its_contraries() -> None:
    assert is_passed(decide(leading(10.5, WHOLE), "block"))
    decision = decide(leading(8.8, WHOLE), "block")
    assert (decision.kind, decision.why) == (Act.AGAIN, "a contrary sounds nearly as well")
    assert not is_passed(decide(leading(-17.0, WHOLE), "block"))


def test_less_where_the_first_ear_heard_it_or_only_the_beginning_differs() -> None:
    with_first = (first(PHRASE), *leading(8.8, (PHRASE, PHRASE, "thank you"))[1:])
    assert is_passed(decide(with_first, "block"))
    with_first = (first(PHRASE), *leading(2.4, (PHRASE, PHRASE, "thank you"))[1:])
    assert not is_passed(decide(with_first, "block"))
    begins = "conform drum is blocked"
    assert is_passed(decide(leading(5.0, WHOLE, begins), "block"))
    assert not is_passed(decide(leading(3.0, WHOLE, begins), "block"))


def test_most_where_it_is_told_by_its_sounds_alone() -> None:
    assert is_passed(decide(leading(14.5, NEARLY), "block"))
    assert not is_passed(decide(leading(11.7, NEARLY), "block"))
    assert not is_passed(decide(leading(11.7, NEARLY, "conform drum is blocked"), "block"))


@pytest.mark.parametrize("contrary", [WAS, "confirm drum will be blocked", "confirm drum is nearly blocked"])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_one_ear_that_wrote_a_contrary_is_enough(contrary: str, place: int) -> None:
    """Two Whispers had "confirm everyone was clear at the mixer", and its sounds passed the hold."""
    written = list(WHOLE)
    written[place] = contrary
    figures = holding(-0.1)
    heard = (first(PHRASE), *ears((written[0], written[1], written[2]), figures, figures)[1:])
    assert not is_passed(decide(heard, "block"))
    figures = holding(-0.1) | dict.fromkeys((*NEARLY, f"{contrary} up"), -1.5)
    written = list(NEARLY)
    written[place] = f"{contrary} up"
    assert not is_passed(decide(ears((written[0], written[1], written[2]), figures, figures), "block"))


def test_or_that_gives_one_weight() -> None:
    def heard(weight: float) -> tuple[Heard, ...]:
        one, two, *others = leading(30.0, WHOLE)
        return (one, replace(two, alternatives=((WAS, weight / 2), ("confirm room was blocked", weight / 2))), *others)

    assert is_passed(decide(heard(0.15), "block"))
    assert not is_passed(decide(heard(0.25), "block"))


def test_what_only_begins_otherwise_is_no_contrary_of_a_verb() -> None:
    """ "And firm" is how an ear cuts "confirm" in two."""
    written = (PHRASE, PHRASE, "and firm drum is blocked")
    figures = holding(-0.1) | {written[2]: -1.5}
    assert is_passed(decide(ears(written, figures, figures), "block"))


def test_without_networks_two_ears_decide_as_before() -> None:
    heard = tuple(replace(one, soundings=(), has_phones=False) for one in leading(0.0, WHOLE))
    assert is_passed(decide(heard, "block"))


def test_a_language_that_names_no_contraries_takes_no_phrase_by_its_sounds() -> None:
    silent = replace(LANGUAGE, contraries={})
    assert not is_passed(agree(AT["block"], leading(30.0, NEARLY), silent, SURE))
    assert is_passed(agree(AT["block"], leading(30.0, WHOLE), silent, SURE))


leads = st.floats(-40, 40)


@settings(deadline=None)
@given(st.lists(leads, min_size=len(CONTRARIES), max_size=len(CONTRARIES)), st.sampled_from([WHOLE, NEARLY]))
def test_whatever_the_figures_a_phrase_that_passes_leads_over_every_contrary(
    each: list[float], written: tuple[str, str, str]
) -> None:
    figures = {**dict.fromkeys(written, -1.5), PHRASE: -0.3}
    for text, lead in zip(CONTRARIES, each, strict=True):
        figures[text] = -(0.3 * len(PHRASE) + lead) / len(text)
    passed = is_passed(decide(ears(written, figures, figures), "block"))
    assert not passed or min(each) >= 3.99


def test_a_denial_that_became_a_note_is_none() -> None:
    """ "No chuck key has been removed" was "note key has been removed" to three ears, in a hum (report part)."""
    note = "note drum is blocked"
    decision = decide(ears((note, note, "note that drum was blocked"), {}, {}), "block")
    assert (decision.kind, decision.why) == (Act.AGAIN, "a note of nearly the hold's words")
    other = "note left hose is cracked at the clip"
    decision = decide(ears((other, other, other), {}, {}), "block")
    assert decision.kind is Act.RECORD
    assert decision.intent is not None
    assert decision.intent.kind is Kind.NOTE
    elsewhere = decide(ears((note, note, note), {}, {}), "measure")
    assert elsewhere.kind is Act.RECORD, "where nothing is held it is a note like any"


def test_what_two_ears_have_only_when_held_to_the_words_has_to_be_there_by_its_sounds() -> None:
    """ "Confirm area around sprayer was empty" at 5 dB was the phrase to both Whispers, held to the step's words."""
    written = ("confirm drum is black", PHRASE, "in front room is blocked")

    def heard(fit: float) -> tuple[Heard, ...]:
        figures = {**dict.fromkeys(CONTRARIES, -4.0), **dict.fromkeys(written, -1.5), PHRASE: fit}
        one, two, three, four = ears(written, figures, figures)
        return (one, replace(two, words=PHRASE, weight=0.9), replace(three, words=PHRASE, weight=0.9), four)

    assert is_passed(decide(heard(-0.3), "block"))
    decision = decide(heard(-1.35), "block")
    assert (decision.kind, decision.why) == (Act.AGAIN, "fewer than two ears had the whole phrase")
    assert is_passed(decide((first(PHRASE), *heard(-1.35)[1:]), "block")), "with the first ear it is two"
