"""What the phone networks of two ears may do: clear doubts about a value, raise them, never pass a hold.

The figures are made up; how the networks do on sound is measured in docs/hearing.md. That "fifteen" and "fifty" are
taken for one another by any ear is common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench_voice.core.flat import flat_of
from bench_voice.hearing.agree import Act, Decision, agree
from bench_voice.hearing.cascade import wants
from bench_voice.hearing.figures import FORMS
from bench_voice.hearing.weigh import Form, Model
from bench_voice.ports import Heard, Pass, Sounding
from bench_voice.session.modes import called
from tests.hearing.test_judge import AT_ONCE, GROUPS, SURE, fit, width_up_to
from tests.hearing.test_three import third
from tests.hearing.test_weigh import AT, LANGUAGE, closer, first, judge, second

SIX = "rope width four point six millimetres"
TWIN = "rope width fifty"
UNHEARD = replace(AT_ONCE, evidence={"speech_s": 2.4, "per_frame": -2.5, "worst": -7.0, "phones": 1.4})


def sounded(heard: Heard, *soundings: Sounding) -> Heard:
    return replace(heard, soundings=soundings)


def sounding(words: str, fit: float = -0.1, worst: float = -0.5, lead: float | None = 12.0) -> Sounding:
    return Sounding(words, fit, worst, lead)


def ears(text: str, one: Sounding | None, two: Sounding | None, *, margin: float = 0.0) -> tuple[Heard, ...]:
    """Both Whispers wrote it, moonshine didn't; pocketsphinx heard something else."""
    return (
        UNHEARD,
        sounded(closer(text), *([one] if one else [])),
        third(text, text),
        sounded(judge("thank you", fit(text, margin=margin)), *([two] if two else [])),
    )


def decide(heard: tuple[Heard, ...], step: str = "measure") -> Decision:
    return agree(width_up_to(90) if step == "measure" else AT[step], heard, LANGUAGE, SURE)


def test_a_twin_that_is_in_doubt_is_recorded_where_both_networks_find_it_clear() -> None:
    assert decide(ears(TWIN, None, None)).kind is Act.ASK
    clear = sounding(TWIN)
    decision = decide(ears(TWIN, clear, clear))
    assert decision.kind is Act.RECORD
    assert decision.intent is not None
    assert str(flat_of(decision.intent).value) == "50"


def test_behind_a_last_zero_a_digit_may_be_lost_unless_both_are_as_sure_as_of_one_ears_word() -> None:
    text = "rope width four point one zero"
    sure, clear = sounding(text), sounding(text, fit=-0.9, worst=-5.7, lead=5.8)
    assert decide(ears(text, sure, sure)).kind is Act.RECORD
    assert decide(ears(text, sure, clear)).kind is Act.ASK
    heard_by_first = (first(text), *ears(text, sure, clear)[1:])
    assert decide(heard_by_first).kind is Act.RECORD


def test_an_item_that_the_sheet_lacks_is_the_one_it_has_where_both_hear_that_as_well() -> None:
    """ "Put back and look" to three ears, "put back safety hook" to the first."""
    written, name = "put back and look", "put back safety hook"

    def heard(two: float) -> tuple[Heard, ...]:
        return (
            first(name, {"speech_s": 1.2, "per_frame": -1.8, "worst": -4.6, "phones": 0.8}),
            sounded(closer(written), sounding(written, -0.4), sounding(name, -0.6)),
            third(written, written),
            sounded(
                judge(written, fit(written), fit(name, score=-9.0)), sounding(written, -0.4), sounding(name, two, -2.5)
            ),
        )

    decision = decide(heard(-0.8))
    assert decision.kind is Act.ASK
    assert [flat_of(option).name for option in decision.options] == ["hook"]
    assert not decide(heard(-1.5)).options


