"""The evidence model on made-up figures: what it may change in the rules' decision, and what it never may."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench_voice.core.flat import Flat, flat_of, intent_of
from bench_voice.core.intents import Expected, Kind
from bench_voice.core.sheet import Hold, Item, ItemKind, JobSheet, Limit, ReadingSpec, Step
from bench_voice.hearing.agree import Act, Decision, agree
from bench_voice.hearing.cascade import wants
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.figures import FORMS, figures
from bench_voice.hearing.weigh import Form, form_of, group_of, load_model
from bench_voice.hearing.witness import key_of, same
from bench_voice.ports import Fit, Heard, Pass
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language

LANGUAGE = load_language("en")
MEASURE = Step("measure", "Measure the rope.", readings=("width",))
BLOCK = Step("block", "Block it.", hold=Hold("blocked", "confirm drum is blocked"))
SHEET = JobSheet(
    "s", "S", "1", "timber winch", "one", (MEASURE, BLOCK),
    readings={"width": ReadingSpec("width", "rope width", Limit("mm", low=Decimal(2)))},
    items={"hook": Item("hook", "safety hook", ItemKind.TEMPORARY)},
)  # fmt: skip
AT = {step.id: Expected.at(SHEET, step) for step in SHEET.steps}
GOOD = {"speech_s": 1.2, "per_frame": -0.3, "worst": -0.8, "phones": 0.2}
POOR = {"speech_s": 1.2, "per_frame": -2.5, "worst": -7.0, "phones": 1.4}
FREE = {"speech_s": 1.2, "no_speech": 0.0, "free": -0.2}


def first(words: str, evidence: dict[str, float] = GOOD) -> Heard:
    return Heard("pocketsphinx", words, evidence=evidence)


def second(free: str, words: str | None = None, weight: float = 0.95) -> Heard:
    """`words` None: not yet held to the step's words."""
    if words is None:
        return Heard("whisper", "", 0.0, evidence=FREE, free_words=free)
    return Heard("whisper", words, weight, evidence={**FREE, "limited": -0.2}, free_words=free)


def closer(words: str, weight: float = 0.95) -> Heard:
    """Held to the step's words it heard what it wrote freely."""
    return second(words, words, weight)


def judge(words: str, *fits: Fit) -> Heard:
    """The free ear of another family. `fits`: none where it wasn't asked yet."""
    return Heard("moonshine", words, 0.95, (), {"speech_s": 1.2, "free": -0.05}, words, fits)


def decide(step: str, *heard: Heard) -> Decision:
    return agree(AT[step], heard, LANGUAGE)


def test_both_ears_record_with_a_chance() -> None:
    decision = decide("measure", first("four point six"), second("four point six"))
    assert decision.kind is Act.RECORD
    assert decision.intent is not None
    assert decision.intent.confidence is not None
    assert 0.9 < decision.intent.confidence <= 1


def test_a_unit_that_one_ear_missed_is_no_difference_and_another_unit_is() -> None:
    decision = decide("measure", first("four point six"), second("four point six millimetres"))
    assert decision.kind is Act.RECORD
    other = decide("measure", first("four point six centimetres"), closer("four point six"))
    assert other.kind is not Act.RECORD


def test_one_free_ear_alone_asks_about_a_value_however_good_it_looks() -> None:
    for said in ("four point six millimetres", "rope width four point six"):
        for other in (first("fitted up to", POOR), first("", POOR)):
            decision = agree(AT["measure"], (other, closer(said, 1.0)), LANGUAGE)
            assert decision.kind is Act.ASK, decision
            assert [flat_of(option).value for option in decision.options] == [Decimal("4.6")]


@pytest.mark.parametrize("odd", ["three zero zero", "zero point forty one", "six point five five"])
def test_what_the_second_ear_invents_or_miscounts_is_never_recorded_from_it_alone(odd: str) -> None:
    heard = (first("fitted up to", POOR), closer(odd))
    assert agree(AT["measure"], heard, LANGUAGE).kind is not Act.RECORD


@pytest.mark.parametrize("said", ["confirm drum is blocked", "affirm", "negative"])
def test_a_hold_is_never_passed_on_figures(said: str) -> None:
    for other in (first("", POOR), first("next", POOR), first("four", GOOD)):
        decision = decide("block", other, closer(said, 1.0))
        assert decision.kind in (Act.AGAIN, Act.NOTHING), decision


