"""The real ears on synthetic speech (espeak-ng, robotic: the hardest voice for pocketsphinx), and what is missing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice.audio.ear_pocketsphinx import Decoder, model_folder
from bench_voice.audio.ear_vosk import check_folder
from bench_voice.audio.ears import Ears
from bench_voice.audio.factory import ears_available, make_ears
from bench_voice.audio.free_text import clean, longest_text, weighted
from bench_voice.audio.weights import as_folder, find_files
from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Expected, options_of
from bench_voice.core.sheet import Hold, JobSheet, Limit, ReadingSpec, Step
from bench_voice.errors import EngineError
from bench_voice.hearing.agree import Act, agree
from bench_voice.hearing.cascade import texts_for
from bench_voice.phonetics import edits, propose
from bench_voice.ports import Heard, Pass, Utterance
from bench_voice.session.listen import Listener
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language

STEPS = (
    Step("measure", "Measure the lining.", readings=("lining",)),
    Step("block", "Block the wheels.", hold=Hold("blocked", "confirm both wheels are blocked")),
)
SHEET = JobSheet(
    "s", "S", "1", "farm trailer", "one", STEPS,
    readings={"lining": ReadingSpec("lining", "lining", Limit("mm", low=Decimal(2)))},
)  # fmt: skip
BLOCK_PHRASE = "confirm both wheels are blocked"
MEASURE, BLOCK = (Expected.at(SHEET, step) for step in STEPS)
LANGUAGE = load_language("en")


@pytest.fixture(scope="module")
def ears() -> Iterator[Ears]:
    made = Ears(make_ears(None, LANGUAGE))
    made.wait_ready()
    yield made
    made.close()


def hear(ears: Ears, expected: Expected, utterance: Utterance) -> tuple[Heard, ...]:
    """As a session hears it: with the second looks that it takes."""
    return Listener(ears, LANGUAGE).hear(utterance, expected)


def test_all_ears_are_here_and_keep_the_contract(ears: Ears, say: Callable[[str], Utterance]) -> None:
    heard = hear(ears, MEASURE, say("six point nine eight millimetres"))
    assert [h.ear for h in heard] == ["pocketsphinx", "whisper", "whisper-tiny", "moonshine"]
    for h in heard:
        assert h.words == h.words.lower()
        assert "timeout" not in h.evidence
        assert h.words or h.free_words
        assert 0 <= h.weight <= 1
        assert h.weight + sum(weight for _, weight in h.alternatives) <= 1.001
        assert h.evidence["speech_s"] > 0.5
    for h in heard[1:]:
        assert h.free_words
        assert not any(sign.isdigit() for sign in h.free_words)  # words, never figures
    assert heard[3].words == heard[3].free_words  # nothing holds it to the step
    for h in hear(ears, MEASURE, Utterance(b"", 0, 0)):
        assert (h.words, h.weight) == ("", 0.0)


def test_the_ears_give_each_look_that_is_asked_for(ears: Ears, say: Callable[[str], Utterance]) -> None:
    """Each look adds to what was heard and takes nothing of it back; no ear is asked for what it can't tell."""
    utterance = say("lining four point six millimetres")
    ears.prepare(MEASURE)
    at_once = ears.hear(utterance)
    assert not any({"limited", "per_frame"} & h.evidence.keys() or h.fits for h in at_once)
    closer = ears.more(utterance, at_once, Pass.CLOSER)
    assert "per_frame" in closer[0].evidence
    assert all("limited" in h.evidence for h in closer[1:3])
    assert closer[3] == at_once[3]
    texts = texts_for(Pass.OPINION, MEASURE, closer, LANGUAGE)
    assert texts
    full = ears.more(utterance, closer, Pass.OPINION, texts)
    assert full[:3] == closer[:3]
    assert {fit.words for fit in full[3].fits} == set(texts)
    for before, after in ((at_once, closer), (closer, full)):
        for a, b in zip(before, after, strict=True):
            assert (a.ear, a.free_words) == (b.ear, b.free_words)
            assert a.evidence.items() <= b.evidence.items()