@pytest.mark.parametrize(
    "weak",
    [sounding(TWIN, lead=4.0), sounding(TWIN, fit=-2.0), sounding(TWIN, worst=-12.0), sounding(TWIN, lead=None), None],
)
def test_one_of_them_alone_clears_nothing(weak: Sounding | None) -> None:
    assert decide(ears(TWIN, sounding(TWIN), weak)).kind is Act.ASK
    assert decide(ears(TWIN, weak, sounding(TWIN))).kind is Act.ASK


def test_a_value_whose_number_sounds_otherwise_is_asked_about_whoever_wrote_it() -> None:
    heard = (first(SIX), closer(SIX), third(SIX, SIX), judge(SIX, fit(SIX)))
    assert decide(heard).kind is Act.RECORD
    against = sounding(SIX, lead=-3.0)
    denied = (heard[0], sounded(heard[1], against), heard[2], sounded(heard[3], against))
    assert decide(denied).kind is Act.ASK


def test_what_one_ear_alone_wrote_is_recorded_where_both_are_sure() -> None:
    def alone(one: Sounding, two: Sounding) -> tuple[Heard, ...]:
        return (
            UNHEARD,
            sounded(closer(SIX), one),
            third("rope with", "rope width", 0.3),
            sounded(judge("rope which", fit(SIX, margin=0.0)), two),
        )

    decision = decide(alone(sounding(SIX), sounding(SIX)))
    assert decision.kind is Act.RECORD
    assert decision.intent is not None
    assert str(flat_of(decision.intent).value) == "4.6"
    assert decide(alone(sounding(SIX), sounding(SIX, fit=-0.9))).kind is not Act.RECORD
    assert decide(alone(sounding(SIX, lead=3.5), sounding(SIX))).kind is not Act.RECORD


def test_an_eight_through_a_telephone_is_asked_about_all_the_same() -> None:
    text = "rope width eight millimetres"
    clear = sounding(text)
    heard = ears(text, clear, clear, margin=4.0)
    assert decide(heard).kind is Act.RECORD
    dull = tuple(replace(one, evidence={**one.evidence, "hiss_db": -60.0}) for one in heard)
    assert decide(dull).kind is Act.ASK


@pytest.mark.parametrize(
    ("one", "two", "act"), [(7.0, 5.5, Act.RECORD), (7.0, 4.5, Act.ASK), (7.0, None, Act.ASK), (-3.0, -2.0, Act.ASK)]
)
def test_unless_its_vowel_is_that_of_an_eight_wherever_either_network_finds_it(
    one: float | None, two: float | None, act: Act
) -> None:
    text = "rope width eight millimetres"
    heard = ears(text, replace(sounding(text), eight=one), replace(sounding(text), eight=two), margin=4.0)
    dull = tuple(replace(found, evidence={**found.evidence, "hiss_db": -60.0}) for found in heard)
    assert decide(dull).kind is act


def test_the_networks_are_asked_about_an_eight_through_a_telephone_however_well_it_was_heard() -> None:
    text = "rope width eight millimetres"
    heard = first(text), second(text), third(text, text), judge(text)
    assert wants(AT["measure"], heard, LANGUAGE) is None
    dull = tuple(replace(found, evidence={**found.evidence, "hiss_db": -60.0}) for found in heard)
    assert wants(AT["measure"], dull, LANGUAGE) is Pass.OPINION


@pytest.mark.parametrize(
    ("other", "act"), [("one two six one", Act.RECORD), ("one six six six one", Act.ASK), ("thank you", Act.RECORD)]
)
def test_a_row_of_digits_is_asked_about_where_one_ear_wrote_another_of_as_many(other: str, act: Act) -> None:
    """ "One six six six one" of a person at 8 kHz was "one two six six one" to two ears and both networks (report
    part)."""
    text = "rope width one two six six one"
    clear = sounding(text)
    heard = list(ears(text, clear, clear))
    heard[2] = third(f"rope width {other}", f"rope width {other}")
    heard[3] = sounded(judge(text, fit(text)), clear)
    assert agree(width_up_to(50_000), heard, LANGUAGE, SURE).kind is act


