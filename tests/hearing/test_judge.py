"""The free ear of another family beside two of one: what its own text and its opinion of the others' texts may do.

The rules are tried with a model that is sure of everything (SURE), so that no coefficient decides what they allow;
where the shipped one is meant, the evidence is clear. That networks of one family mishear alike and two families seldom
do is from our own corpus (calibrate part); no outside source."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from decimal import Decimal
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Asks, Expected, Kind
from bench_voice.core.sheet import Limit, ReadingSpec
from bench_voice.hearing import evidence
from bench_voice.hearing.agree import Act, Decision, agree
from bench_voice.hearing.cascade import texts_for, wants
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.figures import FORMS, figures
from bench_voice.hearing.weigh import Form, Model, form_of, load_model
from bench_voice.ports import Fit, Heard, Pass
from bench_voice.session.meaning import ears_json
from bench_voice.speech.understand import understand
from tests.hearing.test_three import NOISE, SILENT, third
from tests.hearing.test_weigh import AT, LANGUAGE, MEASURE, POOR, SHEET, closer, first, judge, second

GROUPS = ("value", "command", "item", "harmless", "text", "hold", "question")
SURE = Model(
    {name: Form(20.0, {}) for name in FORMS},
    {name: dict.fromkeys(GROUPS, 0.0) for name in FORMS},
    {name: dict.fromkeys(GROUPS, 0.0) for name in FORMS},
)
WIDTH = "rope width four point six millimetres"
OTHER = "rope width four point eight millimetres"
AT_ONCE = first("fitted up to", {"speech_s": 1.2, "words": 3.0})
UNHEARD = first("fitted up to", POOR)
TALK = third("thank you", "", 0.0)  # heard something else, and nothing when held to the step's words


def fit(words: str, *, score: float = 0.0, tail: float = -0.1, margin: float = 4.0, point: float = 4.0) -> Fit:
    """By default as good as can be: its own best text, and no other number near."""
    return Fit(words, score, tail, margin, point)


def decide(*heard: Heard, step: str = "measure", model: Model | None = SURE) -> Decision:
    return agree(AT[step], heard, LANGUAGE, model)


def width_up_to(high: int) -> Expected:
    """The step with a rope width of 2 mm to `high`, so that such a value is plausible."""
    wide = replace(SHEET.readings["width"], limit=Limit("mm", low=Decimal(2), high=Decimal(high)))
    return Expected.at(replace(SHEET, readings={"width": wide}), MEASURE)


def case_of(*heard: Heard, step: str = "measure") -> Case:
    return Case.of(heard, AT[step], LANGUAGE)


def value_of(decision: Decision) -> str:
    assert decision.intent is not None
    return str(flat_of(decision.intent).value)


def test_what_it_wrote_in_other_letters_is_not_held_against_the_phrase() -> None:
    """ "Confirm drums blocked" is the phrase, though the phrase's own letters are odd to it."""
    phrase = "confirm drum is blocked"
    odd = fit(phrase, score=-20.0, tail=-2.5)
    plain = judge(phrase, odd)
    respelt = replace(plain, evidence={**plain.evidence, "same_sound": 1.0})
    found = [case_of(first(phrase), closer(phrase), third(phrase), one, step="block") for one in (plain, respelt)]
    scores = [figures(case, understand(phrase, AT["block"])).get("judge_tail", 0.0) for case in found]
    assert scores == [-2.5, 0.0]


# -- who is who


def test_each_ear_has_its_part() -> None:
    case = case_of(UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH, fit(WIDTH)))
    assert [w.heard.ear for w in case.firsts] == ["pocketsphinx"]
    assert [w.heard.ear for w in case.frees] == ["whisper", "whisper-tiny"]
    assert [w.heard.ear for w in case.writers] == ["whisper", "whisper-tiny", "moonshine"]
    assert case.judge is not None
    assert not case.judge.is_limited
    assert len({w.family for w in case.writers}) == 2  # the two Whispers are one


def test_two_of_one_family_have_no_judge_and_a_judge_alone_is_the_second() -> None:
    assert case_of(UNHEARD, closer(WIDTH), third(WIDTH, WIDTH)).judge is None
    alone = case_of(UNHEARD, judge(WIDTH))
    assert alone.judge is None
    assert alone.second is not None
    assert alone.second.heard.ear == "moonshine"
    pair = case_of(UNHEARD, closer(WIDTH), judge(WIDTH))
    assert (pair.third, pair.judge and pair.judge.heard.ear) == (None, "moonshine")


def test_one_ear_of_another_family_by_itself_asks() -> None:
    for model in (SURE, None):
        for heard in ((judge(WIDTH),), (SILENT, judge(WIDTH)), (UNHEARD, judge(WIDTH))):
            assert decide(*heard, model=model).kind is not Act.RECORD