@pytest.mark.parametrize(("words", "kind"), [("stop the job", Kind.STOP), ("took off safety hook", Kind.TAKEN_OFF)])
def test_a_command_and_an_item_of_one_free_ear_are_offered_and_never_taken(words: str, kind: Kind) -> None:
    decision = decide("measure", first("ten", POOR), closer(words, 0.8))
    assert decision.kind in (Act.AGAIN, Act.ASK), decision
    assert {option.kind for option in decision.options} <= {kind}


@pytest.mark.parametrize(
    ("heard", "which"),
    [
        ((first("four point six"), second("four point six")), None),  # agreed
        ((first("four point eight"), second("four point six")), Pass.CLOSER),
        ((first("four point eight"), closer("four point six")), None),  # nobody else to ask
        ((first("four point eight"), closer("four point six"), judge("four point six")), Pass.OPINION),
        ((first("next"), second("next week we are going to the coast with all of them")), None),  # plain talk
        ((first("next"), second("my next of kin")), Pass.CLOSER),
        ((first("next"), second("the weather is nice", "ten ten")), None),  # nothing like it
        ((first("next"), second("")), None),
        ((first("next"),), None),
        ((second("four point six"),), Pass.CLOSER),
    ],
)
def test_which_pass_is_taken_next(heard: tuple[Heard, ...], which: Pass | None) -> None:
    assert wants(AT["measure"], heard, LANGUAGE) is which


def test_the_model_has_what_the_code_asks_it() -> None:
    model = load_model()
    groups = {group_of(intent_of(Flat(kind))) for kind in Kind} | {"item"}
    assert set(model.forms) == set(model.record) == set(model.ask) == set(FORMS)
    words = "four point six"
    third = replace(closer(words), ear="whisper-tiny")
    asked = judge(words, Fit(words, 0.0, -0.1, 3.0))
    case = Case.of((first(words), closer(words), third, asked), AT["measure"], LANGUAGE)
    known = set(figures(case, understand("four point six", AT["measure"], LANGUAGE)))
    for name, form in model.forms.items():
        assert groups <= set(model.record[name]), name
        assert set(form.weights) <= known, name
    # One ear alone never records a value: it asks.
    assert model.record["first"]["value"] > 1
    assert model.record["free"]["value"] > 1


def test_other_engines_are_left_to_the_rules() -> None:
    other = Heard("vosk", "four point six", evidence={"confidence": 0.9, "speech_s": 1.0})
    assert form_of(Case.of((other, second("four point six")), AT["measure"], LANGUAGE)) is None
    assert decide("measure", other, second("four point six")).kind is Act.RECORD
    unsure = replace(other, evidence={"confidence": 0.3, "speech_s": 1.0})
    assert decide("measure", unsure).kind is Act.NOTHING  # a low confidence is a veto
    for heard in ((other,), (other, first("four point six"))):  # the model knows nothing of its confidence
        assert form_of(Case.of(heard, AT["measure"], LANGUAGE)) is None
    assert decide("measure", other).kind is Act.ASK
    assert decide("measure", other, first("four point six")).kind is Act.RECORD


@given(
    st.dictionaries(st.sampled_from(["a", "b", "c"]), st.floats(-1e6, 1e6)),
    st.floats(-100, 100),
    st.dictionaries(st.sampled_from(["a", "b", "c"]), st.floats(-1e6, 1e6)),
)
def test_a_chance_is_a_chance(weights: dict[str, float], bias: float, found: dict[str, float]) -> None:
    assert 0 <= Form(bias, weights).chance(found) <= 1


@given(
    st.sampled_from(["four point six", "four point six millimetres", "next", "affirm", "rope width nine"]), st.data()
)
def test_the_key_of_a_meaning_is_its_meaning(text: str, data: Any) -> None:
    other = data.draw(st.sampled_from(["four point six", "four point six zero", "next", "negative", "rope width nine"]))
    a, b = (understand(words, AT["measure"], LANGUAGE) for words in (text, other))
    assert same(a, b) is (key_of(a) == key_of(b) and a.kind is not Kind.UNKNOWN)
    if text == other:
        assert same(a, b)


@pytest.mark.parametrize("evidence", [GOOD, POOR])
def test_free_text_is_left_to_the_rules(evidence: dict[str, float]) -> None:
    """Notes and reminders have no chance of their own: their words are the second ear's, their lead-in both ears'."""
    heard = (first("remind me to wash", evidence), closer("remind me to wash the tray"))
    decision = decide("measure", *heard)
    assert decision.kind is Act.RECORD
    assert decision.intent is not None
    assert (decision.intent.kind, flat_of(decision.intent).text) == (Kind.REMINDER, "wash the tray")
