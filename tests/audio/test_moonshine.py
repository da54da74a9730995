"""The ear that judges, on synthetic speech: what it writes, how well given texts fit, and what is wrong with its files.

Outside facts: the released model's config.json names 32768 tokens with 1 and 2 as beginning and end, and its tokenizer
is Llama's (byte-pair encoding with one token for each of the 256 bytes, from 3 on)."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench_voice.audio.ear_moonshine import MoonshineEar, MoonshineModel
from bench_voice.audio.ears import Ears
from bench_voice.audio.factory import ears_available, make_ears
from bench_voice.audio.free_text import longest_text
from bench_voice.audio.resample import from_s16, to_s16
from bench_voice.audio.weights import find_files
from bench_voice.core.intents import Expected
from bench_voice.errors import EngineError
from bench_voice.ports import Fit, Heard, Pass, Utterance
from bench_voice.testing import small_sheet, step
from bench_voice.words.phrases import load_language

LANGUAGE = load_language("en")
SHEET = small_sheet(step("plain"))
FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")
SPACE = "\N{LOWER ONE EIGHTH BLOCK}"  # how the tokens write a blank

Say = Callable[[str], Utterance]


@pytest.fixture(scope="module")
def ear() -> Iterator[MoonshineEar]:
    (made,) = make_ears(["moonshine"], LANGUAGE)
    assert isinstance(made, MoonshineEar)
    made.wait_ready()
    yield made
    made.close()


@pytest.fixture(scope="module")
def model(ear: MoonshineEar) -> MoonshineModel:
    return ear._loading.wait()


def asked(ear: MoonshineEar, utterance: Utterance, *texts: str) -> dict[str, Fit]:
    """How well each text fits, by text."""
    return {found.words: found for found in ear.opinion(utterance, ear.hear(utterance), texts).fits}


# -- tokens


def test_every_token_of_the_file_is_read(model: MoonshineModel) -> None:
    tokens = model.tokens
    assert len(tokens) == 32768
    assert (tokens[1], tokens[2]) == (b"<s>", b"</s>")
    assert [tokens[at] for at in range(3, 259)] == [bytes([byte]) for byte in range(256)]
    # Each takes one byte of length, or two from 128 on: nothing of the file is left over.
    size = find_files("moonshine").path("tokenizer.bin").stat().st_size
    assert sum(len(token) + (2 if len(token) >= 128 else 1) for token in tokens) == size


WORDS = sorted(
    {word for phrase in LANGUAGE.command_of for word in phrase} | set(LANGUAGE.number_words) | {"millimetres"}
)


@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=8))
def test_spelled_words_read_back_are_the_same(model: MoonshineModel, words: list[str]) -> None:
    text = " ".join(words)
    for shown in (text, text.capitalize(), f"{text}."):
        assert model._text(model.spell(shown)) == shown


@given(st.text("abcdefghijklmnopqrstuvwxyz'", min_size=1, max_size=20))
def test_any_letters_can_be_spelled(model: MoonshineModel, word: str) -> None:
    assert model._text(model.spell(word)) == word


def test_texts_are_spelled_as_an_independent_tokenizer_spells_them(model: MoonshineModel) -> None:
    """The package `tokenizers`, given the same tokens and a merge for each way to put one together, lowest first (so a
    vocabulary like Llama's is turned into merges there)."""
    from tokenizers import Tokenizer
    from tokenizers.models import BPE

    ids: dict[str, int] = {}
    for at, token in enumerate(model.tokens[:32000]):
        if at > 258 and token:
            ids[token.decode()] = at
    merges = [
        (at, (token[:cut], token[cut:]))
        for token, at in ids.items()
        for cut in range(1, len(token))
        if token[:cut] in ids and token[cut:] in ids
    ]
    other = Tokenizer(BPE(ids, [pair for _, pair in sorted(merges)]))
    for text in (*WORDS, "lining four point six millimeters", "Confirm both wheels are blocked.", "don't touch it"):
        assert model.spell(text) == other.encode(f" {text}".replace(" ", SPACE)).ids, text


# -- what it writes


NUMBERS = [
    "twenty five percent",
    "two hundred and twenty volts",
    "lining four point six millimetres",
    "seventeen dollars",
]


@pytest.mark.parametrize("words", NUMBERS)
def test_it_writes_words_and_never_figures(model: MoonshineModel, say: Say, words: str) -> None:
    """Before anything is cleaned: none of its five best texts has a figure or the sign of a unit."""
    utterance = say(words)
    found = model.write(model.encode(from_s16(utterance.pcm)), longest_text(utterance.speech_s))
    assert found
    assert [score for _, score in found] == sorted((score for _, score in found), reverse=True)
    for text, score in found:
        assert re.fullmatch(r"[A-Za-z'’.,?! -]*", text), text
        assert score <= 0


def test_no_token_with_a_figure_may_be_written(model: MoonshineModel) -> None:
    allowed = [token for token, bar in zip(model.tokens, model._free, strict=True) if bar == 0]
    assert len(allowed) > 10_000
    assert not [token for token in allowed if re.search(rb"[0-9%$]", token)]


def test_no_text_is_longer_than_it_may_be(model: MoonshineModel, say: Say) -> None:
    states = model.encode(from_s16(say(NUMBERS[1]).pcm))
    for longest in (1, 2, 3):
        for text, _ in model.write(states, longest):
            assert len(model.spell(text)) <= longest


def test_what_was_said_is_heard_by_the_contract(ear: MoonshineEar, say: Say) -> None:
    for words in ("what is left", "twenty five percent"):
        utterance = say(words)
        heard = ear.hear(utterance)
        assert heard.words == heard.free_words == words
        assert heard.ear == "moonshine"
        assert 0 < heard.weight + sum(weight for _, weight in heard.alternatives) <= 1.001
        assert heard.evidence["speech_s"] == utterance.speech_s
        assert heard.evidence["free"] < 0
        assert "limited" not in heard.evidence  # nothing holds it to the step
        assert heard.fits == ()


def test_it_is_not_told_what_is_expected(ear: MoonshineEar, say: Say) -> None:
    utterance = say("what is left")
    before = ear.hear(utterance)
    ear.prepare(Expected.at(SHEET, SHEET.steps[0]))
    assert ear.hear(utterance) == before  # nor does it remember the sentence before


@pytest.mark.parametrize("seconds", [0.02, 0.1, 1.0])
def test_silence_and_sound_too_short_for_a_word_do_no_harm(ear: MoonshineEar, seconds: float) -> None:
    for level in (0.0, 100.0):
        sound = np.random.default_rng(3).standard_normal(int(16_000 * seconds)) * level
        utterance = Utterance(sound.astype("<i2").tobytes(), 0, int(1000 * seconds))
        heard = ear.hear(utterance)
        assert heard.words == heard.free_words
        assert all(np.isfinite(value) for value in heard.evidence.values())
        for found in ear.opinion(utterance, heard, ["four point six"]).fits:
            assert found.score < 0
            assert np.isfinite([found.score, found.tail, found.margin]).all()


@pytest.mark.parametrize("seconds", [5, 9.5, 16])
def test_a_long_sentence_is_heard_and_judged(ear: MoonshineEar, say: Say, seconds: float) -> None:
    """The endpointer cuts after 15 s. The network's mask counts in steps of 384 and once broke from 9.2 s on."""
    talk = from_s16(say("they told me that it would take four or five days").pcm)
    pcm = to_s16(np.resize(talk, int(seconds * 16_000)))
    utterance = Utterance(pcm, 0, int(1000 * seconds), seconds)
    heard = ear.hear(utterance)
    assert heard.words.startswith("they told me that it ")
    assert heard.words.count("take four or five days") >= int(seconds * 16_000 / len(talk))
    found = ear.opinion(utterance, heard, [heard.words, "confirm both wheels are blocked"]).fits
    assert found[0].score > found[1].score


# -- how well texts fit


@pytest.mark.parametrize(
    ("said", "wrong"),
    [
        ("lining four point six millimetres", "lining four point eight millimetres"),
        ("lining four point six millimetres", "lining five point six millimetres"),
        ("two hundred and twenty volts", "two hundred and thirty volts"),
        ("two hundred and twenty volts", "two hundred volts"),
        ("twenty five percent", "thirty five percent"),
        ("rope width three one five", "rope width three one"),  # a digit lost at the end
        ("rope width three one five", "rope width three one one five"),  # a digit doubled
    ],
)
def test_what_was_said_fits_better_than_another_number(ear: MoonshineEar, say: Say, said: str, wrong: str) -> None:
    found = asked(ear, say(said), said, wrong)
    assert found[said].score > found[wrong].score
    assert found[said].margin > 0 > found[wrong].margin


def test_a_decimal_point_that_was_invented_or_lost_does_not_fit(ear: MoonshineEar, say: Say) -> None:
    """Ten times too much or too little: the lead of "point" over other number words has a figure of its own."""
    plain, pointed = "twenty five volts", "twenty point five volts"
    found = asked(ear, say(plain), plain, pointed)
    assert found[plain].margin > 0
    assert found[plain].point == 0.0  # there is none
    assert found[pointed].point < -3
    found = asked(ear, say(pointed), plain, pointed)
    assert found[plain].margin < 0
    assert found[pointed].margin > 0
    assert found[pointed].point > 0


def test_a_text_without_a_number_has_no_margin_and_talk_does_not_fit(ear: MoonshineEar, say: Say) -> None:
    found = asked(ear, say("what is left"), "what is left", "confirm both wheels are blocked")
    assert [one.margin for one in found.values()] == [0.0, 0.0]
    assert found["what is left"].score > found["confirm both wheels are blocked"].score + 5
    # Its own best text cannot fit much better than it does itself (by how a sentence may end).
    assert abs(found["what is left"].score) < 1


@given(st.lists(st.sampled_from(WORDS), max_size=6))
def test_figures_of_a_fit_stay_in_bounds(model: MoonshineModel, states: np.ndarray, words: list[str]) -> None:
    for found in model.fits(states, [" ".join(words)], -1.0):
        assert -30 <= found.score <= 1.0 + 1e-3
        assert -30 <= found.tail <= 1e-3
        assert -30 <= found.margin <= 5
        assert -30 <= found.point <= 5


@pytest.fixture(scope="module")
def states(model: MoonshineModel, voice: Any) -> np.ndarray:
    pcm = voice.speak("lining four point six millimetres")
    return model.encode(from_s16(pcm))


def test_texts_asked_together_are_judged_as_each_by_itself(model: MoonshineModel, states: np.ndarray) -> None:
    """They share one pass of the decoder and have different lengths: none may see another or what fills it up. The
    network counts in eight bits whose range is shared by all texts of a pass, so the figures differ a little: less than
    0.2 for a text that fits, up to 0.6 in twenty for one that doesn't (measured)."""
    texts = [
        "lining four point six millimetres",
        "four",
        "next",
        "lining five point six",
        "what is left to be done here",
    ]
    together = model.fits(states, texts, 0.0)
    for text, found in zip(texts, together, strict=True):
        (alone,) = model.fits(states, [text], 0.0)
        assert (found.words, alone.words) == (text, text)
        near = 0.3 if alone.score > -3 else 0.6
        for name in ("score", "tail", "margin", "point"):
            assert getattr(found, name) == pytest.approx(getattr(alone, name), abs=near, rel=0.06)


def test_each_text_is_asked_once_and_empty_ones_not_at_all(model: MoonshineModel, states: np.ndarray) -> None:
    assert [found.words for found in model.fits(states, ["next", "", "four", "next"], 0.0)] == ["next", "four"]
    assert model.fits(states, [], 0.0) == model.fits(states, ["", ""], 0.0) == ()
    many = [f"lining {word}" for word in WORDS[:40]]
    found = [one.words for one in model.fits(states, many, 0.0)]
    assert found == many[: len(found)]
    assert 10 <= len(found) < 40


def test_no_sound_is_no_words_and_no_opinion(ear: MoonshineEar) -> None:
    nothing = Utterance(b"", 0, 0)
    heard = ear.hear(nothing)
    assert (heard.words, heard.weight, heard.free_words or "", heard.fits) == ("", 0.0, "", ())
    assert ear.opinion(nothing, heard, ["next"]) == heard


def test_an_opinion_of_other_sound_than_the_last_changes_nothing(ear: MoonshineEar, say: Say) -> None:
    before, last = say("what is left"), say("twenty five percent")
    heard = ear.hear(before)
    ear.hear(last)
    assert ear.opinion(before, heard, ["what is left"]) is heard
    assert ear.opinion(last, heard, ["what is left"]) != heard


def test_among_all_ears_only_it_is_asked_for_an_opinion(ear: MoonshineEar, say: Say) -> None:
    class Other:
        name = "other"

        def prepare(self, expected: Expected) -> None: ...

        def hear(self, utterance: Utterance) -> Heard:
            return Heard("other", "next")

        def close(self) -> None: ...

    ears = Ears([Other(), ear])
    utterance = say("what is left")
    heard = ears.hear(utterance)
    assert ears.more(utterance, heard, Pass.CLOSER) == heard  # nothing can hold it to the step's words
    other, judge = ears.more(utterance, heard, Pass.OPINION, ("what is left", "next"))
    assert other == heard[0]
    assert [found.words for found in judge.fits] == ["what is left", "next"]
    assert replace(judge, fits=()) == heard[1]
    ears._pool.shutdown()  # the ear itself is the fixture's to close


# -- its files


def own_folder(folder: Path, monkeypatch: pytest.MonkeyPatch, *names: str) -> Path:
    """A folder with these of the real files, named by the variable."""
    folder.mkdir(exist_ok=True)
    for name in names:
        shutil.copyfile(find_files("moonshine").path(name), folder / name)
    monkeypatch.setenv("BENCH_VOICE_MOONSHINE_MODEL", str(folder))
    return folder


def test_a_folder_of_ones_own_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, say: Say) -> None:
    folder = own_folder(tmp_path / "own", monkeypatch, *FILES)
    assert [path.parent for path in find_files("moonshine").paths] == [folder] * 3
    (ear,) = make_ears(["moonshine"], LANGUAGE)
    assert ear.hear(say("what is left")).words == "what is left"
    ear.close()