def test_well_heard_is_by_the_first_ear_and_two_free_ones() -> None:
    """Where there is one free ear only, it is enough."""
    meant = understand(WIDTH, AT["measure"], LANGUAGE)
    for heard, is_well in (
        ((first(WIDTH), second(WIDTH), third(WIDTH), judge("thank you")), True),
        ((first(WIDTH), second(WIDTH), third("thank you"), judge(WIDTH)), True),
        ((first(WIDTH), second(WIDTH), third("thank you"), judge("thank you")), False),
        ((UNHEARD, second(WIDTH), third(WIDTH), judge(WIDTH)), False),
        ((first(WIDTH), second(WIDTH)), True),
        ((first(WIDTH),), True),
    ):
        assert case_of(*heard).is_well_heard(meant) is is_well


def test_what_it_is_asked_about_is_each_meaningful_text_once() -> None:
    heard = (first("next"), second(WIDTH, OTHER), third("thank you", WIDTH), judge(WIDTH))
    assert sorted(texts_for(Pass.OPINION, AT["measure"], heard, LANGUAGE)) == sorted(["next", WIDTH, OTHER])
    assert (
        texts_for(Pass.OPINION, AT["measure"], (SILENT, second("good morning", ""), judge("good morning")), LANGUAGE)
        == ()
    )


def test_of_two_wordings_of_one_meaning_the_better_counts() -> None:
    short = "rope width four point six"
    asked = judge(WIDTH, fit(short, score=-7.0), fit(WIDTH, score=-0.5), fit(OTHER, score=-3.0))
    case = case_of(UNHEARD, closer(WIDTH), asked)
    assert case.judge is not None
    meant = understand(WIDTH, AT["measure"], LANGUAGE)
    found = case.judge.fit_of(meant)
    assert found is not None
    assert found.words == WIDTH
    assert case.judge.lead_of(meant) == pytest.approx(2.5)
    only = case_of(UNHEARD, closer(WIDTH), judge(WIDTH, fit(WIDTH))).judge
    assert only is not None
    assert only.lead_of(meant) is None  # nothing else was heard
    assert only.fit_of(understand(OTHER, AT["measure"], LANGUAGE)) is None  # it wasn't asked about


# -- values that the first ear didn't hear


@pytest.mark.parametrize("one", [UNHEARD, SILENT], ids=["noise", "silent"])
def test_what_two_families_wrote_and_the_judge_does_not_deny_is_recorded(one: Heard) -> None:
    asked = judge(WIDTH, fit(WIDTH))
    tried: list[tuple[Heard, Model | None]] = [(TALK, SURE), (third(WIDTH, WIDTH), SURE), (third(WIDTH, WIDTH), None)]
    for tiny, model in tried:  # the shipped model only where all three free ears have it: that is clear
        decision = decide(one, closer(WIDTH), tiny, asked, model=model)
        assert decision.kind is Act.RECORD, decision
        assert value_of(decision) == "4.6"


def test_two_of_one_family_record_what_the_judge_did_not_catch_but_finds_fitting() -> None:
    """It wrote something else in the noise, and still finds no other number likelier."""
    heard = (UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge("good morning", fit(WIDTH, score=-6.0)))
    assert decide(*heard).kind is Act.RECORD


@pytest.mark.parametrize(
    "fits",
    [
        (),  # not asked yet
        (fit(OTHER),),  # asked about something else only
        (fit(WIDTH, margin=-4.0),),  # another number word is likelier
        (fit(WIDTH, margin=-20.0),),
        (fit(WIDTH, point=-20.0),),  # something else than a decimal point
        (fit(WIDTH, score=-4.0, margin=0.0), fit(OTHER)),  # other words that were heard fit better
    ],
    ids=["not asked", "asked of another", "margin", "far", "point", "lead"],
)
@pytest.mark.parametrize("model", [SURE, None], ids=["sure", "shipped"])
def test_what_the_judge_denies_is_asked_about(fits: tuple[Fit, ...], model: Model | None) -> None:
    heard = (UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH, *fits))
    decision = decide(*heard, model=model)
    assert decision.kind is Act.ASK, decision
    assert "4.6" in [str(flat_of(option).value) for option in decision.options]


def test_a_small_doubt_of_the_judge_denies_nothing() -> None:
    for fits in ((fit(WIDTH, margin=-0.5),), (fit(WIDTH, point=-0.5),), (fit(WIDTH, score=-0.5), fit(OTHER))):
        assert decide(UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH, *fits)).kind is Act.RECORD


LOG = st.floats(-30, 0)


