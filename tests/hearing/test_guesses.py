"""What no ear wrote, told by its sounds: offered, never taken; but the phrase of a hold that two ears nearly wrote.

The figures are made up; how the networks do on sound is measured in docs/hearing.md. That "is" and "was", "confirm" and
"conform" are taken for one another in noise is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Asks, Kind
from bench_voice.hearing.agree import Act, Decision, agree
from bench_voice.hearing.cascade import texts_for, wants
from bench_voice.ports import Heard, Pass, Sounding
from bench_voice.session.modes import called
from tests.hearing.test_judge import SURE, fit, width_up_to
from tests.hearing.test_sounded import UNHEARD
from tests.hearing.test_three import third
from tests.hearing.test_weigh import AT, LANGUAGE, first, judge, second

PHRASE = "confirm drum is blocked"
CONTRARIES = [PHRASE.replace(word, other) for word in ("confirm", "is") for other in LANGUAGE.contraries[word]]
Figures = Mapping[str, float]


def with_net(heard: Heard, figures: Figures, by_phones: str | None = "", lead: float | None = None) -> Heard:
    """It was asked about these texts; each has this fit, and its worst word the double of it."""
    soundings = tuple(Sounding(text, value, 2 * value, lead) for text, value in figures.items())
    return replace(heard, soundings=soundings, has_phones=True, by_phones=by_phones)


def ears(
    texts: tuple[str, str, str],
    one: Figures,
    two: Figures,
    by_phones: tuple[str | None, str | None] = ("", ""),
    lead: float | None = None,
) -> tuple[Heard, ...]:
    """pocketsphinx heard something else; whisper and moonshine have a network."""
    a, b, c = texts
    return (
        UNHEARD,
        with_net(second(a, "fitted up to", 0.2), one, by_phones[0], lead),
        third(b, "fitted up to", 0.2),
        with_net(judge(c, fit("next", score=-9.0)), two, by_phones[1], lead),
    )


def decide(heard: tuple[Heard, ...], step: str = "measure") -> Decision:
    return agree(width_up_to(90) if step == "measure" else AT[step], heard, LANGUAGE, SURE)


def hooks(took: float, put: float) -> dict[str, float]:
    others = {f"{lead} safety hook": -6.0 for lead in ("fitted", "removed")}
    return {"took off safety hook": took, "put back safety hook": put, **others}


WRITTEN = ("to call safety look", "the cough safely hook", "to pour safety book")


def test_an_item_of_the_sheet_is_offered_where_it_fits_best_and_never_taken() -> None:
    decision = decide(ears(WRITTEN, hooks(-0.1, -3.0), hooks(-0.1, -3.0)))
    assert decision.kind is Act.ASK
    (offered,) = decision.options
    assert (offered.kind, flat_of(offered).name) == (Kind.TAKEN_OFF, "hook")


@pytest.mark.parametrize(("took", "put"), [(-2.4, -4.0), (-0.5, -0.4), (-4.5, -6.0)])
def test_not_where_it_fits_badly_or_as_well_as_another(took: float, put: float) -> None:
    assert decide(ears(WRITTEN, hooks(took, put), hooks(took, put))).kind is not Act.ASK


def test_not_by_one_network_alone() -> None:
    assert decide(ears(WRITTEN, hooks(-0.1, -3.0), {})).kind is not Act.ASK
    assert decide(ears(WRITTEN, hooks(-0.1, -3.0), hooks(-5.0, -6.0))).kind is not Act.ASK


def test_a_command_is_offered_in_the_same_way_and_an_answer_never() -> None:
    written = ("and do that", "i do that", "and do the")
    figures = {"undo that": -0.3}
    decision = decide(ears(written, figures, figures))
    assert [option.kind for option in decision.options] == [Kind.UNDO]
    written = ("a firm", "the firm", "a farm")
    assert decide(ears(written, {"affirm": 0.0}, {"affirm": 0.0})).kind is not Act.ASK


def test_the_networks_are_asked_once_about_what_nobody_wrote() -> None:
    heard = ears(WRITTEN, {}, {}, (None, None))
    assert wants(AT["measure"], heard, LANGUAGE) is Pass.SOUNDS
    texts = texts_for(Pass.SOUNDS, AT["measure"], heard, LANGUAGE)
    assert set(hooks(0, 0)) <= set(texts)
    asked = ears(WRITTEN, dict.fromkeys(texts, -5.0), dict.fromkeys(texts, -5.0))
    assert texts_for(Pass.SOUNDS, AT["measure"], asked, LANGUAGE) == ()
    assert wants(AT["measure"], asked, LANGUAGE) is None
    without = tuple(replace(one, has_phones=False) for one in heard)
    assert wants(AT["measure"], without, LANGUAGE) is None


def test_at_a_hold_they_are_asked_about_its_phrase_what_is_like_it_and_what_turns_it_round() -> None:
    heard = ears(("confirm drum is black", "and firm drum is blocked", "thank you"), {}, {}, (None, None))
    texts = texts_for(Pass.SOUNDS, AT["block"], heard, LANGUAGE)
    assert texts[:3] == (PHRASE, "confirm drum is black", "and firm drum is blocked")
    assert set(texts[3:]) == set(CONTRARIES)
    talk = ears(("thank you", "thank you all", "thanks"), {}, {}, (None, None))
    assert texts_for(Pass.SOUNDS, AT["block"], talk, LANGUAGE) == ()


NEARLY = ("confirm drum is black", "and firm drum is blocked", "confirmed room is blocked")


def holding(phrase: float, contrary: float = -3.0, written: float = -1.5) -> dict[str, float]:
    return {PHRASE: phrase, **dict.fromkeys(CONTRARIES, contrary), **dict.fromkeys(NEARLY, written)}


def is_passed(decision: Decision) -> bool:
    return decision.kind is Act.RECORD and decision.intent is not None and flat_of(decision.intent).name == "blocked"


def test_a_phrase_that_two_ears_nearly_wrote_is_taken_where_both_networks_find_it() -> None:
    assert is_passed(decide(ears(NEARLY, holding(-0.4), holding(-0.7)), "block"))


@pytest.mark.parametrize(
    ("one", "two"),
    [
        (holding(-0.4), holding(-1.2)),  # not there to one of them
        (holding(-0.4), {}),  # which was not asked
        (holding(-0.4, contrary=-0.5), holding(-0.7, contrary=-0.8)),  # "was" fits nearly as well
        (holding(-0.4, contrary=-3.0), holding(-0.7, contrary=-0.6)),  # and better to one of them
        (holding(-0.8, written=-0.4), holding(-0.7)),  # what was written fits better to one of them
        (holding(-0.4), {PHRASE: -0.5}),  # which was not asked about the others
    ],
)
def test_and_not_otherwise(one: Figures, two: Figures) -> None:
    for figures in ((one, two), (two, one)):
        assert not is_passed(decide(ears(NEARLY, *figures), "block"))


def test_a_phrase_that_two_ears_mean_and_the_figures_find_weak_is_held_against_its_contraries() -> None:
    """Two had it whole, of a robotic voice; the third wrote what means nothing."""
    written = (PHRASE, "thank you", "okay")
    heard = (first(PHRASE), *ears(written, {}, {}, (None, None))[1:])
    assert set(CONTRARIES) <= set(texts_for(Pass.SOUNDS, AT["block"], heard, LANGUAGE))
    weak = replace(SURE, record={form: {**least, "hold": 1.1} for form, least in SURE.record.items()})
    for phrase, contrary, is_taken in ((-0.4, -3.0, True), (-0.4, -0.5, False), (-1.5, -3.0, False)):
        figures = dict.fromkeys(written, -2.0) | holding(phrase, contrary)
        asked = (first(PHRASE), *ears(written, figures, figures)[1:])
        assert is_passed(agree(AT["block"], asked, LANGUAGE, weak)) is is_taken, (phrase, contrary)


@pytest.mark.parametrize(
    "written",
    [
        ("confirm drum is black", "thank you", "okay"),  # one ear alone
        ("confirm drum is not blocked", "confirm drum is not black", "confirmed room is blocked"),
        ("confirm drum is black", "and firm drum is blocked", "confirm drum isn't blocked"),
        ("", "", ""),
    ],
)
def test_nor_where_one_ear_alone_is_near_or_any_wrote_a_denial(written: tuple[str, str, str]) -> None:
    figures = {**holding(-0.1), **{text: -1.5 for text in written if text}}
    assert not is_passed(decide(ears(written, figures, figures), "block"))


values = st.floats(-6, 0)
# Near misses of the phrase, and talk.
texts = st.sampled_from(
    ["conform drum is blocked", "confirm drum was blocked", "affirm drum is blocked", "confirm drum", "drum is blocked",
     "confirm drum will be blocked", "confirm the drum isn't blocked", "good morning", "is drum blocked", "confirm"]
)  # fmt: skip


@settings(deadline=None)
@given(texts, texts, texts, st.lists(values, min_size=40, max_size=40))
def test_what_is_written_right_goes_before_the_phrase_where_it_fits_better(
    a: str, b: str, c: str, figures: list[float]
) -> None:
    """Whatever else the networks find: the phrase never passes over a text that leads in both of them."""
    asked = list(dict.fromkeys((PHRASE, *CONTRARIES, a, b, c)))
    one, two = dict(zip(asked, figures, strict=False)), dict(zip(asked, figures[20:], strict=False))
    decision = decide(ears((a, b, c), one, two), "block")
    near = [text for text in (*CONTRARIES, a, b, c) if text in CONTRARIES or "drum" in text.split()]
    leads = [min(one[text] - one[PHRASE], two[text] - two[PHRASE]) for text in near if text != PHRASE]
    if max(leads) > 0.3:
        assert not is_passed(decision)


SEVEN, SIX = "rope width seventy seven", "rope width seventy six"


def test_the_number_that_leads_in_both_is_offered_first() -> None:
    heard = ears((SEVEN, SEVEN, "thank you all"), {SEVEN: -0.9}, {SEVEN: -0.9}, ("", ""), -4.0)
    with_rival = tuple(
        replace(one, soundings=tuple(replace(found, rival=SIX) for found in one.soundings)) for one in heard
    )
    assert SIX in texts_for(Pass.SOUNDS, width_up_to(90), with_rival, LANGUAGE)
    best = Sounding(SIX, -0.2, -0.5, 4.0)
    asked = tuple(replace(one, soundings=(*one.soundings, best)) if one.soundings else one for one in heard)
    decision = decide(asked)
    assert decision.kind is Act.ASK
    assert str(flat_of(decision.options[0]).value) == "76"


def test_what_both_networks_hear_is_offered_though_no_ear_wrote_it() -> None:
    heard = ears(("hurry", "maybe so", "thank you"), {SIX: -0.3}, {SIX: -0.6}, (SIX, SIX), 0.5)
    decision = decide(heard)
    assert decision.kind is Act.ASK
    assert decision.intent is not None
    assert flat_of(decision.intent).asks is Asks.CONFIRM_NUMBER
    assert [str(flat_of(option).value) for option in decision.options] == ["76"]
    bad = ears(("hurry", "maybe so", "thank you"), {SIX: -4.5}, {SIX: -0.9}, (SIX, SIX), 0.5)
    assert decide(bad).kind is not Act.ASK, "talk is some reading, too, and fits badly"


def test_where_they_hear_different_values_both_are_named_unless_an_ear_wrote_one_of_them() -> None:
    figures = {SIX: -0.3, SEVEN: -0.9}
    nobody = decide(ears(("hurry", "maybe so", "thank you"), figures, figures, (SEVEN, SIX), -2.0))
    assert [str(flat_of(option).value) for option in nobody.options] == ["76", "77"], "the likelier first"
    written = decide(ears((SEVEN, "maybe so", "thank you"), figures, figures, (SEVEN, SIX), -2.0))
    assert [str(flat_of(option).value) for option in written.options] == ["77", "76"]
    eight = "rope width seventy eight"
    other = decide(ears((eight, "maybe so", "thank you"), figures, figures, (SEVEN, SIX), -2.0))
    assert [str(flat_of(option).value) for option in other.options] == ["78"]


def test_a_value_that_two_ears_wrote_is_asked_about_where_both_networks_hear_another() -> None:
    figures = {SEVEN: -0.5, SIX: -0.4}
    same = decide(ears((SEVEN, SEVEN, SEVEN), figures, figures, (SEVEN, SEVEN), 4.0))
    assert same.kind is Act.RECORD
    other = decide(ears((SEVEN, SEVEN, SEVEN), figures, figures, (SIX, SIX), 4.0))
    assert other.kind is Act.ASK
    assert [str(flat_of(option).value) for option in other.options] == ["77", "76"]


def test_a_question_back_of_another_kind_stays() -> None:
    said = "rope width"
    figures = {SIX: -0.1}
    before = decide(ears((said, said, said), {}, {}))
    assert before.intent is not None
    assert flat_of(before.intent).asks not in (None, Asks.WHICH_NUMBER, Asks.CONFIRM_NUMBER)
    assert decide(ears((said, said, said), figures, figures, (SIX, SIX), 9.0)).intent == before.intent


def test_the_call_word_is_taken_off_what_the_networks_hear() -> None:
    one = replace(judge("bench rope width six"), by_phones="bench rope width six", has_phones=True)
    assert called((one,), "bench").heard[0].by_phones == "rope width six"


def test_an_item_that_two_ears_wrote_is_the_sheets_where_that_sounds_nearly_as_well() -> None:
    """ "Took off shifty cook" to all three, and no more like it than the hook."""
    written, name = "took off shifty cook", "took off safety hook"
    others = {f"{lead} safety hook": -6.0 for lead in ("fitted", "removed", "put back")}

    def heard(fit_of_name: float) -> tuple[Heard, ...]:
        figures = {written: -0.2, name: fit_of_name, **others}
        return ears((written, written, written), figures, figures)

    at_once = tuple(replace(one, soundings=()) for one in heard(0.0))
    assert name in texts_for(Pass.SOUNDS, AT["measure"], at_once, LANGUAGE)
    near = decide(heard(-0.7))
    assert near.kind is Act.ASK
    assert [flat_of(option).name for option in near.options] == ["hook"]
    far = decide(heard(-1.5))
    assert far.kind is Act.RECORD
    assert far.intent is not None
    assert (flat_of(far.intent).name, flat_of(far.intent).text) == (None, "shifty cook")
