"""What the search decides: each veto by its harm, the figures within their ranges, and who goes before whom."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from decimal import Decimal
from importlib import resources

import pytest

from bench_voice.core.intents import Confirmation, Expected, Intent, ItemChange, Kind, Measurement, bare
from bench_voice.hearing.candidates import Evidence, Sentence, Text, evidence_of
from bench_voice.hearing.decide import decide, decided, joined
from bench_voice.hearing.decision import Act, Decision, ask_about, record
from bench_voice.hearing.features import FEATURES, Subject, figures
from bench_voice.hearing.model import Model, Trees, load_model, read_model
from bench_voice.hearing.policy import LEAST, proposed
from bench_voice.hearing.safety import VETOES, stopped
from bench_voice.ports import Heard
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from tests.corpus import texts

LANGUAGE = load_language("en")
BELT = texts.expected_of("develop-mixer", "belt")
HOLD = next(
    texts.expected_of("develop-mixer", one.id) for one in texts.sheet_of("develop-mixer").steps if one.hold is not None
)
assert HOLD.hold is not None
PHRASE = HOLD.hold.phrase
CERTAIN = Model(Trees(20.0, ()), Trees(20.0, ()))  # sure of everything: what is forbidden is forbidden by a veto
QUIET = {"snr_db": 40.0, "hiss_db": -10.0, "speech_s": 1.5}


def sentence(words: str, at: Expected, lead: float = 9.0, fit: float = -0.1, worst: float = -1.0) -> Sentence:
    return Sentence(understand(words, at, LANGUAGE), words, lead, fit, fit * 10, worst)


def evidence(
    at: Expected, *wrote: str, networks: tuple[Sentence, ...] = (), failed: bool = False, **sound: float
) -> Evidence:
    ears = ("whisper", "moonshine", "pocketsphinx")
    found = tuple(
        Text(ear, words, understand(words, at, LANGUAGE), score=-0.2)
        for ear, words in zip(ears, wrote, strict=False)
        if words
    )
    by_ear = {ear: (one,) for ear, one in zip(ears, networks, strict=False)}
    return Evidence(at, LANGUAGE, by_ear, found, {**QUIET, **sound}, failed, 1)


def both(words: str, at: Expected = BELT, **figure: float) -> tuple[Sentence, Sentence]:
    return sentence(words, at, **figure), sentence(words, at, **figure)


def test_a_clear_value_is_recorded_and_each_network_alone_is_not_enough() -> None:
    assert decided(evidence(BELT, "nine point two", "", networks=both("nine point two")), CERTAIN).kind is Act.RECORD
    alone = evidence(BELT, "", "", networks=(sentence("nine point two", BELT),))
    assert decided(alone, CERTAIN).kind is Act.ASK


VETOED = {
    "failed": (evidence(BELT, "nine point two", networks=both("nine point two"), failed=True), Act.AGAIN),
    "hold-by-one": (evidence(HOLD, "what a day", networks=both(PHRASE, HOLD)), Act.AGAIN),
    "hold-near-contrary": (evidence(HOLD, PHRASE, PHRASE, networks=both(PHRASE, HOLD, lead=1.0)), Act.AGAIN),
    "hold-unlike": (evidence(HOLD, PHRASE, PHRASE, networks=both(PHRASE, HOLD, fit=-4.0)), Act.AGAIN),
    "hold-denied": (evidence(HOLD, PHRASE, f"{PHRASE} not", networks=both(PHRASE, HOLD)), Act.AGAIN),
    "value-by-one": (evidence(BELT, "", networks=(sentence("nine point two", BELT),)), Act.ASK),
    "implausible": (evidence(BELT, "seventy two", networks=both("seventy two")), Act.ASK),
    "eight-by-telephone": (
        evidence(BELT, "eight point two", "eight point two", networks=both("eight point two"), hiss_db=-60.0),
        Act.ASK,
    ),
    "twin": (evidence(BELT, "", "", networks=both("fifteen")), Act.ASK),
}


@pytest.mark.parametrize("name", VETOED)
def test_each_veto_stops_its_harm_and_without_it_nothing_does(name: str) -> None:
    found, instead = VETOED[name]
    decision = decided(found, CERTAIN)
    assert (decision.kind, decision.why) == (instead, name)
    assert decided(found, CERTAIN, frozenset({name})).kind is Act.RECORD


def test_what_passes_a_hold_is_never_offered() -> None:
    taken = understand(PHRASE, HOLD, LANGUAGE)
    veto = stopped(Act.ASK, Subject.of(evidence(HOLD, PHRASE, networks=both(PHRASE, HOLD)), taken))
    assert veto is not None
    assert (veto.name, veto.instead) == ("hold-offered", Act.AGAIN)
    assert {*VETOED, "hold-offered"} == {veto.name for veto in VETOES}
    assert len(VETOES) <= 10
    assert all(veto.harm for veto in VETOES)


def test_each_figure_has_its_range_or_was_not_asked() -> None:
    full = evidence(BELT, "nine point two", "nine", networks=both("nine point two"))
    for found in (full, evidence(BELT, "nine point two"), evidence(BELT, "", networks=both("nine"))):
        for intent in found.candidates:
            known = figures(found, intent)
            for feature in FEATURES:
                assert math.isnan(known[feature.name]) or feature.low <= known[feature.name] <= feature.high, feature
    by_texts = evidence(BELT, "nine point two")
    assert math.isnan(figures(by_texts, by_texts.candidates[0])["lead_low"])


def test_what_speaks_for_a_meaning_never_makes_it_less_likely() -> None:
    found = evidence(BELT, "nine point two", "", networks=both("nine point two"))
    known = figures(found, found.candidates[0])
    model = load_model()
    for feature in FEATURES:
        steps = [feature.low + (feature.high - feature.low) * at / 12 for at in range(13)]
        chances = [model.right.chance({**known, feature.name: step}) for step in steps]
        ordered = chances if feature.sign >= 0 else chances[::-1]
        if feature.sign:
            assert ordered == sorted(ordered), feature.name


def test_a_tree_sends_a_missing_figure_where_it_says() -> None:
    tree = ["lead_low", 1.0, True, -2.0, ["lead_low", 3.0, False, 0.5, 2.0]]
    model = read_model(json.dumps({name: {"base": 0.0, "trees": [tree]} for name in ("right", "for_us")}))
    for figure, height in ((math.nan, -2.0), (1.0, -2.0), (2.0, 0.5), (9.0, 2.0)):
        assert model.right.chance({"lead_low": figure}) == pytest.approx(1 / (1 + math.exp(-height)))


def test_the_model_that_is_shipped_asks_for_declared_figures_only() -> None:
    names = {feature.name for feature in FEATURES}
    text = resources.files("bench_voice.hearing").joinpath("trees.json").read_text("utf-8")
    asked: set[str] = set()

    def walk(tree: object) -> None:
        if isinstance(tree, list):
            asked.add(tree[0])
            walk(tree[3])
            walk(tree[4])

    for group in json.loads(text).values():
        for tree in group["trees"]:
            walk(tree)
    assert asked <= names


def test_a_question_names_the_two_likeliest_values() -> None:
    likely, other, third = (understand(words, BELT, LANGUAGE) for words in ("nine", "five", "one"))
    decision = proposed([(0.6, likely), (0.3, other), (0.1, third)], 0.9, evidence(BELT, "nine"))
    assert decision.kind is Act.ASK
    assert decision.options == (likely, other)
    assert proposed([(0.6, likely)], 0.1, evidence(BELT, "nine")).kind is Act.NOTHING
    assert LEAST["value"].record > LEAST["command"].record


def value(words: str) -> Intent:
    return understand(words, BELT, LANGUAGE)


@pytest.mark.parametrize(
    ("first", "second", "wanted"),
    [
        (record(value("nine"), 0.9, "a"), ask_about([value("nine")], "b"), "a"),
        (record(value("nine"), 0.9, "a"), ask_about([value("nine"), value("five")], "b"), "b"),
        (record(value("nine"), 0.9, "a"), Decision(Act.NOTHING, why="b"), "a"),
        (ask_about([value("nine")], "a"), record(value("nine"), 0.99, "b"), "b"),
        (Decision(Act.AGAIN, why="a"), record(Confirmation(hold="x"), 0.99, "b"), "a"),
        (Decision(Act.AGAIN, why="a"), record(bare(Kind.AFFIRM), 0.99, "b"), "a"),
        (Decision(Act.AGAIN, why="a"), ask_about([value("five")], "b"), "b"),
        (Decision(Act.NOTHING, why="a"), ask_about([value("five")], "b"), "a"),
        (
            record(ItemChange(Kind.PUT_BACK, text="your cover"), 0.9, "a"),
            record(ItemChange(Kind.PUT_BACK, name="gear-cover"), 0.99, "b"),
            "b",
        ),
    ],
)
def test_who_goes_before_whom(first: Decision, second: Decision, wanted: str) -> None:
    assert joined(first, second).why == wanted


def test_silence_is_nothing_and_a_witness_that_failed_means_again() -> None:
    assert decide(BELT, (Heard("whisper", "", free_words=""),), LANGUAGE).kind is Act.NOTHING
    dead = Heard("whisper", "", evidence={"timeout": 1.0})
    assert decide(BELT, (dead,), LANGUAGE).kind is Act.AGAIN


def test_without_a_network_two_families_of_recognisers_agree() -> None:
    """Two of one family are one witness."""
    for ears, is_taken in ((("whisper", "moonshine"), True), (("whisper", "whisper-tiny"), False)):
        heard = [Heard(ear, "", 0.0, evidence=QUIET, free_words="belt sag nine point two") for ear in ears]
        found = decided(evidence_of(BELT, heard, LANGUAGE), CERTAIN)
        assert (found.kind is Act.RECORD) is is_taken
        if is_taken:
            assert isinstance(found.intent, Measurement)
            assert found.intent.value == Decimal("9.2")
    assert replace(BELT) == BELT