@given(st.floats(-30, 5), st.floats(-30, 5), LOG, LOG, LOG)
def test_no_denied_value_is_ever_recorded_without_the_first_ear(
    margin: float, point: float, score: float, other: float, tail: float
) -> None:
    """However sure the figures are: the least lead of its number words, and its lead over what else was heard."""
    asked = judge(WIDTH, fit(WIDTH, score=score, tail=tail, margin=margin, point=point), fit(OTHER, score=other))
    decision = decide(UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), asked)
    is_other = margin < evidence._DENIED_MARGIN or point < evidence._DENIED_POINT
    is_denied = is_other or score - other < evidence._DENIED_LEAD
    assert decision.kind is (Act.ASK if is_denied else Act.RECORD)


def test_what_bears_out_needs_more_than_what_is_not_denied() -> None:
    assert evidence._DENIED_MARGIN < 0 < evidence._MARGIN
    assert evidence._DENIED_LEAD < 0
    assert evidence._DENIED_POINT < 0


def test_more_speech_than_words_is_asked_about_where_a_free_ear_heard_something_else() -> None:
    """In babble the end of a value is lost to the free ears alike: "five point six one" as "five point six"."""
    said = "four point six"
    long = [
        replace(one, evidence={**one.evidence, "speech_s": 3.5})
        for one in (UNHEARD, closer(said), TALK, judge(said, fit(said)))
    ]
    assert decide(*long).kind is Act.ASK
    assert decide(UNHEARD, closer(said), TALK, judge(said, fit(said))).kind is Act.RECORD


@pytest.mark.parametrize("tiny", [TALK, third("slower", "slower"), third("ten", "ten")], ids=["talk", "slower", "ten"])
def test_one_bare_word_is_asked_about_where_a_free_ear_heard_something_else(tiny: Heard) -> None:
    """ "Slower" is "two" to both families (calibrate part)."""
    for model in (SURE, None):
        decision = decide(UNHEARD, closer("two"), tiny, judge("two", fit("two")), model=model)
        assert decision.kind is not Act.RECORD, decision
    heard = (first("two"), closer("two"), tiny, judge("two", fit("two")))
    assert decide(*heard).kind is Act.RECORD  # the first ear has it too


TWINS = "rope width four point five five"


@pytest.mark.parametrize(
    ("found", "act"),
    [
        (fit(TWINS, margin=3.0), Act.RECORD),
        (fit(TWINS, margin=evidence._MARGIN), Act.RECORD),
        (fit(TWINS, margin=evidence._MARGIN - 0.1), Act.ASK),
        (fit(TWINS, margin=-0.5), Act.ASK),  # no denial, but not enough for equal digits
        (fit(TWINS, point=-0.5), Act.ASK),
        (fit(TWINS, tail=evidence._TAIL - 0.1), Act.ASK),
    ],
)
def test_equal_digits_in_a_row_need_a_lead(found: Fit, act: Act) -> None:
    """A Whisper drops or doubles one of equal digits, and so may two of them."""
    assert decide(UNHEARD, closer(TWINS), third(TWINS, TWINS), judge(TWINS, found)).kind is act


@pytest.mark.parametrize(
    ("words", "low"),
    [("rope width seventeen point six", 20), ("rope width two one five", 200)],
    ids=["teen", "spelled"],
)
def test_teens_and_spelled_digits_are_recorded_only_with_the_judge(words: str, low: int) -> None:
    """ "Seventeen" or "seventy"; two one five or two one nine five: nothing in the Whispers' own figures tells."""
    spec = ReadingSpec("width", "rope width", Limit("mm", low=Decimal(low)))  # a value that is plausible
    expected = Expected.at(replace(SHEET, readings={"width": spec}), MEASURE)
    free = (UNHEARD, closer(words), third(words, words))

    def act(*more: Heard) -> Act:
        return agree(expected, (*free, *more), LANGUAGE, SURE).kind

    assert act(judge(words, fit(words))) is Act.RECORD
    assert act(judge(words, fit(words, margin=-4.0))) is Act.ASK
    assert act() is Act.ASK


def test_the_judge_makes_no_implausible_value_plausible() -> None:
    odd = "ninety five point zero seven millimetres"
    assert decide(UNHEARD, closer(odd), third(odd, odd), judge(odd, fit(odd))).kind is Act.ASK


# -- values that the first ear heard


def test_what_the_first_ear_and_a_free_one_agree_on_needs_no_judge() -> None:
    denied = judge("good morning", fit(WIDTH, score=-9.0, tail=-4.0, margin=-5.0))
    written = second(WIDTH, WIDTH), third(WIDTH, WIDTH)
    assert decide(first(WIDTH), *written, denied).kind is Act.RECORD