def test_a_missing_folder_a_missing_file_and_a_missing_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BENCH_VOICE_MOONSHINE_MODEL", str(tmp_path / "none"))
    with pytest.raises(EngineError, match=r"\[ear-model-missing\]$"):
        find_files("moonshine")
    monkeypatch.delenv("BENCH_VOICE_MOONSHINE_MODEL")
    own_folder(tmp_path / "part", monkeypatch, "encoder_model.ort")
    with pytest.raises(
        EngineError, match=r"lacks decoder_model_merged\.ort, tokenizer\.bin.*\[ear-model-incomplete\]$"
    ):
        find_files("moonshine")
    states = {state.name: state for state in ears_available()}
    assert not states["moonshine"].is_ok
    assert states["whisper"].is_ok
    with pytest.raises(EngineError, match=r"\[ear-model-incomplete\]$"):
        make_ears(["moonshine"], LANGUAGE)
    monkeypatch.delenv("BENCH_VOICE_MOONSHINE_MODEL")
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(EngineError, match=r"not installed.*moonshine-voice==.*\[ear-model-missing\]$"):
        find_files("moonshine")


@pytest.mark.parametrize("name", FILES)
def test_each_file_that_is_not_the_released_one_is_refused(tmp_path: Path, name: str) -> None:
    files = find_files("moonshine")
    assert set(files.pins) == set(FILES)  # every one of them has a sum
    files.check()
    changed = tmp_path / name
    changed.write_bytes(files.path(name).read_bytes()[:-1] + b"x")
    paths = tuple(changed if path.name == name else path for path in files.paths)
    with pytest.raises(EngineError, match=r"not the one that was released.*\[ear-model-broken\]$") as caught:
        replace(files, paths=paths).check()
    assert caught.value.where == str(changed)


@pytest.mark.parametrize("name", FILES)
def test_a_folder_of_ones_own_with_a_torn_file_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """It has no sums: loading it tells."""
    folder = own_folder(tmp_path / "torn", monkeypatch, *FILES)
    (folder / name).write_bytes(b"\x05torn")
    (ear,) = make_ears(["moonshine"], LANGUAGE)
    ears = Ears([ear])
    assert [(one.ear, one.slug) for one in ears.unloaded()] == [("moonshine", "ear-model-broken")]
    assert [one.where for one in ears.unloaded()] == [str(folder)]
    ears.close()


def test_it_hears_english_only() -> None:
    with pytest.raises(EngineError, match=r"hears English only.*\[ear-language\]$"):
        make_ears(["moonshine"], load_language("de"))