@pytest.mark.parametrize(
    ("lead", "by_phones", "act"),
    [
        (12.0, "rope width one six four", Act.RECORD),
        (5.0, "rope width one six four", Act.ASK),
        (12.0, "rope width one six", Act.ASK),
        (12.0, None, Act.ASK),
    ],
)
def test_a_row_of_digits_that_both_networks_hear_is_taken_whatever_the_other_ears_wrote(
    lead: float, by_phones: str | None, act: Act
) -> None:
    """ "One six four" of a person at 8 kHz was "take four" and "one eight four" to other ears (report part)."""
    text = "rope width one six four"
    found = sounding(text, lead=lead)
    heard = (
        UNHEARD,
        replace(sounded(closer(text), found), by_phones=text),
        third("rope width one nine four", "rope width one nine four"),
        replace(sounded(judge("rope width take four", fit(text)), found), by_phones=by_phones),
    )
    assert agree(width_up_to(50_000), heard, LANGUAGE, SURE).kind is act


def test_a_row_of_digits_that_no_ear_wrote_is_never_taken() -> None:
    text, other = "rope width one six four", "rope width take four"
    found = sounding(text)
    heard = (
        UNHEARD,
        replace(sounded(closer(other), found), by_phones=text),
        third(other, other),
        replace(sounded(judge(other, fit(text)), found), by_phones=text),
    )
    decision = agree(width_up_to(50_000), heard, LANGUAGE, SURE)
    assert decision.kind is Act.ASK
    assert str(flat_of(decision.options[0]).value) == "164"


@pytest.mark.parametrize("least", [0.5, 2.0])
def test_what_the_first_ear_and_a_free_one_missed_has_to_lead_in_each_network(least: float) -> None:
    """ "Three nine two five" was "two nine two five" to two ears; that led by 2.3 and 0.8 (report part)."""
    one, two = sounding(SIX, lead=2.9), sounding(SIX, lead=least)
    heard = ears(SIX, one, two)
    assert decide(heard).kind is (Act.RECORD if least > 1 else Act.ASK)
    by_all = (*heard[:3], sounded(judge(SIX, fit(SIX)), two))
    assert decide(by_all).kind is Act.RECORD
    by_first = (first(SIX), *heard[1:])
    assert decide(by_first).kind is Act.RECORD


@pytest.mark.parametrize(
    ("wrote", "act"),
    [
        ("blade much forty six millimetres", Act.ASK),
        ("rope width four point seven", Act.ASK),
        ("thank you", Act.RECORD),
    ],
)
def test_one_ear_and_both_networks_are_not_enough_against_two_that_wrote_other_numbers(wrote: str, act: Act) -> None:
    """ "Seventy two point five" was "seven two two point five" to one ear and both networks (report part)."""
    clear = sounding(SIX)
    other = "rope width four point nine millimetres"
    heard = (
        UNHEARD,
        sounded(closer(SIX), clear),
        third(other, other),
        sounded(judge(wrote, fit(SIX)), clear),
    )
    assert decide(heard).kind is act


def test_what_is_not_plausible_for_the_part_takes_the_first_ear_or_all_others_however_clear() -> None:
    text = "rope width seven two two point five"
    clear = sounding(text)
    heard = ears(text, clear, clear, margin=4.0)
    assert agree(width_up_to(75), heard, LANGUAGE, SURE).kind is Act.ASK
    assert agree(width_up_to(900), heard, LANGUAGE, SURE).kind is Act.RECORD
    by_all = (*heard[:3], sounded(judge(text, fit(text)), clear))
    assert agree(width_up_to(75), by_all, LANGUAGE, SURE).kind is Act.RECORD


@pytest.mark.parametrize(
    ("wrote", "act"), [("next month is no good for me", Act.AGAIN), ("next thing", Act.RECORD), ("", Act.RECORD)]
)
def test_a_command_is_not_taken_where_one_ear_heard_a_sentence(wrote: str, act: Act) -> None:
    """Of a radio (report part, an hour of talk)."""
    assert decide((first("next"), closer("next"), third(wrote, wrote), judge("thanks"))).kind is act