def test_what_one_of_three_free_ears_heard_with_the_first_is_judged() -> None:
    """A robotic "sixty two" at 10 dB was "fifty two" to the first ear and to one of three (report part)."""
    at_once = first(WIDTH), third(WIDTH), second("thank you"), judge("good morning")
    assert wants(AT["measure"], at_once, LANGUAGE) is Pass.CLOSER
    for found, act in ((fit(WIDTH), Act.RECORD), (fit(WIDTH, margin=-5.0), Act.ASK)):
        looked = first(WIDTH), third(WIDTH, WIDTH), second("thank you", "", 0.0), judge("good morning", found)
        assert decide(*looked).kind is act
    bare = "twelve"
    looked = first(bare), third(bare, bare), second("right", "", 0.0), judge("okay", fit(bare))
    assert decide(*looked).kind is Act.ASK  # one word takes more


def test_another_value_that_the_judge_wrote_needs_a_lead_over_it() -> None:
    """ "Five seven one six" of a person was "… two" to both Whispers, "… six" to the judge, 0.9 apart (report part)."""
    other = "rope width four point two millimetres"
    for lead, act in ((-0.9, Act.ASK), (0.5, Act.ASK), (1.5, Act.RECORD)):
        heard = (
            UNHEARD, second(WIDTH, WIDTH), third(WIDTH, WIDTH), judge(other, fit(WIDTH, score=lead), fit(other)),
        )  # fmt: skip
        assert decide(*heard).kind is act, lead


def test_what_the_judge_wrote_itself_has_no_rival_but_another_value() -> None:
    """ "Six to five" is what it heard, spelt otherwise: it fitted better by 1.4 (report part)."""
    for rival, own, act in (
        ("rope width four point to six", WIDTH, Act.RECORD),
        (OTHER, WIDTH, Act.ASK),
        ("rope width four point to six", "good morning", Act.ASK),
    ):
        assert understand(rival, AT["measure"], LANGUAGE).kind is not Kind.UNKNOWN
        heard = UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(own, fit(WIDTH, score=-3.0), fit(rival, score=-1.6))
        assert decide(*heard).kind is act, (rival, own)


def test_a_digit_that_one_ear_doubled_when_held_does_not_count_against_three_that_wrote_it() -> None:
    doubled = f"{TWINS} five"
    for written, found, act in (
        (TWINS, fit(TWINS), Act.RECORD),
        (TWINS, fit(TWINS, margin=0.0), Act.ASK),  # to the judge one more is as likely
        ("good morning", fit(TWINS), Act.ASK),  # only two wrote it
    ):
        heard = UNHEARD, second(TWINS, doubled), third(TWINS, TWINS), judge(written, found)
        assert decide(*heard).kind is act, written
    # "Slower" was "two" to all three; one Whisper, held to the step's words, knew better (calibrate part).
    bare = UNHEARD, second("two", "four point five"), third("two", "two"), judge("two", fit("two"))
    assert decide(*bare).kind is Act.ASK


def test_a_number_that_one_ear_wrote_as_its_twin_is_asked_about() -> None:
    """ "Taper nineteen microns" was "ninety" to three ears of four, the first among them, and "two two six six" of a
    person "… six eight" (report part)."""
    expected = width_up_to(5000)
    for heard_as, one_wrote, act in (
        ("rope width ninety millimetres", "rope width nineteen millimetres", Act.ASK),
        ("rope width nineteen millimetres", "rope width ninety millimetres", Act.ASK),
        ("rope width two six eight", "rope width two six six", Act.ASK),
        ("rope width ninety millimetres", "rope width eighteen millimetres", Act.RECORD),  # no twin
        ("rope width fifty nine", "rope width fifteen nine", Act.RECORD),  # nobody says that
        ("rope width two six nine", "rope width two six six", Act.RECORD),
    ):
        heard = first(heard_as), second(heard_as, heard_as), third(one_wrote, heard_as), judge(heard_as, fit(heard_as))
        assert agree(expected, heard, LANGUAGE, SURE).kind is act, (heard_as, one_wrote)


def test_two_against_two_is_asked_about() -> None:
    """ "Seven ohm" was "seven oh" to the first ear and the judge, in a quiet room (report part)."""
    other = "rope width four point two millimetres"
    for tiny, act in ((other, Act.ASK), (WIDTH, Act.RECORD), ("thank you", Act.RECORD)):
        heard = first(WIDTH), second(other), third(tiny), judge(WIDTH, fit(WIDTH))
        assert decide(*heard).kind is act, tiny