SAID = [(MEASURE, "what is left"), (MEASURE, "lining four point six millimetres"), (BLOCK, BLOCK_PHRASE)]


def test_what_is_recorded_by_agreement_is_what_was_said(ears: Ears, say: Callable[[str], Utterance]) -> None:
    right = 0
    for expected, words in SAID:
        decision = agree(expected, hear(ears, expected, say(words)), LANGUAGE)
        if decision.kind is Act.RECORD:
            assert decision.intent is not None
            assert decision.intent.meaning() == understand(words, expected, LANGUAGE).meaning()
            right += 1
    assert right >= 1, f"{right} of {len(SAID)}"


@pytest.mark.parametrize(
    ("expected", "words"),
    [(MEASURE, "I really ought to call my brother about the car"), (BLOCK, "confirm both wheels are not blocked")],
    ids=["talk", "near miss"],
)
def test_talk_and_near_misses_record_nothing(
    ears: Ears, say: Callable[[str], Utterance], expected: Expected, words: str
) -> None:
    decision = agree(expected, hear(ears, expected, say(words)), LANGUAGE)
    assert decision.kind in (Act.NOTHING, Act.AGAIN), decision


def test_the_first_ear_is_fast_to_a_new_step_and_takes_words_it_does_not_know() -> None:
    decoder = Decoder(has_phone_loop=False)
    assert decoder.has_words(("lining", "zzyzxq")) == (True, False)
    text = "#JSGF V1.0;\ngrammar g;\npublic <u> = zzyzxq | next;\n"
    assert decoder.prepare((text, ("zzyzxq", "next"))) == ("zzyzxq",)
    with pytest.raises(EngineError, match=r"The grammar of the step was refused.*\[ear-grammar\]"):
        decoder.prepare(("#JSGF V1.0;\ngrammar g;\npublic <u> = 12 | next;\n", ("12", "next")))
    assert decoder.hear(Utterance(bytes(32_000), 0, 1000)).words in ("", "next")  # the step before still stands


def dictionary() -> dict[str, str]:
    lines = (model_folder() / "cmudict-en-us.dict").read_text().splitlines()
    return {word: phones for word, _, phones in (line.partition(" ") for line in lines)}


@pytest.mark.parametrize(
    ("word", "phones"),
    [
        ("millimetres", "M IH L AH M IY T ER Z"),  # as the dictionary has "millimeters"
        ("tyres", "T AY ER Z"),
        ("splitpin", "S P L IH T P IH N"),
        ("blork", "B L AO R K"),
        ("m8", None),
    ],
)
def test_pronunciations_are_proposed(word: str, phones: str | None) -> None:
    known = {k: v for k, v in dictionary().items() if k != word}
    assert propose(word, known.get) == phones


def test_small_parts() -> None:
    assert clean(" Twenty-five, it's “done”. 4.6 ♪") == "twenty five it's done"
    assert weighted([("a", -1.0), ("b", -1.0), ("a", -1.0)]) == [
        ("a", pytest.approx(2 / 3)),
        ("b", pytest.approx(1 / 3)),
    ]
    assert weighted([]) == []
    assert weighted([("a", -2000.0), ("b", -2000.0)])[0][1] == pytest.approx(0.5)  # however unlikely both are
    lengths = [longest_text(seconds) for seconds in (0.0, 0.5, 2.0, 6.0, 60.0)]
    assert lengths == sorted(lengths)
    assert lengths[0] > 0
    assert lengths[-1] == lengths[-2]  # noise that goes on and on makes no endless text
    # The textbook pair: kitten to sitting takes three edits.
    assert edits(list("kitten"), list("sitting")) == 3


def model(folder: Path, *files: str, words: str | None = None) -> Path:
    for name in files:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"x")
    if words is not None:
        (folder / "graph").mkdir(exist_ok=True)
        (folder / "graph/words.txt").write_text(words)
    return folder


DYNAMIC = ("am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst")


