"""Forced alignment against what it stands for: every path that spells the labels, tried one by one.

Outside: connectionist temporal classification (Graves, Fernandez, Gomez, Schmidhuber: Connectionist temporal
classification, ICML 2006): a path spells what is left of it without repetitions and then without blanks. The definition
is from memory; the paths are enumerated here, nothing of the program's own recursions is used.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.audio.aligned import Aligned, Exchange, Soundings, Span
from bench_voice.audio.ear_moonshine import MoonshineEar
from bench_voice.audio.ear_whisper import WhisperEar
from bench_voice.audio.factory import make_ears
from bench_voice.audio.phone_net import LABEL_OF, PhoneJudge, PhoneNet, has_net
from bench_voice.audio.weights import find_files
from bench_voice.phonetics import dictionary, spoken
from bench_voice.words.phrases import load_language
from tests.corpus.texts import expected_of

LANGUAGE = load_language("en")
LABELS = 3


def scores_from(seed: int, frames: int, labels: int = LABELS) -> np.ndarray:
    raw = 2 * np.random.default_rng(seed).standard_normal((frames, labels + 1))
    return np.asarray(raw - np.log(np.exp(raw).sum(-1, keepdims=True)), np.float32)


def spelt(path: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(label for label, _ in itertools.groupby(path) if label)


def best_of(scores: np.ndarray, labels: tuple[int, ...]) -> float:
    """Of all paths that spell the labels."""
    paths = itertools.product(range(scores.shape[1]), repeat=len(scores))
    found = (sum(scores[t, s] for t, s in enumerate(path)) for path in paths if spelt(path) == labels)
    return max(map(float, found), default=-np.inf)


rows = st.lists(st.integers(1, LABELS), min_size=1, max_size=4).map(tuple)


@settings(max_examples=40, deadline=None)
@given(rows, st.integers(0, 999))
def test_the_best_path_is_the_best_of_all_that_spell_the_labels(labels: tuple[int, ...], seed: int) -> None:
    scores = scores_from(seed, 6)
    wanted = best_of(scores, labels)
    aligned = Aligned(scores, labels)
    if wanted == -np.inf:  # more labels, and blanks between equal ones, than frames
        assert aligned.total < -1e8
        return
    assert aligned.total == pytest.approx(wanted, abs=1e-4)
    # The path itself spells them and has that score.
    states = np.zeros(2 * len(labels) + 1, int)
    states[1::2] = labels
    path = tuple(states[aligned.path()])
    assert spelt(path) == labels
    assert sum(scores[t, s] for t, s in enumerate(path)) == pytest.approx(wanted, abs=1e-4)


@settings(max_examples=60, deadline=None)
@given(rows, st.integers(0, 999), st.data())
def test_an_exchange_is_as_good_as_aligning_the_other_labels(
    labels: tuple[int, ...], seed: int, data: st.DataObject
) -> None:
    scores = scores_from(seed, 12)
    aligned = Aligned(scores, labels)
    exchanges = []
    for _ in range(4):
        start = data.draw(st.integers(0, len(labels)))
        end = data.draw(st.integers(start, len(labels)))
        put = data.draw(st.lists(st.integers(1, LABELS), max_size=3).map(tuple))
        if labels[:start] + put + labels[end:]:
            exchanges.append(Exchange(start, end, put))
    for one, found in zip(exchanges, aligned.exchanged(exchanges), strict=True):
        other = labels[: one.start] + one.labels + labels[one.end :]
        assert found == pytest.approx(Aligned(scores, other).total, abs=1e-3)


def sound_of(phones: str, frames: int = 3) -> np.ndarray:
    """As if those phones were heard for certain, each for some frames, a blank between two."""
    scores = np.full((0, len(LABEL_OF) + 1), 0.0)
    for phone in phones.split():
        for label in [LABEL_OF[phone]] * frames + [0]:
            row = np.full(len(LABEL_OF) + 1, -9.0)
            row[label] = -0.01
            scores = np.vstack([scores, row])
    return np.asarray(scores, np.float32)


def labels(word: str) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(LABEL_OF[phone] for phone in way) for way in dictionary()[word])


SOUNDINGS = Soundings(labels, LANGUAGE.numbers)
FOUR_POINT_SIX = "F AO R P OY N T S IH K S"


def test_the_right_text_fits_and_leads() -> None:
    found = SOUNDINGS.of(sound_of(FOUR_POINT_SIX), "four point six")
    assert found is not None
    assert found.fit == pytest.approx(0, abs=0.1)
    assert found.worst == pytest.approx(0, abs=0.1)
    assert found.lead is not None
    assert found.lead > 8


@pytest.mark.parametrize("text", ["four point eight", "four six", "four point six six", "point six", "four point"])
def test_a_wrong_number_is_led_by_the_right_one(text: str) -> None:
    found = SOUNDINGS.of(sound_of(FOUR_POINT_SIX), text)
    assert found is not None
    assert found.lead is not None
    assert found.lead < -3 or found.fit < -3


def test_a_word_beside_a_number_may_be_a_number() -> None:
    """ "At point six" where "eight point six" was said; "at" is no number word."""
    found = SOUNDINGS.of(sound_of("EY T P OY N T S IH K S"), "at point six")
    assert found is not None
    assert found.lead is not None
    assert found.lead < 0


def test_but_not_the_last_word_of_a_name_that_is_whole() -> None:
    """A "flow" that was run into "oh" (a concatenative voice, report part) is no digit: nobody stops at "nozzle"."""
    sound = sound_of("N AA Z AH L OW T UW")
    text = "nozzle flow two"

    def lead(*names: str) -> float:
        found = SOUNDINGS.of(sound, text, names=names)
        assert found is not None
        assert found.lead is not None
        return found.lead

    assert lead() < -2
    assert lead("valve seat", "nozzle flow") > 5
    assert lead("nozzle flow", "nozzle") == lead(), "where the name may be shorter the digit may be one"
    assert lead("flow") == lead(), "a name stands at the beginning"


def test_a_digit_between_a_name_and_its_number_is_a_rival_all_the_same() -> None:
    sound = sound_of("N AA Z AH L F L OW OW T UW")
    found = SOUNDINGS.of(sound, "nozzle flow two", names=["nozzle flow"])
    assert found is not None
    assert found.lead is not None
    assert found.lead < 0
    assert found.rival == "nozzle flow oh two"


def test_each_eight_is_looked_at_where_it_stands_and_the_least_likely_one_counts() -> None:
    asked: list[tuple[int, list[Span]]] = []

    def eights(spans: Sequence[Span], at: int) -> float:
        asked.append((at, list(spans)))
        return float(4 - at)

    sound = sound_of("EY T P OY N T EY T")  # of each phone three frames and a blank
    found = SOUNDINGS.of(sound, "eight point eight", eights)
    assert found is not None
    assert found.eight == 2.0
    assert asked == [(at, [(0, 6), (8, 22), (24, 30)]) for at in (0, 2)]
    for text, judge in (("four point six", eights), ("eight point eight", None)):
        other = SOUNDINGS.of(sound, text, judge)
        assert other is not None
        assert other.eight is None, text


def test_words_of_the_same_meaning_are_no_rivals() -> None:
    found = SOUNDINGS.of(sound_of("OW P OY N T S IH K S"), "oh point six")
    assert found is not None
    assert found.lead is not None
    assert found.lead > 5  # "zero" and "nought" are the same number


def test_each_way_of_saying_a_word_counts() -> None:
    assert len(dictionary()["zero"]) > 1
    for way in dictionary()["zero"]:
        found = SOUNDINGS.of(sound_of(" ".join(way)), "zero")
        assert found is not None
        assert found.fit == pytest.approx(0, abs=0.1)


def test_what_has_no_number_has_no_lead_and_what_nobody_can_say_no_sounding() -> None:
    found = SOUNDINGS.of(sound_of("N EH K S T"), "next")
    assert found is not None
    assert found.lead is None
    assert SOUNDINGS.of(sound_of("N EH K S T"), "qqxz next") is None
    assert SOUNDINGS.of(sound_of("N", frames=1), "four point six four point six") is None  # too short for them


@pytest.mark.parametrize("ear", ["whisper", "moonshine"])
def test_the_shipped_networks_load(ear: str) -> None:
    assert has_net(ear)
    features = {"whisper": 512, "moonshine": 288}[ear]
    scores = PhoneNet.of(ear)(np.zeros((40, features), np.float32))
    assert scores.shape == (40, len(LABEL_OF) + 1)
    assert np.exp(scores).sum(-1) == pytest.approx(1, abs=1e-3)


def test_other_ears_have_none() -> None:
    assert not has_net("whisper-tiny")
    assert not has_net("pocketsphinx")


def test_how_the_sheet_says_a_word_goes_before_the_dictionary() -> None:
    said = {"zero": "F AO R", "splitpin": "split pin"}
    judge = PhoneJudge("whisper", spoken, LANGUAGE.numbers, lambda expected: said)
    before = judge.labels("zero")
    judge.prepare(expected_of("report-meter", "read"))
    assert judge.labels("zero") == (tuple(LABEL_OF[phone] for phone in ("F", "AO", "R")),)
    assert before == labels("zero")
    assert judge.labels("splitpin") == (*[labels("split")[0] + labels("pin")[0]],)
    assert judge.labels("nought") == labels("naught")  # not in the dictionary under that spelling


@pytest.mark.parametrize("ear", ["whisper", "moonshine"])
def test_weights_of_ones_own_are_not_held_against_phones(
    ear: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The shipped network belongs to the shipped encoder: with another one it would be noise, or not fit at all."""
    variable = f"BENCH_VOICE_{ear.upper()}_MODEL"
    monkeypatch.delenv(variable, raising=False)
    shipped = find_files(ear)
    (made,) = make_ears([ear], LANGUAGE, ways=spoken)
    assert isinstance(made, WhisperEar | MoonshineEar)
    assert made.phones is not None
    made.close()
    for path in shipped.paths:
        (tmp_path / path.name).symlink_to(path)
    if ear == "whisper":
        (tmp_path / "model.bin").write_bytes(b"of one's own")
    monkeypatch.setenv(variable, str(tmp_path))
    (own,) = make_ears([ear], LANGUAGE, ways=spoken)
    assert isinstance(own, WhisperEar | MoonshineEar)
    assert own.phones is None
    own.close()