def test_a_name_that_two_ears_have_when_held_is_offered_before_one_that_the_sheet_lacks() -> None:
    """ "Put back gear cover" was "your cover" to all that write freely (report part)."""
    written, held = "put back your hook", "put back safety hook"
    heard = first(held, POOR), second(written, held), third(written, "put back the hook"), judge(written, fit(written))
    decision = decide(*heard)
    assert decision.kind is Act.ASK
    assert [flat_of(option).name for option in decision.options] == ["hook"]
    heard = UNHEARD, second(written, held), third(written, "put back the hook"), judge(written, fit(written))
    assert decide(*heard).kind is Act.RECORD  # one ear has it: a hook that the sheet doesn't know


def test_a_hold_phrase_that_fits_the_first_ear_badly_has_to_be_as_likely_as_anything_to_the_judge() -> None:
    """ "In sight" is "inside" to both Whispers as they write; held to the step's words they have it (report part)."""
    phrase, free = "confirm drum is blocked", "confirm drum is block"
    for score, written, is_taken in (
        (-0.3, free, True),
        (evidence._BEST - 0.1, free, False),
        (-0.3, "conform drum is blocked", False),
        (-0.3, "confirm drum is not blocked", False),
        (-0.3, "confirm we are off to the pub", False),
    ):
        heard = (
            first(phrase, POOR),
            second(written, phrase),
            third(written, phrase),
            judge(written, fit(phrase, score=score)),
        )
        decision = decide(*heard, step="block")
        assert (decision.kind is Act.RECORD) is is_taken, (score, written, decision)


def test_a_row_of_digits_with_an_eight_needs_all_free_ears_and_a_good_fit() -> None:
    """A "six" that has lost its hiss was "eight" to all four ears in 4 of 60 rows of people's digits (report part)."""
    for row, score, act in (
        ("one eight six one", -5.3, Act.ASK),
        ("one eight six one", -1.0, Act.RECORD),
        ("one five six one", -5.3, Act.RECORD),
    ):
        said = f"rope width {row} millimetres"
        expected = width_up_to(5000)
        heard = UNHEARD, second(said, said), third(said, said), judge(said, fit(said, score=score))
        assert agree(expected, heard, LANGUAGE, SURE).kind is act, (row, score)
        if act is Act.RECORD and "eight" in row:
            heard = UNHEARD, second(said, said), TALK, judge(said, fit(said, score=score))
            assert agree(expected, heard, LANGUAGE, SURE).kind is Act.ASK


def through(heard: tuple[Heard, ...], **figures: float) -> tuple[Heard, ...]:
    """The same answers, with figures of the room and the microphone."""
    return tuple(replace(one, evidence={**one.evidence, **figures}) for one in heard)


def test_an_eight_over_a_telephones_band_is_asked_about_whoever_heard_it() -> None:
    """ "Six two seven" of a person at 8 kHz was "eight two seven" to all four ears (report part)."""
    expected = width_up_to(5000)
    for row, hiss_db, act in (
        ("eight two seven", -50.0, Act.ASK),
        ("eight two seven", -20.0, Act.RECORD),
        ("five two seven", -50.0, Act.RECORD),
    ):
        said = f"rope width {row}"
        heard = first(said), second(said, said), third(said, said), judge(said, fit(said))
        assert agree(expected, through(heard, hiss_db=hiss_db), LANGUAGE, SURE).kind is act, (row, hiss_db)


def test_a_teen_that_the_first_ear_missed_has_to_be_clear_to_all_others() -> None:
    """ "Eighteen" of a robotic voice was "eighty" to the three others in a quiet room, "nineteen" of another voice
    "ninety" at 10 dB (report part). "Eighty two" has no twin."""
    expected = width_up_to(5000)
    eighty = "rope width eighty millimetres"
    for said, one, tiny, margin, act in (
        (eighty, UNHEARD, third(eighty, eighty), 3.0, Act.ASK),
        (eighty, UNHEARD, third(eighty, eighty), 3.6, Act.RECORD),
        (eighty, UNHEARD, TALK, 3.6, Act.ASK),
        (eighty, first(eighty), TALK, 3.0, Act.RECORD),
        ("rope width eighty two millimetres", UNHEARD, TALK, 3.0, Act.RECORD),
        ("rope width seven millimetres", UNHEARD, TALK, 3.0, Act.RECORD),
    ):
        heard = one, second(said, said), tiny, judge(said, fit(said, margin=margin))
        assert agree(expected, heard, LANGUAGE, SURE).kind is act, (said, margin)


def test_what_one_family_alone_wrote_must_not_be_odd_and_no_likelier_than_another() -> None:
    """ "Three point four" of a diphone voice was "three point one" to both Whispers, "thirty two" of a robotic one
    "twenty two" (report part)."""
    ten = "rope width twenty two point six"
    for said, written, score, margin, act in (
        (WIDTH, "good morning", -8.5, 0.0, Act.ASK),
        (WIDTH, "good morning", -7.5, 0.0, Act.RECORD),
        (WIDTH, "good morning", -8.5, 0.3, Act.RECORD),
        (WIDTH, WIDTH, -8.5, 0.0, Act.RECORD),
        (ten, "good morning", -1.0, 0.0, Act.ASK),
        (ten, "good morning", -1.0, 0.3, Act.RECORD),
    ):
        expected = width_up_to(50)
        heard = UNHEARD, second(said, said), third(said, said), judge(written, fit(said, score=score, margin=margin))
        assert agree(expected, heard, LANGUAGE, SURE).kind is act, (said, written, score, margin)