@pytest.mark.parametrize(
    ("files", "words", "slug"),
    [
        ((), None, "ear-model-incomplete"),
        (("am/final.mdl",), None, "ear-model-incomplete"),
        (("am/final.mdl", "graph/HCLG.fst"), None, "ear-no-grammar"),
        (DYNAMIC, "<eps> 0\none 1\n", "ear-no-unk"),
    ],
)
def test_a_vosk_folder_is_refused_with_the_reason(
    tmp_path: Path, files: tuple[str, ...], words: str | None, slug: str
) -> None:
    with pytest.raises(EngineError, match=rf"\[{slug}\]$"):
        check_folder(model(tmp_path, *files, words=words))


def test_a_vosk_folder_that_looks_whole_passes_and_a_missing_one_does_not(tmp_path: Path) -> None:
    check_folder(model(tmp_path, *DYNAMIC, words="<eps> 0\n[unk] 1\n"))
    with pytest.raises(EngineError, match=r"\[ear-model-missing\]$"):
        check_folder(tmp_path / "none")


def test_a_whisper_folder_is_checked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BENCH_VOICE_WHISPER_MODEL", str(tmp_path / "none"))
    with pytest.raises(EngineError, match=r"\[ear-model-missing\]$"):
        find_files("whisper")
    monkeypatch.setenv("BENCH_VOICE_WHISPER_MODEL", str(model(tmp_path, "model.bin", "config.json")))
    with pytest.raises(EngineError, match=r"lacks tokenizer\.json, vocabulary\.json.*\[ear-model-incomplete\]$"):
        find_files("whisper")
    # The others have variables of their own.
    assert {state.name: state.is_ok for state in ears_available() if state.name != "vosk"} == {
        "pocketsphinx": True, "whisper": False, "whisper-tiny": True, "moonshine": True,
    }  # fmt: skip


def test_weights_that_are_not_the_released_ones_are_refused(tmp_path: Path) -> None:
    for name, file in (("whisper", "model.bin.part1"), ("whisper", "tokenizer.json"), ("whisper-tiny", "model.bin")):
        files = find_files(name)
        assert {path.name for path in files.paths} == set(files.pins)  # every file has a sum
        changed = tmp_path / file
        changed.write_bytes(b"x")
        paths = tuple(changed if path.name == file else path for path in files.paths)
        with pytest.raises(EngineError, match=r"\[ear-model-broken\]$") as caught:
            replace(files, paths=paths).check()
        assert caught.value.where == str(changed)


def test_a_model_in_parts_is_joined_for_as_long_as_it_is_loaded() -> None:
    files = find_files("whisper")
    parts = [path for path in files.paths if path.name.startswith("model.bin")]
    assert len(parts) == 2
    with as_folder(files) as folder:
        whole = folder / "model.bin"
        assert whole.stat().st_size == sum(path.stat().st_size for path in parts)
        assert all((folder / name).is_file() for name in ("config.json", "tokenizer.json", "vocabulary.json"))
    assert not folder.exists()


def test_the_two_free_ears_are_told_different_numbers() -> None:
    """In noise a Whisper may write its prompt: two that were told the same number would agree on it."""
    from bench_voice.audio.ear_whisper import _PROMPTS

    numbers = []
    for prompt in _PROMPTS.values():
        meanings = [
            understand(said.strip(), MEASURE, LANGUAGE) for said in prompt.format(unit=" millimetres").split(".")
        ]
        numbers.append(
            {str(flat_of(o).value) for m in meanings for o in (m, *options_of(m)) if flat_of(o).value is not None}
        )
    assert all(len(found) >= 3 for found in numbers)
    assert not numbers[0] & numbers[1]


def test_what_is_asked_for_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("BENCH_VOICE_VOSK_MODEL", raising=False)
    assert [(state.name, state.is_ok) for state in ears_available()] == [
        ("pocketsphinx", True), ("whisper", True), ("whisper-tiny", True), ("moonshine", True), ("vosk", False),
    ]  # fmt: skip
    with pytest.raises(EngineError, match=r"\[ear-unknown\]$"):
        make_ears(["ghost"], LANGUAGE)
    with pytest.raises(EngineError, match=r"\[ear-model-missing\]$"):
        make_ears(["vosk"], LANGUAGE)
    with pytest.raises(EngineError, match=r"\[ear-language\]$"):
        make_ears(["pocketsphinx"], load_language("de"))