def test_a_number_that_nobody_says_so_is_asked_about_all_the_same() -> None:
    text = "zero point forty millimetres"
    assert decide(ears(text, sounding(text), sounding(text))).kind is Act.ASK


phrases = st.sampled_from(["conform drum is blocked", "confirm drum is not blocked", "confirm drum", "drum is blocked"])


@given(phrases, phrases, phrases)
def test_no_sounding_passes_a_hold(one: str, two: str, three: str) -> None:
    """However well the phrase's phones fit: two ears have to have heard it."""
    phrase = "confirm drum is blocked"
    best = Sounding(phrase, 0.0, 0.0, None)
    heard = (
        first(one),
        sounded(closer(two), best),
        third(three, three),
        sounded(judge(two, fit(phrase)), best),
    )
    decision = decide(heard, "block")
    assert decision.kind is not Act.RECORD or decision.intent is None or flat_of(decision.intent).name != "blocked"


def test_a_hold_that_two_ears_wrote_and_both_networks_find_unlike_has_to_be_said_again() -> None:
    """ "Conform drum is blocked" was "confirm ..." to the first ear and a free one."""
    phrase = "confirm drum is blocked"

    def heard(fit_of_one: float, fit_of_other: float) -> tuple[Heard, ...]:
        return (
            first(phrase),
            sounded(closer(phrase), sounding(phrase, fit_of_one, -7.5, None)),
            third("conford and drum is blocked", "conford and drum is blocked"),
            sounded(judge("conformed drum is blocked"), sounding(phrase, fit_of_other, -5.3, None)),
        )

    assert decide(heard(-2.1, -1.96), "block").kind is Act.AGAIN
    assert decide(heard(-1.2, -1.96), "block").kind is Act.RECORD, "one of them alone denies nothing"
    assert decide(heard(-0.8, -0.8), "block").kind is Act.RECORD


def test_the_call_word_is_taken_off() -> None:
    heard = (sounded(judge("bench next"), Sounding("bench next", 0.0, 0.0)),)
    assert called(heard, "bench").heard[0].soundings == (Sounding("next", 0.0, 0.0),)


def test_an_answer_that_one_ear_asked_for_is_not_given_where_its_phones_fit_neither_network() -> None:
    """ "Speak quieter" of a robotic voice in babble was "speak louder" to one ear held to the step's words."""

    def heard(fit: float) -> tuple[Heard, ...]:
        found = sounding("speak louder", fit, -10.0)
        return (
            UNHEARD,
            sounded(replace(closer("speak louder"), free_words="speak wider"), found),
            third("stick wider", "speak quieter"),
            sounded(judge("stick wired up"), found),
        )

    assert decide(heard(-0.3)).kind is Act.RECORD
    assert decide(heard(-4.6)).kind is Act.AGAIN


@pytest.mark.parametrize("answer", ["affirm", "negative"])
def test_an_answer_of_one_word_that_is_weak_by_its_figures_is_taken_where_both_networks_find_it(answer: str) -> None:
    """ "Affirm" of a diphone voice was "the firm" to two ears, and -0.25 at worst to the networks (report part)."""
    weak = Model(
        {name: Form(-20.0, {}) for name in FORMS},
        {name: dict.fromkeys(GROUPS, 0.5) for name in FORMS},
        {name: dict.fromkeys(GROUPS, 0.5) for name in FORMS},
    )

    def kind(by_first: str, one: float, other: float) -> Act:
        heard = (
            first(by_first),
            sounded(closer(answer), sounding(answer, one, one, None)),
            third("the firm", "the"),
            sounded(judge("the firm", fit(answer)), sounding(answer, other, other, None)),
        )
        return agree(AT["block"], heard, LANGUAGE, weak).kind

    assert kind(answer, 0.0, -0.25) is Act.RECORD
    assert kind(answer, 0.0, -2.1) is not Act.RECORD, "one of them alone clears nothing"
    assert kind("next", 0.0, 0.0) is not Act.RECORD, "the first ear has to have heard it"