@pytest.mark.parametrize("row", ["one one two", "five nine one two"])
def test_a_row_of_digits_that_the_first_ear_missed_needs_all_free_ears(row: str) -> None:
    """ "One one six" of a person was "one one two" to two of three, "… three" "… two" (report part)."""
    said = f"rope width {row} millimetres"
    expected = width_up_to(5000)
    for tiny, margin, act in (
        (third(said, said), 1.0, Act.RECORD),
        (third(said, said), -0.4, Act.ASK),  # "three three two four one" was "three two four one" to all three
        (TALK, 1.0, Act.ASK),
    ):
        heard = UNHEARD, second(said, said), tiny, judge(said, fit(said, margin=margin))
        assert agree(expected, heard, LANGUAGE, SURE).kind is act


def test_a_teen_before_an_n_that_the_judge_did_not_write_has_to_be_clear_to_it() -> None:
    """ "Fifty newton" was "fifteen newton" to the first ear and both Whispers, "fifty" to the judge (report part)."""
    teen = "blade nut fifteen newton metres"
    torque = ReadingSpec("nut", "blade nut", Limit("N*m", low=Decimal(10), high=Decimal(60)))
    step = replace(MEASURE, readings=("nut",))
    expected = Expected.at(replace(SHEET, readings={"nut": torque}, steps=(step,)), step)
    at_once = first(teen), second(teen), third(teen), judge("blade not fifty newton veters")
    assert wants(expected, at_once, LANGUAGE) is Pass.CLOSER
    assert wants(expected, (*at_once[:3], judge(teen)), LANGUAGE) is None
    for one, margin, act in (
        (first(teen), -1.0, Act.ASK),
        (first(teen), 3.0, Act.ASK),
        (first(teen), 3.6, Act.RECORD),
        (UNHEARD, 3.6, Act.ASK),  # two of one family, and no other
    ):
        looked = one, second(teen, teen), third(teen, teen), judge("blade not", fit(teen, margin=margin))
        assert wants(expected, looked, LANGUAGE) is None
        assert agree(expected, looked, LANGUAGE, SURE).kind is act, margin
    # "Fifteen millimetres" lends it nothing; that a twin is enough to look closer where the judge missed it.
    other = first("rope width fifteen millimetres"), *(ear("rope width fifteen millimetres") for ear in (second, third))
    assert wants(AT["measure"], (*other, judge("rope with fifty")), LANGUAGE) is Pass.CLOSER
    assert wants(AT["measure"], (*other, judge("rope width fifteen millimetres")), LANGUAGE) is None


def test_an_answer_that_free_ears_differ_about_is_not_given() -> None:
    """A robotic "speak quieter" was "speak louder" to one of three (report part)."""
    heard = UNHEARD, second("speak louder", "speak louder"), third("speak via", "speak quieter"), judge("speak quieter")
    assert decide(*heard).kind is Act.AGAIN
    heard = UNHEARD, second("speak louder", "speak louder"), third("speak via", "speak quieter"), judge("good morning")
    assert decide(*heard).kind is Act.RECORD


def test_a_name_of_the_sheet_that_fits_better_is_offered() -> None:
    """ "Took off chuck" was "check" to both Whispers (report part)."""
    said, known = "took off cook", "took off safety hook"
    for score, is_offered in ((-0.5, True), (-9.0, False)):
        fits = fit(said, score=-4.0, margin=0.0), fit(known, score=score, margin=0.0)
        decision = decide(UNHEARD, second(said, known), third(said, known), judge("good morning", *fits))
        names = [flat_of(option).name for option in decision.options]
        assert (names == ["hook"]) is is_offered, decision


def test_a_note_takes_two_of_several_ears() -> None:
    """ "No tank is clean" was "note tank is clean" to one of three (report part)."""
    note, said = "note tank is clean", "no tank is clean"
    one = decide(first("next", POOR), second(note, note), third(said, said), judge(said))
    assert one.kind is not Act.RECORD
    two = decide(first("next", POOR), second(note, note), third(said, said), judge(note))
    assert two.kind is Act.RECORD


@pytest.mark.parametrize(
    ("found", "act"),
    [
        (fit(WIDTH), Act.RECORD),
        (fit(WIDTH, margin=evidence._MARGIN, tail=evidence._TAIL), Act.RECORD),
        (fit(WIDTH, margin=evidence._MARGIN - 0.1), Act.ASK),
        (fit(WIDTH, tail=evidence._TAIL - 0.1), Act.ASK),
        (fit(WIDTH, tail=-5.0), Act.ASK),  # wherever the limit may be
    ],
)
def test_what_the_first_ear_alone_heard_is_borne_out_by_the_judge(found: Fit, act: Act) -> None:
    free = (second("rope with four coins", "next"), third("rope with forks", "next"))
    assert decide(first(WIDTH), *free, judge("rope with for coins", found)).kind is act


# -- what is no value


@pytest.mark.parametrize("said", ["confirm drum is blocked", "affirm", "negative"])
@pytest.mark.parametrize("one", [SILENT, UNHEARD, first("next", POOR)], ids=["silent", "noise", "next"])
def test_a_hold_is_never_passed_by_the_judge_alone(said: str, one: Heard) -> None:
    for free in ("the drum is blue", "thank you"):
        heard = (one, second(free, said), third(free, said), judge(said, fit(said, margin=0.0)))
        assert decide(*heard, step="block").kind in (Act.AGAIN, Act.NOTHING)


def test_a_hold_is_never_passed_by_an_opinion() -> None:
    """ "Conform" sounds like "confirm": every free ear wrote it, and only the phrase has a meaning to ask about."""
    said, held = "conform drum is blocked", "confirm drum is blocked"
    heard = (UNHEARD, second(said, held), third(said, held), judge(said, fit(held, margin=0.0)))
    assert decide(*heard, step="block").kind is not Act.RECORD


def test_a_hold_that_two_families_wrote_is_passed_and_a_denial_is_none() -> None:
    phrase, denial = "confirm drum is blocked", "confirm drum is not blocked"
    passed = decide(UNHEARD, closer(phrase), TALK, judge(phrase, fit(phrase, margin=0.0)), step="block")
    assert (passed.kind, passed.intent and passed.intent.kind) == (Act.RECORD, Kind.CONFIRM)
    for free in (second(denial, phrase), second("i can't confirm", phrase)):
        heard = (UNHEARD, free, third(denial, phrase), judge(denial, fit(phrase, margin=0.0)))
        assert decide(*heard, step="block").kind is not Act.RECORD


def test_talk_that_all_three_wrote_is_nothing() -> None:
    talk = "i really ought to call my brother about the car tonight"
    assert decide(AT_ONCE, second(talk), third(talk), judge(talk), model=None).kind is Act.NOTHING


def test_a_command_that_two_families_wrote_is_taken_and_one_by_itself_is_not() -> None:
    words = "stop the job"
    taken = decide(UNHEARD, closer(words), TALK, judge(words, fit(words, margin=0.0)))
    assert (taken.kind, taken.intent and taken.intent.kind) == (Act.RECORD, Kind.STOP)
    lone = decide(UNHEARD, closer(words), TALK, judge("good morning"), model=None)
    assert lone.kind is not Act.RECORD


# -- looks


def test_first_closer_then_the_opinion_then_nothing() -> None:
    tried = [
        ((AT_ONCE, second(WIDTH), third(WIDTH), judge(WIDTH)), Pass.CLOSER),
        ((UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH)), Pass.OPINION),
        ((UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH, fit(WIDTH))), None),
    ]
    for heard, look in tried:
        assert wants(AT["measure"], heard, LANGUAGE) is look


def test_it_is_asked_although_it_wrote_nothing_itself() -> None:
    heard = (UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(""))
    assert wants(AT["measure"], heard, LANGUAGE) is Pass.OPINION


def test_what_it_alone_wrote_is_looked_at_closer() -> None:
    assert wants(AT["measure"], (NOISE, second(""), third(""), judge(WIDTH)), LANGUAGE) is Pass.CLOSER


@pytest.mark.parametrize(
    "heard",
    [
        (first(WIDTH), second(WIDTH), third(WIDTH), judge(WIDTH)),  # agreed at once, with the first ear
        (first(WIDTH), closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH)),
        (NOISE, second(""), third(""), judge("")),  # nobody wrote anything
        (SILENT, second("thank you", ""), third("thank you", ""), judge("thank you")),  # nothing to ask about
    ],
    ids=["at once", "closer", "silence", "talk"],
)
def test_the_judge_is_not_troubled(heard: tuple[Heard, ...]) -> None:
    assert wants(AT["measure"], heard, LANGUAGE) is None


def test_long_talk_takes_no_look_unless_one_ear_caught_little_of_it() -> None:
    talk = "i really ought to call my brother about the car tonight"
    assert wants(AT["measure"], (NOISE, second(talk), third(talk), judge(talk)), LANGUAGE) is None
    assert wants(AT["measure"], (NOISE, second(talk), third(talk), judge("i really")), LANGUAGE) is Pass.CLOSER


# -- figures


def test_which_figures_weigh_four_ears() -> None:
    free = (closer(WIDTH), third(WIDTH, WIDTH))
    tried: list[tuple[tuple[Heard, ...], str | None]] = [
        ((AT_ONCE, second(WIDTH), third(WIDTH), judge(WIDTH)), "quick4"),
        ((AT_ONCE, second(WIDTH), third(OTHER), judge("thank you")), None),  # nothing agreed yet
        ((UNHEARD, *free, judge(WIDTH)), "quick4"),  # the opinion is still to come
        ((UNHEARD, *free, judge(WIDTH, fit(WIDTH))), "slow4"),
        ((UNHEARD, closer(WIDTH), judge(WIDTH, fit(WIDTH))), "slow"),  # one of the four is missing
        ((UNHEARD, *free), "slow"),
        ((judge(WIDTH),), None),
    ]
    for heard, form in tried:
        assert form_of(case_of(*heard)) == form, form


def test_the_figures_of_the_judge_are_there_when_it_was_asked_and_stay_in_bounds() -> None:
    meant = understand(WIDTH, AT["measure"], LANGUAGE)
    asked = judge(WIDTH, fit(WIDTH, score=-99.0, tail=-99.0, margin=-99.0), fit(OTHER))
    found = figures(case_of(UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), asked), meant)
    unasked = figures(case_of(UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH)), meant)
    assert not {"judge_fit", "judge_tail", "judge_margin", "judge_lead"} & unasked.keys()
    assert unasked["judge_free"] == found["judge_free"] == 1.0
    assert set(FORMS["slow4"]) <= found.keys()
    assert all(-30 <= value <= 30 for value in found.values()), found
    assert found["judge_lead"] < 0
    assert found["votes_three"] == 1.0
    assert found["votes_four"] == 0.0


def test_the_shipped_model_finds_what_fits_likelier_than_what_does_not() -> None:
    """The one thing that its coefficients must not turn round."""
    form = load_model().forms["slow4"]
    meant = understand(WIDTH, AT["measure"], LANGUAGE)

    def chance(*fits: Fit) -> float:
        case = case_of(UNHEARD, closer(WIDTH), third("thank you", WIDTH), judge("rope with for coins", *fits))
        return form.chance(figures(case, meant))

    good = chance(fit(WIDTH), fit(OTHER, score=-6.0))
    bad = chance(fit(WIDTH, score=-8.0, tail=-3.0, margin=-4.0), fit(OTHER))
    assert good > bad


def test_what_it_found_is_shown_on_request_and_can_be_written_as_json() -> None:
    heard = (first(WIDTH), judge(WIDTH, fit(WIDTH), fit(OTHER, score=-6.0)))
    plain = json.loads(json.dumps(ears_json(heard, False)))
    assert plain == [{"ear": "pocketsphinx", "heard": WIDTH}, {"ear": "moonshine", "heard": WIDTH}]
    shown = json.loads(json.dumps(ears_json(heard, True)))
    assert [one["fits"] for one in shown] == [[], [asdict(found) for found in heard[1].fits]]
    assert [one["free"] for one in shown] == [None, WIDTH]


# -- independence of order


def test_the_question_is_the_same_in_whichever_order_the_ears_answer() -> None:
    heard = (UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH, fit(WIDTH, margin=-3.0)))
    for order in permutations(heard):
        decision = decide(*order)
        assert decision.kind is Act.ASK
        assert decision.intent is not None
        assert flat_of(decision.intent).asks is Asks.CONFIRM_NUMBER


def test_the_ears_may_be_named_in_any_order() -> None:
    """The settings name them as a person likes: the judge is who can be asked, not who comes last."""
    heard = (UNHEARD, closer(WIDTH), third(WIDTH, WIDTH), judge(WIDTH, fit(WIDTH)))
    for order in permutations(heard):
        case = case_of(*order)
        assert case.judge is not None
        assert case.judge.heard.ear == "moonshine", [one.ear for one in order]
        assert decide(*order).kind is Act.RECORD


@pytest.mark.parametrize("one", [UNHEARD, SILENT], ids=["noise", "silent"])
def test_the_judge_does_not_bear_out_what_only_itself_wrote(one: Heard) -> None:
    """Its opinion of its own text is no second ear: the Whispers wrote something else."""
    for held in ("", WIDTH):
        free = (second("thank you", held, 0.9), third("thank you", held, 0.9))
        decision = decide(one, *free, judge(WIDTH, fit(WIDTH)))
        assert decision.kind is not Act.RECORD, decision
